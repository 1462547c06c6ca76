use super::{guarded, is_plain_number, unguarded, write};
use crate::export::{Column, ExportError, Table};

fn one_cell(text: &str) -> String {
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount")]);
    table.push([text, "1.00"]);
    let bytes = write(&table).unwrap();
    let text = String::from_utf8(bytes).unwrap();
    text.strip_prefix("what,amount\r\n").unwrap().strip_suffix(",1.00\r\n").unwrap().to_owned()
}

#[test]
fn a_quote_inside_a_cell_is_doubled_and_the_cell_quoted() {
    // RFC 4180 section 2, rules 6 and 7 (from memory)
    assert_eq!(one_cell("3/4\" dowel, oak"), "\"3/4\"\" dowel, oak\"");
}

#[test]
fn a_cell_of_two_lines_is_quoted_and_keeps_its_line_break() {
    // RFC 4180 section 2, rule 6 (from memory)
    assert_eq!(one_cell("a\r\nb"), "\"a\r\nb\"");
    assert_eq!(one_cell("a\nb"), "\"a\nb\"");
}

#[test]
fn an_empty_text_and_an_absent_figure_are_both_nothing_between_commas() {
    // RFC 4180 is silent on absent values: ours, as `write` documents.
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount"), Column::text("note")]);
    table.push(["", "", ""]);
    assert_eq!(write(&table).unwrap(), b"what,amount,note\r\n,,\r\n");
}

#[test]
fn a_supplier_named_like_a_formula_is_text_to_a_spreadsheet() {
    // OWASP, CSV Injection (seen); ASVS 5 section 1.2.10 (seen)
    for hostile in ["=1+2", "+1", "-1", "@SUM(A1)", "\tx", "\0x"] {
        assert_eq!(guarded(hostile), format!("'{hostile}"));
    }
    assert_eq!(one_cell("=1+2"), "'=1+2");
    assert_eq!(one_cell("\rx"), "\"'\rx\"");
    assert_eq!(one_cell("Oak & Co = wood"), "Oak & Co = wood");
}

#[test]
fn what_was_guarded_is_read_back_as_it_was_written() {
    // common practice, no source: an export read back gives the same bytes
    for text in ["=1+2", "'=1+2", "''=1", "'twas", "", "'", "plain", "-5.00", "\0", "'\t"] {
        assert_eq!(unguarded(&guarded(text)), text);
    }
}

#[test]
fn a_negative_amount_stays_a_number() {
    // OWASP, CSV Injection (seen): only text columns are guarded
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount")]);
    table.push(["refund", "-12.50"]);
    assert_eq!(write(&table).unwrap(), b"what,amount\r\nrefund,-12.50\r\n");
}

#[test]
fn a_column_of_numbers_that_holds_anything_else_fails_the_export() {
    for wrong in ["=1", "1,000.00", "1e3", "+1", "1.", ".5", "- 1", "\u{661}"] {
        let mut table = Table::new(&[Column::numbers("amount")]);
        table.push([wrong]);
        assert!(matches!(write(&table), Err(ExportError::NotANumber { row: 0, .. })), "{wrong}");
    }
    assert!(is_plain_number("-0.50") && is_plain_number("7"));
}

#[test]
fn a_row_with_a_cell_too_few_fails_the_export() {
    let mut table = Table::new(&[Column::text("what"), Column::text("note")]);
    table.push(["lonely"]);
    assert!(matches!(write(&table), Err(ExportError::Ragged { row: 0, cells: 1, columns: 2 })));
}

#[test]
fn every_line_ends_in_crlf_and_other_scripts_pass_unchanged() {
    // csv-spectrum: simple_crlf, utf8, newlines, quotes_and_newlines (file list seen)
    let mut table = Table::new(&[Column::text("a"), Column::text("b"), Column::text("c")]);
    table.push(["1", "2", "ʤ"]);
    table.push(["\"once upon\n a time\"", "location", "{\"type\": \"Point\"}"]);
    let written = String::from_utf8(write(&table).unwrap()).unwrap();
    assert_eq!(
        written,
        "a,b,c\r\n1,2,ʤ\r\n\"\"\"once upon\n a time\"\"\",location,\"{\"\"type\"\": \"\"Point\"\"}\"\r\n"
    );
}
