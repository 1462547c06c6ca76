//! The summary as plain text.

use rust_decimal::Decimal;

use crate::export::text::{WIDTH, paragraph, render, titled};
use crate::export::{Column, Table};
use crate::rules::money::Money;
use crate::rules::tax_year::YearSummary;
use crate::rules::tax_year::form::TaxLine;
use crate::rules::tax_year::profile::Part;
use crate::rules::tax_year::schedules::BesideTheForm;

pub(super) fn text(summary: &YearSummary) -> String {
    let mut out = titled(&format!("Tax year {}, {} ({})", summary.year, summary.form, summary.currency), '=');
    out.push_str(&paragraph(summary.caution, 0));
    out.push('\n');
    let from =
        format!("The postings behind a line are at {}, followed by its class.", postings(summary.year));
    out.push_str(&paragraph(&from, 0));
    for (part, title) in [
        (Part::Income, "Part I: income"),
        (Part::Expenses, "Part II: expenses"),
        (Part::GoodsSold, "Part III: cost of goods sold"),
        (Part::Vehicle, "Part IV: vehicle"),
        (Part::OtherExpenses, "Part V: other expenses"),
    ] {
        chapter(&mut out, title, &lines(summary, part));
    }
    chapter(&mut out, "Tools and their depreciation", &depreciation(summary));
    for row in &summary.depreciation.rows {
        let back = if row.recaptured.is_positive() {
            format!("; {} comes back into income", row.recaptured)
        } else {
            String::new()
        };
        out.push_str(&paragraph(&format!("{}: {}{back} [{}]", row.name, row.method, row.rule), 2));
    }
    if !summary.depreciation.rows.is_empty() {
        out.push_str(&paragraph(summary.depreciation.says, 0));
    }
    chapter(&mut out, "Section 179", &section_179(summary));
    chapter(&mut out, "Stock", &inventory(summary));
    chapter(&mut out, "The owner's home, by project", &home(summary));
    chapter(&mut out, "The home office, simplified method", &home_office(summary));
    if let Some(office) = &summary.home_office {
        out.push_str(&paragraph(&office.says, 0));
    }
    chapter(&mut out, "Private things sold", &personal_sales(summary));
    if !summary.personal_sales.rows.is_empty() {
        out.push_str(&paragraph(&summary.personal_sales.says, 0));
    }
    chapter(&mut out, "Business property that left", &business_sales(summary));
    chapter(&mut out, "Business miles", &mileage(summary));
    chapter(&mut out, "Goods received", &gifts(summary));
    chapter(&mut out, "Paid to helpers, trades and landlords", &payees(summary));
    chapter(&mut out, "Not deducted", &beside(&summary.not_deducted));
    chapter(&mut out, "Not on this form", &beside(&summary.off_the_form));
    chapter(&mut out, "From gross income to the money received", &reconciliation(summary));
    chapter(&mut out, "Figures of the law", &figures(summary));
    listed(
        &mut out,
        "Choices",
        summary.elections.iter().map(|one| {
            let class = one.class.map_or_else(String::new, |class| format!(" ({class}-year class)"));
            format!("{}{class}: {}", one.kind.as_str().replace('_', " "), one.says)
        }),
    );
    listed(
        &mut out,
        "Questions to the preparer",
        summary.questions.iter().map(|one| {
            let about =
                if one.about.is_empty() { String::new() } else { format!(" [{}]", one.about.join(", ")) };
            format!("{}: {}{about}", one.topic.as_str().replace('_', " "), one.question)
        }),
    );
    out.push('\n');
    out.push_str(&paragraph(summary.caution, 0));
    out
}

/// Nothing where the table has no rows: an empty schedule says nothing.
fn chapter(out: &mut String, title: &str, table: &Table) {
    if !table.is_empty() {
        out.push('\n');
        out.push_str(&titled(title, '-'));
        out.push_str(&render(table, WIDTH));
    }
}

fn listed(out: &mut String, title: &str, points: impl Iterator<Item = String>) {
    out.push('\n');
    out.push_str(&titled(title, '-'));
    for point in points {
        out.push_str(&paragraph(&format!("* {point}"), 2));
    }
}

/// A line's link without the part that is the same on all lines; [`text`] says once what it stands for.
fn shortened(link: &str, year: i32) -> String {
    let schedule = format!("/v1/tax-years/{year}/summary#");
    match link.strip_prefix(schedule.as_str()) {
        Some(name) => format!("schedule: {name}"),
        None => link.strip_prefix(postings(year).as_str()).unwrap_or(link).replace(',', ", "),
    }
}

