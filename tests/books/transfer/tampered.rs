//! Exports that were changed, with checksums that fit: each is refused, and nothing of the books is kept.

use std::path::Path;

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::{Old, checked_export, file_at, imports, refusal, rows_of};
use crate::backup::files::repacked;
use crate::world::World;

/// A table's lines, each in its fields, with the names of the columns.
struct Rows {
    columns: Vec<String>,
    lines: Vec<Vec<String>>,
}

impl Rows {
    fn column(&self, name: &str) -> usize {
        self.columns.iter().position(|column| column == name).unwrap()
    }

    /// Changes that column of the first row.
    fn set(&mut self, name: &str, value: impl FnOnce(&str) -> String) {
        let column = self.column(name);
        self.lines[0][column] = value(&self.lines[0][column]);
    }
}

/// Writes the archive anew with one table changed and its checksum made to fit.
fn forged(from: &Path, to: &Path, table: &str, change: impl FnOnce(&mut Rows)) {
    let manifest = checked_export(&file_at(from)).unwrap().manifest;
    let columns = manifest.tables.iter().find(|one| one.name == table).unwrap().columns.clone();
    let mut change = Some(change);
    let (mut forged, mut rows) = (Vec::new(), 0);
    repacked(from, to, |name, content| {
        if name == format!("tables/{table}/000001.copy") {
            let text = String::from_utf8(std::mem::take(content)).unwrap();
            let lines = text.lines().map(|line| line.split('\t').map(str::to_owned).collect()).collect();
            let mut read = Rows { columns: columns.clone(), lines };
            change.take().unwrap()(&mut read);
            rows = read.lines.len();
            forged = read.lines.iter().map(|line| line.join("\t") + "\n").collect::<String>().into_bytes();
            content.clone_from(&forged);
        } else if name == "manifest.json" {
            let mut manifest: Value = serde_json::from_slice(content).unwrap();
            let tables = manifest["tables"].as_array_mut().unwrap();
            let entry = tables.iter_mut().find(|one| one["name"] == table).unwrap();
            entry["rows"] = rows.into();
            entry["bytes"] = forged.len().into();
            let sum = Sha256::digest(&forged);
            entry["sha256"] = sum.iter().map(|byte| format!("{byte:02x}")).collect::<String>().into();
            *content = serde_json::to_vec_pretty(&manifest).unwrap();
        }
        true
    });
    assert!(change.is_none(), "{table} has no rows");
}

