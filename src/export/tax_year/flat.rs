//! The summary as one flat table.

use rust_decimal::Decimal;

use crate::export::{Column, Table};
use crate::rules::money::Money;
use crate::rules::tax_year::YearSummary;

const COLUMNS: [Column; 6] = [
    Column::text("section"),
    Column::text("line"),
    Column::text("label"),
    Column::numbers("exact"),
    Column::numbers("whole"),
    Column::text("drill_down"),
];

/// Gathers rows under one section.
struct Section<'a> {
    table: &'a mut Table,
    name: &'static str,
}

impl Section<'_> {
    fn row(&mut self, line: &str, label: &str, exact: &str, whole: &str, drill_down: &str) {
        self.table.push([self.name, line, label, exact, whole, drill_down]);
    }

    fn amount(&mut self, label: &str, amount: Money) {
        self.row("", label, &amount.to_string(), "", "");
    }

    fn amount_of(&mut self, what: &str, label: &str, amount: Money) {
        self.amount(&format!("{what}: {label}"), amount);
    }

    fn maybe(&mut self, what: &str, label: &str, amount: Option<Money>) {
        self.row(
            "",
            &format!("{what}: {label}"),
            &amount.map_or_else(String::new, |one| one.to_string()),
            "",
            "",
        );
    }

    fn words(&mut self, label: &str) {
        self.row("", label, "", "", "");
    }
}

pub(super) fn table(summary: &YearSummary) -> Table {
    let mut table = Table::new(&COLUMNS);
    let mut put = |name: &'static str, fill: &dyn Fn(&YearSummary, &mut Section<'_>)| {
        fill(summary, &mut Section { table: &mut table, name });
    };
    put("caution", &|summary, section| section.words(summary.caution));
    put("form", &form);
    put("depreciation", &depreciation);
    put("section_179", &section_179);
    put("inventory", &inventory);
    put("home", &home);
    put("home_office", &home_office);
    put("personal_sales", &personal_sales);
    put("business_sales", &business_sales);
    put("mileage", &mileage);
    put("gifts", &gifts);
    put("information_returns", &information_returns);
    put("not_deducted", &|summary, section| beside(&summary.not_deducted, section));
    put("off_the_form", &|summary, section| beside(&summary.off_the_form, section));
    put("reconciliation", &reconciliation);
    put("figures", &|summary, section| {
        for one in &summary.figures {
            let value = one.value.map_or_else(String::new, |value| value.to_string());
            section.row("", &format!("{}: {} ({})", one.what, one.source, one.mark), &value, "", "");
        }
    });
    put("elections", &|summary, section| {
        for one in &summary.elections {
            let class = one.class.map_or_else(String::new, |class| format!(" ({class}-year class)"));
            section.words(&format!("{}{class}: {}", one.kind, one.says));
        }
    });
    put("questions", &|summary, section| {
        for one in &summary.questions {
            section.row("", &format!("{}: {}", one.topic, one.question), "", "", &one.about.join(" "));
        }
    });
    table
}

fn form(summary: &YearSummary, section: &mut Section<'_>) {
    let figure = |figure: Option<Decimal>| figure.map_or_else(String::new, |one| one.to_string());
    for line in &summary.lines {
        let label = match &line.words {
            Some(words) => format!("{}: {words}", line.label),
            None => line.label.clone(),
        };
        let links: Vec<&str> = line.drill_down.iter().chain(&line.also_from).map(String::as_str).collect();
        section.row(line.line, &label, &figure(line.exact), &figure(line.whole), &links.join(" "));
    }
}

fn depreciation(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.depreciation.rows {
        let name = row.name.as_str();
        let link = format!("/v1/tools/{}/standing", row.tool);
        section.row("", &format!("{name}: cost"), &row.cost.to_string(), "", &link);
        section.row(
            "",
            &format!("{name}: business share in percent"),
            &row.business_share.to_string(),
            "",
            "",
        );
        for (label, amount) in [
            ("business basis", row.basis),
            ("taken before", row.prior),
            ("written off at once", row.expensed),
            ("section 179 elected", row.section_179),
            ("special allowance", row.special_allowance),
            ("by table or straight line", row.yearly),
            ("came back into income", row.recaptured),
            ("basis left", row.left),
        ] {
            section.amount_of(name, label, amount);
        }
        section.words(&format!("{name}: {} [{}]", row.method, row.rule));
    }
    section.words(summary.depreciation.says);
}

fn section_179(summary: &YearSummary, section: &mut Section<'_>) {
    let figures = &summary.section_179;
    section.amount("elected", figures.elected);
    section.amount("dollar limit", figures.dollar_limit);
    section.amount("brought forward", figures.brought_forward);
    section.amount("business income before it", figures.business_income);
    section.amount("allowed", figures.allowed);
    section.amount("carried over", figures.carried_over);
}

fn inventory(summary: &YearSummary, section: &mut Section<'_>) {
    let stock = &summary.inventory;
    let mut row =
        |label: &str, amount: Money, link: &str| section.row("", label, &amount.to_string(), "", link);
    row("pieces for resale, opening", stock.pieces_opening, &stock.opening_drill_down);
    for change in &stock.pieces_added {
        let label = format!("pieces for resale, added: {}", change.class);
        row(&label, change.amount, &change.drill_down);
    }
    row("pieces for resale, sold", stock.pieces_sold, "");
    row("pieces for resale, closing", stock.pieces_closing, &stock.pieces_drill_down);
    row("materials on hand, opening", stock.materials_opening, &stock.opening_drill_down);
    row("materials on hand, closing", stock.materials_closing, &stock.materials_drill_down);
}

