use super::{render, titled, wrapped};
use crate::export::{Column, Table};

#[test]
fn numbers_stand_to_the_right_and_texts_to_the_left() {
    let mut table = Table::new(&[Column::text("line"), Column::numbers("exact")]);
    table.push(["36", "80.00"]);
    table.push(["42 cost of goods sold", "-1250.00"]);
    assert_eq!(
        render(&table, 100),
        "line                      exact\n---------------------  --------\n\
         36                        80.00\n42 cost of goods sold  -1250.00\n"
    );
}

#[test]
fn a_long_text_goes_on_in_its_own_column_and_no_line_is_too_long() {
    let mut table = Table::new(&[Column::text("label"), Column::numbers("whole"), Column::text("where")]);
    table.push([
        "the costs of pieces that were sold this year and of those that were not",
        "125",
        "/v1/postings?tax_year=2025&class=resale_purchases,resale_materials,resale_labour,resale_other",
    ]);
    let text = render(&table, 60);
    assert!(text.lines().all(|line| line.chars().count() <= 60), "{text}");
    assert!(text.lines().all(|line| line.trim_end() == line));
    assert_eq!(text.matches("125").count(), 1);
}

#[test]
fn nothing_in_a_name_can_steer_a_terminal() {
    // common practice, no source
    assert_eq!(wrapped("oak\u{1b}[31m board\r\ncut", 40), ["oak [31m board cut"]);
    assert_eq!(wrapped("", 10), [""]);
    assert_eq!(wrapped("abcdefgh", 3), ["abc", "def", "gh"]);
}

#[test]
fn a_title_has_a_rule_of_its_own_length() {
    assert_eq!(titled("Part III", '='), "Part III\n========\n");
}