#[test]
fn a_file_that_was_changed_by_somebody_who_knows_its_checksums_is_refused() {
    let old = Old::exported();
    let new = World::open();
    let other = super::id_of(&new.owner());
    let bad = old.folder.path().join("forged.tar.gz");
    let another = old.world.texts(&format!(
        "SELECT id::text FROM records WHERE books_id = '{}' AND kind = 'party' ORDER BY id LIMIT 1",
        old.id.0
    ));
    let another = another.first().expect("a record that none of these rows has").clone();
    let forge = |table: &str, change: &dyn Fn(&mut Rows)| {
        forged(&old.file, &bad, table, change);
        let refused = refusal(&new, &bad);
        assert_eq!(rows_of(&new, old.id), 0, "{table}: {refused}");
        refused
    };
    let refused = forge("postings", &|rows| rows.set("amount", |_| "1234.0000".to_owned()));
    assert!(refused.contains("out of balance"), "{refused}");
    let refused = forge("entries", &|rows| rows.set("text", |text| format!("{text}, as nobody wrote it")));
    assert!(refused.contains("do not verify"), "{refused}");
    let refused = forge("parties", &|rows| rows.lines.clear());
    assert!(refused.contains("foreign key"), "{refused}");
    let refused = forge("books", &|rows| rows.set("base_currency", |_| "dollars".to_owned()));
    assert!(refused.contains("check constraint"), "{refused}");
    let refused = forge("books", &|rows| rows.set("head_number", |_| "7".to_owned()));
    assert!(refused.contains("differ from the export") || refused.contains("chain"), "{refused}");
    // What the triggers before an insert hold.
    let refused = forge("projects", &|rows| rows.set("version", |_| "9".to_owned()));
    assert!(refused.contains("each version of projects is in the history"), "{refused}");
    let refused = forge("revisions", &|rows| rows.set("version", |_| "3".to_owned()));
    assert!(refused.contains("the history of labels has no gap"), "{refused}");
    let refused = forge("promises_kept", &|rows| rows.set("kept_on", |_| "1999-01-01".to_owned()));
    assert!(refused.contains("a promise is kept after it was made"), "{refused}");
    let refused = forge("piece_sales", &|rows| rows.set("date", |_| "1999-01-01".to_owned()));
    assert!(refused.contains("a piece leaves after it came"), "{refused}");
    let refused = forge("tool_business_shares", &|rows| rows.set("tax_year", |_| "1999".to_owned()));
    assert!(refused.contains("for years of its service"), "{refused}");
    for (table, says) in [
        ("piece_sales", "a piece leaves once"),
        ("tool_business_shares", "a year's share of a tool is stated once"),
        ("promises_kept", "a promise is kept once"),
        ("home_offices", "a year's home office is stated once"),
    ] {
        let refused = forge(table, &|rows| {
            let mut twice = rows.lines[0].clone();
            // Under the record of something else, so that no key is in the way.
            twice[rows.column("record_id")].clone_from(&another);
            rows.lines.push(twice);
        });
        assert!(refused.contains(says), "{table}: {refused}");
    }
    // Rows of a second set of books, one that is there and one that is nowhere.
    let before = rows_of(&new, other);
    for id in [other.to_string(), uuid::Uuid::now_v7().to_string()] {
        let refused = forge("parties", &|rows| {
            let mut more = rows.lines[0].clone();
            more[rows.column("books_id")].clone_from(&id);
            rows.lines.push(more);
        });
        assert!(refused.contains("1 rows of parties do not belong to the books"), "{refused}");
    }
    let refused = forge("books", &|rows| rows.set("books_id", |_| other.to_string()));
    assert!(refused.contains("1 rows of books do not belong"), "{refused}");
    assert_eq!(rows_of(&new, other), before);
    // The control: written anew without a change, it is taken in.
    forged(&old.file, &bad, "postings", |_| ());
    imports(&new, &bad).unwrap();
}

#[test]
fn a_file_whose_parts_do_not_fit_together_is_refused_before_anything_is_loaded() {
    let old = Old::exported();
    let new = World::open();
    let bad = old.folder.path().join("bad.tar.gz");
    let refused = |change: &dyn Fn(&str, &mut Vec<u8>) -> bool| {
        repacked(&old.file, &bad, change);
        let refused = refusal(&new, &bad);
        assert_eq!(rows_of(&new, old.id), 0, "{refused}");
        refused
    };
    let said = refused(&|name, content| {
        if name == "tables/parties/000001.copy" {
            let place = content.len() - 2;
            content[place] ^= 1;
        }
        true
    });
    assert!(said.contains("damaged") && said.contains("parties"), "{said}");
    let said = refused(&|name, _| name != "tables/parties/000001.copy");
    assert!(said.contains("damaged") && said.contains("parties"), "{said}");
    let said = refused(&|name, _| name != "manifest.json");
    assert!(said.contains("incomplete"), "{said}");
    let in_manifest = |change: &dyn Fn(&mut Value)| {
        refused(&|name, content| {
            if name == "manifest.json" {
                let mut manifest: Value = serde_json::from_slice(content).unwrap();
                change(&mut manifest);
                *content = serde_json::to_vec_pretty(&manifest).unwrap();
            }
            true
        })
    };
    let said = in_manifest(&|manifest| manifest["books"][0]["head"]["hash"] = "0".repeat(64).into());
    assert!(said.contains("the chain of the books"), "{said}");
    let said = in_manifest(&|manifest| manifest["books"] = Value::Array(Vec::new()));
    assert!(said.contains("lists 0 set(s) of books"), "{said}");
    // A table that nobody needs is left out of the list; it has no rows, so nothing else shows it.
    let said = in_manifest(&|manifest| {
        manifest["tables"].as_array_mut().unwrap().retain(|table| table["name"] != "deferred_checks");
    });
    assert!(said.contains("in place of deferred_checks"), "{said}");
    repacked(&old.file, &bad, |_, _| true);
    imports(&new, &bad).expect("the control: repacked as it was, it is good");
}
