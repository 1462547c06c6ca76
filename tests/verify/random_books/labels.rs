//! Names that change in place, one version at a time.

use serde_json::{Value, json};

use super::{Business, operations};

/// The labels that a read shows, wherever they stand in it.
fn labels(read: &Value) -> &Value {
    read.get("labels").unwrap_or(&read["record"])
}

impl Business {
    fn something_with_a_name(&mut self) -> (String, &'static str) {
        let (word, field, ids) = match self.chance.below(7) {
            0 => ("accounts", "name", vec![self.bank.clone(), self.travel.clone()]),
            1 => ("parties", "name", vec![self.sponsor.clone(), self.agency.clone(), self.platform.clone()]),
            2 => ("projects", "name", vec![self.project.clone()]),
            3 if !self.tools.is_empty() => ("tools", "name", self.tools.clone()),
            4 if !self.pieces.is_empty() => ("furniture", "name", self.pieces.clone()),
            5 if !self.deals.is_empty() => ("deals", "title", self.deals.clone()),
            _ => ("episodes", "title", self.episodes.clone()),
        };
        (format!("/v1/{word}/{}", self.chance.pick(&ids)), field)
    }

    /// Whoever has not seen the latest version is told so.
    pub(super) fn renames_something(&mut self) {
        let (path, field) = self.something_with_a_name();
        let seen = self.owner.get(&path);
        if seen.status == 404 {
            // It was taken back.
            return;
        }
        let tag = seen.header("etag").unwrap().to_owned();
        let name = format!("{} anew", labels(&seen.json())[field].as_str().unwrap());
        let reply = self.owner.patch(&path, &tag, &json!({ field: name }));
        match reply.status {
            200 => {
                assert_eq!(
                    self.owner.patch(&path, &tag, &json!({ field: "too late" })).status,
                    412,
                    "{path}"
                );
                self.tally.operations.insert(operations::named("PATCH", &path));
                self.tally.recorded += 1;
                *self.tally.kinds.entry("changes of a name".to_owned()).or_default() += 1;
                self.names.insert(path, (field, name));
            }
            404 | 409 | 422 => {
                *self.tally.refused.entry("changes of a name".to_owned()).or_default() += 1;
            }
            other => panic!("{other} for PATCH {path}: {}", reply.text),
        }
    }

    /// Everything is called by the last name that it was given.
    pub(super) fn names_agree(&self) {
        for (path, (field, name)) in &self.names {
            let read = self.owner.get(path);
            if read.status == 404 {
                continue;
            }
            let read = read.json();
            assert_eq!(labels(&read)[*field], json!(name), "seed {}, {path}", self.seed);
        }
    }
}