fn home(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.home.rows {
        let link = row.project.map_or_else(String::new, |project| format!("/v1/projects/{project}"));
        section.row("", &format!("{}: improvements", row.name), &row.improvements.to_string(), "", &link);
        section.amount_of(&row.name, "repairs", row.repairs);
    }
    section.amount("improvements in all", summary.home.improvements);
    section.amount("repairs in all", summary.home.repairs);
}

fn home_office(summary: &YearSummary, section: &mut Section<'_>) {
    let Some(office) = &summary.home_office else { return };
    for one in &office.months {
        let month = format!("month {}: square feet counted", one.month);
        section.row("", &month, &one.counted.to_string(), "", "");
    }
    section.row("", "square feet on average", &office.square_feet.to_string(), "", &office.drill_down);
    section.row("", "rate a square foot", &office.rate.to_string(), "", "");
    section.amount("at that rate", office.allowable);
    section.amount("tentative profit", office.tentative_profit);
    section.amount("allowed", office.allowed);
    section.amount("beyond the tentative profit, not carried over", office.lost);
    section.amount("actual costs, not added", office.actual_costs);
    section.words(&office.says);
}

fn personal_sales(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.personal_sales.rows {
        let what = format!("{}, {}", row.name, row.date);
        let link = format!("/v1/furniture/{}/standing", row.piece);
        section.row("", &format!("{what}: proceeds"), &row.proceeds.to_string(), "", &link);
        section.maybe(&what, "basis", row.basis);
        section.maybe(&what, "basis for a loss", row.basis_for_loss);
        section.maybe(&what, "gain, taxed", row.gain);
        section.maybe(&what, "loss, not deducted", row.loss);
    }
    section.amount("gains taxed", summary.personal_sales.gains_taxed);
    section.amount("losses not deducted", summary.personal_sales.losses_not_deducted);
    section.words(&summary.personal_sales.says);
}

fn business_sales(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.business_sales {
        let what = format!("{}, {} {}", row.what, row.leaving, row.date);
        section.row("", &format!("{what}: proceeds"), &row.proceeds.to_string(), "", &row.drill_down);
        for (label, amount) in [
            ("cost", row.cost),
            ("depreciation", row.depreciation),
            ("basis", row.basis),
            ("basis for a loss", row.basis_for_loss),
            ("gain", row.gain),
            ("ordinary part", row.ordinary),
            ("section 1231 part", row.section_1231),
            ("loss", row.loss),
        ] {
            section.maybe(&what, label, amount);
        }
        section.words(&format!("{what}: {}", row.says));
    }
}

fn mileage(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.mileage.rows {
        let miles = format!("{}: business miles", row.vehicle);
        section.row("", &miles, &row.miles.to_string(), "", "/v1/trips");
        section.row("", &format!("{}: rate a mile", row.vehicle), &row.rate.to_string(), "", "");
        section.amount_of(&row.vehicle, "at that rate", row.at_rate);
        section.amount_of(&row.vehicle, "posted", row.posted);
        section.amount_of(&row.vehicle, "lowers the basis by", row.depreciation_part);
    }
    section.amount("beside the rate", summary.mileage.beside_the_rate);
}

fn gifts(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.gifts.rows {
        let what = format!("{}, from {}, {}", row.what, row.from, row.received_on);
        let label = format!("{what}: {} ({}, {})", row.says, row.relation, row.fate);
        let value = row.value.map_or_else(String::new, |value| value.to_string());
        section.row("", &label, &value, "", &format!("/v1/gifts/{}/standing", row.gift));
    }
    section.amount("in income", summary.gifts.in_income);
}

fn information_returns(summary: &YearSummary, section: &mut Section<'_>) {
    for row in &summary.information_returns.payees {
        section.amount_of(&row.name, &format!("{} ({})", row.paid_for, row.standing), row.amount);
    }
    section.amount("threshold", summary.information_returns.threshold);
}

fn beside(rows: &[crate::rules::tax_year::schedules::BesideTheForm], section: &mut Section<'_>) {
    for row in rows {
        let link = row.drill_down.as_deref().unwrap_or_default();
        section.row("", &format!("{}: {}", row.label, row.says), &row.amount.to_string(), "", link);
    }
}

fn reconciliation(summary: &YearSummary, section: &mut Section<'_>) {
    let bridge = &summary.reconciliation;
    for one in &bridge.by_stream {
        section.row("", &format!("gross: {}", one.class), &one.gross.to_string(), "", &one.drill_down);
    }
    section.amount("gross in all", bridge.gross);
    for step in &bridge.steps {
        section.amount(&step.text, step.amount);
    }
    section.amount("received", bridge.received);
    section.amount("received by statements of platforms", bridge.by_statements);
    section.amount("received by instalments of sponsors", bridge.by_instalments);
    section.amount("received in other ways", bridge.in_other_ways);
}
