//! A filed year beside the books, as a flat table and as plain text.

use crate::export::text::{WIDTH, paragraph, render, titled};
use crate::export::{Column, Table};
use crate::rules::tax_year::amended::{Amended, AmendedEntry, AmendedLine, AmendedRecord};

const COLUMNS: [Column; 10] = [
    Column::text("section"),
    Column::text("line"),
    Column::text("label"),
    Column::numbers("filed"),
    Column::numbers("now"),
    Column::numbers("difference"),
    Column::numbers("filed_whole"),
    Column::numbers("now_whole"),
    Column::numbers("difference_whole"),
    Column::text("link"),
];

fn words(table: &mut Table, section: &str, label: &str, link: &str) {
    table.push([section, "", label, "", "", "", "", "", "", link]);
}

pub(super) fn table(shown: &Amended) -> Table {
    let mut table = Table::new(&COLUMNS);
    words(&mut table, "caution", shown.caution, "");
    let filed = format!("filed on {}, after entry {}", shown.filed_on, shown.head_number);
    words(&mut table, "filing", &filed, &format!("/v1/records/{}", shown.filing));
    words(&mut table, "filing", &shown.says, "");
    for line in &shown.lines {
        table.push([
            "form".to_owned(),
            line.line.clone(),
            line.label.clone(),
            line.filed.to_string(),
            line.now.to_string(),
            line.difference.to_string(),
            line.filed_whole.to_string(),
            line.now_whole.to_string(),
            line.difference_whole.to_string(),
            line.drill_down.clone().unwrap_or_default(),
        ]);
    }
    for record in &shown.records {
        words(&mut table, "record", &heading(record), &record.link);
        for original in &record.takes_back {
            words(&mut table, "record", &format!("takes back: {}", original.text), &original.link);
        }
        for entry in &record.entries {
            words(&mut table, "entry", &entry_heading(entry), &format!("/v1/entries/{}", entry.number));
            for posting in &entry.postings {
                let class = posting.class.map_or_else(String::new, |class| format!(", {class}"));
                let label = format!("entry {}: {}{class}", entry.number, posting.account);
                let line = posting.line.unwrap_or_default();
                let amount = posting.amount.to_string();
                table.push(["posting", line, &label, "", &amount, "", "", "", "", ""]);
            }
        }
    }
    table
}

fn heading(record: &AmendedRecord) -> String {
    format!("{}, {} ({}): {}", record.date, record.word.replace('_', " "), record.kind, record.text)
}

fn entry_heading(entry: &AmendedEntry) -> String {
    let against = entry.reverses.map_or_else(String::new, |number| format!(", takes back entry {number}"));
    format!("entry {} of {}{against}: {}", entry.number, entry.date, entry.text)
}

fn lines<'a>(lines: impl Iterator<Item = &'a AmendedLine>) -> Table {
    let mut table = Table::new(&[
        Column::text("line"),
        Column::text("what"),
        Column::numbers("filed"),
        Column::numbers("now"),
        Column::numbers("difference"),
        Column::numbers("filed, whole"),
        Column::numbers("now, whole"),
    ]);
    for line in lines {
        table.push([
            line.line.clone(),
            line.label.clone(),
            line.filed.to_string(),
            line.now.to_string(),
            line.difference.to_string(),
            line.filed_whole.to_string(),
            line.now_whole.to_string(),
        ]);
    }
    table
}

pub(super) fn text(shown: &Amended) -> String {
    let title = format!("Tax year {} beside its return, {} ({})", shown.year, shown.form, shown.currency);
    let mut out = titled(&title, '=');
    out.push_str(&paragraph(shown.caution, 0));
    out.push('\n');
    out.push_str(&paragraph(&shown.says, 0));
    chapter(&mut out, "Lines that changed", &lines(shown.lines.iter().filter(|line| line.changed)));
    if !shown.records.is_empty() {
        out.push('\n');
        out.push_str(&titled("Recorded since", '-'));
    }
    for record in &shown.records {
        out.push_str(&paragraph(&format!("* {} [{}]", heading(record), record.link), 2));
        for original in &record.takes_back {
            out.push_str(&paragraph(&format!("  takes back: {} [{}]", original.text, original.link), 4));
        }
        for entry in &record.entries {
            let postings: Vec<String> = entry
                .postings
                .iter()
                .map(|posting| {
                    let line = posting.line.map_or_else(String::new, |line| format!(" (line {line})"));
                    format!("{} {}{line}", posting.account, posting.amount)
                })
                .collect();
            let shown = format!("  {}: {}", entry_heading(entry), postings.join("; "));
            out.push_str(&paragraph(&shown, 4));
        }
    }
    chapter(&mut out, "Lines as filed", &lines(shown.lines.iter().filter(|line| !line.changed)));
    out.push('\n');
    out.push_str(&paragraph(shown.caution, 0));
    out
}

fn chapter(out: &mut String, title: &str, table: &Table) {
    if !table.is_empty() {
        out.push('\n');
        out.push_str(&titled(title, '-'));
        out.push_str(&render(table, WIDTH));
    }
}