fn postings(year: i32) -> String {
    format!("/v1/postings?tax_year={year}&")
}

fn lines(summary: &YearSummary, part: Part) -> Table {
    let mut table = Table::new(&[
        Column::text("line"),
        Column::text("what"),
        Column::numbers("exact"),
        Column::numbers("whole"),
        Column::text("from"),
    ]);
    let figure = |figure: Option<Decimal>| figure.map_or_else(String::new, |one| one.to_string());
    let of_part = |line: &&TaxLine| line.part == part && (line.words.is_none() || part == Part::GoodsSold);
    for line in summary.lines.iter().filter(of_part) {
        let links: Vec<String> =
            line.drill_down.iter().chain(&line.also_from).map(|link| shortened(link, summary.year)).collect();
        let shown = (!links.is_empty()).then(|| links.join(" "));
        let from = line.words.clone().or_else(|| line.worked_out.clone()).or(shown);
        table.push([
            line.line.to_owned(),
            line.label.clone(),
            figure(line.exact),
            figure(line.whole),
            from.unwrap_or_default(),
        ]);
    }
    table
}

fn depreciation(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("tool"),
        Column::text("in service"),
        Column::numbers("basis"),
        Column::numbers("before"),
        Column::numbers("at once"),
        Column::numbers("sec. 179"),
        Column::numbers("allowance"),
        Column::numbers("yearly"),
        Column::numbers("left"),
    ]);
    for row in &summary.depreciation.rows {
        table.push([
            row.name.clone(),
            row.in_service_on.to_string(),
            row.basis.to_string(),
            row.prior.to_string(),
            row.expensed.to_string(),
            row.section_179.to_string(),
            row.special_allowance.to_string(),
            row.yearly.to_string(),
            row.left.to_string(),
        ]);
    }
    table
}

fn pairs<L: Into<String>>(rows: impl IntoIterator<Item = (L, Money)>) -> Table {
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount")]);
    for (label, amount) in rows {
        table.push([label.into(), amount.to_string()]);
    }
    table
}

fn section_179(summary: &YearSummary) -> Table {
    let figures = &summary.section_179;
    if figures.elected.is_zero() && figures.brought_forward.is_zero() {
        return pairs(Vec::<(String, Money)>::new());
    }
    pairs([
        ("elected", figures.elected),
        ("dollar limit", figures.dollar_limit),
        ("brought forward", figures.brought_forward),
        ("business income before it", figures.business_income),
        ("allowed", figures.allowed),
        ("carried over", figures.carried_over),
    ])
}

fn inventory(summary: &YearSummary) -> Table {
    let stock = &summary.inventory;
    let mut rows = vec![("pieces for resale, opening".to_owned(), stock.pieces_opening)];
    rows.extend(stock.pieces_added.iter().map(|one| (format!("added: {}", one.class), one.amount)));
    rows.push(("pieces for resale, sold".to_owned(), stock.pieces_sold));
    rows.push(("pieces for resale, closing".to_owned(), stock.pieces_closing));
    rows.push(("materials on hand, opening".to_owned(), stock.materials_opening));
    rows.push(("materials on hand, closing".to_owned(), stock.materials_closing));
    pairs(rows)
}

fn home(summary: &YearSummary) -> Table {
    let mut table =
        Table::new(&[Column::text("project"), Column::numbers("improvements"), Column::numbers("repairs")]);
    for row in &summary.home.rows {
        table.push([row.name.clone(), row.improvements.to_string(), row.repairs.to_string()]);
    }
    table
}

fn home_office(summary: &YearSummary) -> Table {
    let Some(office) = &summary.home_office else { return pairs(Vec::<(String, Money)>::new()) };
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount")]);
    for one in &office.months {
        table.push([format!("month {}: square feet counted", one.month), one.counted.to_string()]);
    }
    table.push(["square feet on average".to_owned(), office.square_feet.to_string()]);
    table.push(["rate a square foot".to_owned(), office.rate.to_string()]);
    for (what, amount) in [
        ("at that rate", office.allowable),
        ("tentative profit", office.tentative_profit),
        ("allowed", office.allowed),
        ("beyond the tentative profit", office.lost),
    ] {
        table.push([what.to_owned(), amount.to_string()]);
    }
    table
}

