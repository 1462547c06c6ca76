//! Tools in the books and for tax, as a flat table and as plain text.

use crate::export::text::{WIDTH, paragraph, render, titled};
use crate::export::{Column, Table};
use crate::rules::money::Money;
use crate::rules::tax_year::tools::{BothViews, ToolsBeside};

const COLUMNS: [Column; 26] = [
    Column::text("section"),
    Column::text("tool"),
    Column::text("in_service_on"),
    Column::text("disposed_on"),
    Column::numbers("cost"),
    Column::numbers("salvage"),
    Column::numbers("attributed_before"),
    Column::numbers("attributed_in_year"),
    Column::numbers("removed"),
    Column::numbers("left_unattributed"),
    Column::numbers("business_share"),
    Column::numbers("basis"),
    Column::numbers("deducted_before"),
    Column::numbers("small_tool"),
    Column::numbers("section_179"),
    Column::numbers("special_allowance"),
    Column::numbers("depreciation"),
    Column::numbers("deducted_in_year"),
    Column::numbers("recaptured"),
    Column::numbers("left_to_deduct"),
    Column::numbers("posted"),
    Column::numbers("at_cost"),
    Column::numbers("accumulated_depreciation"),
    Column::numbers("difference_of_year"),
    Column::numbers("difference_since_start"),
    Column::text("words"),
];

pub(super) fn table(shown: &ToolsBeside) -> Table {
    let mut table = Table::new(&COLUMNS);
    words(&mut table, "caution", shown.caution);
    for row in &shown.tools {
        let gone = row.disposed_on.map_or_else(String::new, |gone| gone.to_string());
        let about = [row.name.clone(), row.in_service_on.to_string(), gone];
        let share = row.business_share.to_string();
        table.push(cells("tool", about, share, &row.views, &format!("{} [{}]", row.reason, row.link)));
    }
    let about = ["in all".to_owned(), String::new(), String::new()];
    table.push(cells("total", about, String::new(), &shown.total, &carried_over(shown)));
    for one in &shown.accounts {
        let agrees = if one.agrees { "agrees" } else { "does not agree" };
        let says = format!(
            "{}: {} by the tools, {} besides, {} in the ledger: {agrees}",
            one.account, one.by_tools, one.besides, one.in_ledger
        );
        words(&mut table, "ledger", &says);
    }
    words(&mut table, "ledger", &shown.says);
    table
}

fn words(table: &mut Table, section: &str, says: &str) {
    let mut cells = vec![String::new(); COLUMNS.len()];
    if let Some(first) = cells.first_mut() {
        section.clone_into(first);
    }
    if let Some(last) = cells.last_mut() {
        says.clone_into(last);
    }
    table.push(cells);
}

fn cells(section: &str, about: [String; 3], share: String, views: &BothViews, says: &str) -> Vec<String> {
    let BothViews { book, tax, ledger, difference } = views;
    let mut cells = vec![section.to_owned()];
    cells.extend(about);
    let text = |amounts: &[Money]| amounts.iter().map(|one| one.to_string()).collect::<Vec<_>>();
    cells.extend(text(&[
        book.cost,
        book.salvage,
        book.attributed_before,
        book.attributed_in_year,
        book.removed,
        book.left_unattributed,
    ]));
    cells.push(share);
    cells.extend(text(&[
        tax.basis,
        tax.deducted_before,
        tax.small_tool,
        tax.section_179,
        tax.special_allowance,
        tax.depreciation,
        tax.deducted_in_year,
        tax.recaptured,
        tax.left,
        ledger.posted,
        ledger.at_cost,
        ledger.accumulated_depreciation,
        difference.of_year,
        difference.since_start,
    ]));
    cells.push(says.to_owned());
    cells
}

fn carried_over(shown: &ToolsBeside) -> String {
    if shown.section_179_carried_over.is_positive() {
        format!(
            "{} of section 179 is elected and not allowed by the year's income: it is deducted and posted in a later \
             year",
            shown.section_179_carried_over
        )
    } else {
        String::new()
    }
}

pub(super) fn text(shown: &ToolsBeside) -> String {
    let title = format!("Tools of {} in the books and for tax ({})", shown.year, shown.currency);
    let mut out = titled(&title, '=');
    out.push_str(&paragraph(shown.caution, 0));
    chapter(
        &mut out,
        "In the books",
        &of_all(shown, BOOK, |views| {
            let book = views.book;
            [book.cost, book.attributed_before, book.attributed_in_year, book.removed, book.left_unattributed]
        }),
    );
    chapter(
        &mut out,
        "For tax",
        &of_all(shown, TAX, |views| {
            let tax = views.tax;
            [tax.basis, tax.deducted_before, tax.deducted_in_year, tax.recaptured, tax.left]
        }),
    );
    chapter(
        &mut out,
        "In the ledger, and tax less books",
        &of_all(shown, LEDGER, |views| {
            let (ledger, difference) = (views.ledger, views.difference);
            [
                ledger.posted,
                ledger.at_cost,
                ledger.accumulated_depreciation,
                difference.of_year,
                difference.since_start,
            ]
        }),
    );
    out.push('\n');
    out.push_str(&titled("Why they differ", '-'));
    for row in &shown.tools {
        out.push_str(&paragraph(&format!("* {}: {}", row.name, row.reason), 2));
    }
    let carried = carried_over(shown);
    if !carried.is_empty() {
        out.push_str(&paragraph(&format!("* {carried}."), 2));
    }
    chapter(&mut out, "Tools and ledger", &accounts(shown));
    out.push_str(&paragraph(&shown.says, 0));
    out
}

const BOOK: [&str; 5] = ["cost", "charged before", "in the year", "left with it", "uncharged"];
const TAX: [&str; 5] = ["basis", "deducted before", "in the year", "came back", "left"];
const LEDGER: [&str; 5] = ["posted", "at cost", "accumulated", "of the year", "since the start"];

fn of_all(
    shown: &ToolsBeside,
    headings: [&'static str; 5],
    figures: impl Fn(&BothViews) -> [Money; 5],
) -> Table {
    let mut columns = vec![Column::text("tool")];
    columns.extend(headings.map(Column::numbers));
    let mut table = Table::new(&columns);
    let rows =
        shown.tools.iter().map(|row| (row.name.as_str(), &row.views)).chain([("in all", &shown.total)]);
    for (name, views) in rows {
        let mut cells = vec![name.to_owned()];
        cells.extend(figures(views).map(|amount| amount.to_string()));
        table.push(cells);
    }
    table
}

fn accounts(shown: &ToolsBeside) -> Table {
    let mut table = Table::new(&[
        Column::text("account"),
        Column::numbers("by the tools"),
        Column::numbers("besides"),
        Column::numbers("in the ledger"),
        Column::numbers("difference"),
    ]);
    for one in &shown.accounts {
        table.push([
            one.account.to_owned(),
            one.by_tools.to_string(),
            one.besides.to_string(),
            one.in_ledger.to_string(),
            one.difference.to_string(),
        ]);
    }
    table
}

fn chapter(out: &mut String, title: &str, table: &Table) {
    out.push('\n');
    out.push_str(&titled(title, '-'));
    out.push_str(&render(table, WIDTH));
}