/// A dash where nobody knows, or nothing is worked out.
fn known(amount: Option<Money>) -> String {
    amount.map_or_else(|| "-".to_owned(), |one| one.to_string())
}

fn personal_sales(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("what"),
        Column::text("sold"),
        Column::numbers("proceeds"),
        Column::numbers("basis"),
        Column::numbers("gain, taxed"),
        Column::numbers("loss, not deducted"),
    ]);
    for row in &summary.personal_sales.rows {
        let proceeds = row.proceeds.to_string();
        let (basis, gain, loss) = (known(row.basis), known(row.gain), known(row.loss));
        table.push([row.name.clone(), row.date.to_string(), proceeds, basis, gain, loss]);
    }
    table
}

fn business_sales(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("what"),
        Column::text("left"),
        Column::numbers("proceeds"),
        Column::numbers("basis"),
        Column::numbers("gain"),
        Column::numbers("ordinary"),
        Column::numbers("sec. 1231"),
        Column::numbers("loss"),
        Column::text("note"),
    ]);
    for row in &summary.business_sales {
        table.push([
            row.what.clone(),
            row.date.to_string(),
            row.proceeds.to_string(),
            known(row.basis),
            known(row.gain),
            known(row.ordinary),
            known(row.section_1231),
            known(row.loss),
            row.says.clone(),
        ]);
    }
    table
}

fn mileage(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("vehicle"),
        Column::numbers("miles"),
        Column::numbers("rate"),
        Column::numbers("at the rate"),
        Column::numbers("posted"),
        Column::numbers("lowers basis by"),
    ]);
    for row in &summary.mileage.rows {
        table.push([
            row.vehicle.clone(),
            row.miles.to_string(),
            row.rate.to_string(),
            row.at_rate.to_string(),
            row.posted.to_string(),
            row.depreciation_part.to_string(),
        ]);
    }
    table
}

fn gifts(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("received"),
        Column::text("what"),
        Column::text("from"),
        Column::numbers("value"),
        Column::text("fate"),
        Column::text("so it is"),
    ]);
    for row in &summary.gifts.rows {
        table.push([
            row.received_on.to_string(),
            row.what.clone(),
            row.from.clone(),
            known(row.value),
            row.fate.to_string(),
            row.says.clone(),
        ]);
    }
    table
}

fn payees(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("who"),
        Column::text("for"),
        Column::numbers("amount"),
        Column::numbers("by card"),
        Column::text("information return"),
    ]);
    for row in &summary.information_returns.payees {
        table.push([
            row.name.clone(),
            row.paid_for.to_string(),
            row.amount.to_string(),
            row.by_card.to_string(),
            row.standing.to_string().replace('_', " "),
        ]);
    }
    table
}

fn beside(rows: &[BesideTheForm]) -> Table {
    let mut table = Table::new(&[Column::text("what"), Column::numbers("amount"), Column::text("why")]);
    for row in rows {
        table.push([row.label.clone(), row.amount.to_string(), row.says.clone()]);
    }
    table
}

fn figures(summary: &YearSummary) -> Table {
    let mut table = Table::new(&[
        Column::text("what"),
        Column::numbers("figure"),
        Column::text("source"),
        Column::text("checked"),
    ]);
    for one in &summary.figures {
        let value = one.value.map_or_else(String::new, |value| value.to_string());
        let mark = one.mark.as_str().replace('_', " ");
        table.push([one.what.to_owned(), value, one.source.to_owned(), mark]);
    }
    table
}

fn reconciliation(summary: &YearSummary) -> Table {
    let bridge = &summary.reconciliation;
    if bridge.gross.is_zero() && bridge.steps.is_empty() {
        return pairs(Vec::<(String, Money)>::new());
    }
    let mut rows: Vec<_> =
        bridge.by_stream.iter().map(|one| (format!("gross: {}", one.class), one.gross)).collect();
    rows.push(("gross in all".to_owned(), bridge.gross));
    rows.extend(bridge.steps.iter().map(|step| (step.text.clone(), step.amount)));
    rows.push(("received".to_owned(), bridge.received));
    rows.push(("of it by statements of platforms".to_owned(), bridge.by_statements));
    rows.push(("of it by instalments of sponsors".to_owned(), bridge.by_instalments));
    rows.push(("of it in other ways".to_owned(), bridge.in_other_ways));
    pairs(rows)
}
