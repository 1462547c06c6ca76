//! Cost statements for a spreadsheet and for a reader.

use std::collections::BTreeMap;

use super::{Column, ExportError, Table, csv, text};
use crate::rules::chain::Head;
use crate::rules::costing::{
    Figures, Period, ProjectStatement, RollForward, Statement, StatementForViewers, Sums,
};
use crate::rules::ids::EpisodeId;
use crate::rules::money::Currency;

mod overhead;
#[cfg(test)]
mod tests;
mod year;

pub use overhead::overhead_csv;
pub use year::{year_csv, year_text};

/// What an export needs beside the figures.
#[derive(Clone, Debug)]
pub struct Cover<'a> {
    /// The title of the episode or project.
    pub title: &'a str,
    /// The titles of a project's episodes; one that is missing is shown by its id.
    pub episodes: &'a BTreeMap<EpisodeId, String>,
    /// The books' last entry: whoever keeps the file can tell later whether the books still hold what they held.
    pub head: Head,
}

impl Cover<'_> {
    fn title_of(&self, episode: EpisodeId) -> String {
        self.episodes.get(&episode).cloned().unwrap_or_else(|| episode.to_string())
    }
}

/// One row a figure: part (the episode's id), section, line, currency, amount, budget, variance and where the
/// attributions behind it are listed. Hours carry no currency; the last row names the books' last entry.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn statement_csv(statement: &Statement, cover: &Cover<'_>) -> Result<Vec<u8>, ExportError> {
    let mut sheet = Sheet::new(statement.currency);
    sheet.part(&statement.episode.to_string(), &statement.figures);
    sheet.written(&cover.head)
}

/// As [`statement_csv`], with the parts one after the other: each episode, `own`, `total`.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn project_csv(project: &ProjectStatement, cover: &Cover<'_>) -> Result<Vec<u8>, ExportError> {
    let mut sheet = Sheet::new(project.currency);
    for episode in &project.episodes {
        sheet.part(&episode.episode.to_string(), &episode.figures);
    }
    sheet.part("own", &project.own);
    sheet.part("total", &project.total);
    sheet.written(&cover.head)
}

/// A statement to read, of at most [`text::WIDTH`] characters a line.
pub fn statement_text(statement: &Statement, cover: &Cover<'_>) -> String {
    let title = format!("What '{}' cost and earned", cover.title);
    let period = Period { from: statement.from, to: statement.to };
    let mut out = text::titled(&title, '=');
    out.push_str(&text::paragraph(&covered(statement.currency, period), 0));
    out.push('\n');
    push_figures(&mut out, &statement.figures, statement.currency);
    push_head(&mut out, &cover.head);
    out
}

/// A project's statement to read: the total first, then each part.
pub fn project_text(project: &ProjectStatement, cover: &Cover<'_>) -> String {
    let title = format!("What the project '{}' cost and earned", cover.title);
    let period = Period { from: project.from, to: project.to };
    let mut out = text::titled(&title, '=');
    out.push_str(&text::paragraph(&covered(project.currency, period), 0));
    let mut push_part = |title: &str, figures: &Figures| {
        out.push('\n');
        out.push_str(&text::titled(title, '-'));
        push_figures(&mut out, figures, project.currency);
    };
    push_part("All together", &project.total);
    for episode in &project.episodes {
        push_part(&format!("Episode '{}'", cover.title_of(episode.episode)), &episode.figures);
    }
    push_part("The project's own, of no episode", &project.own);
    push_head(&mut out, &cover.head);
    out
}

/// What viewers may see, to read.
pub fn viewers_text(statement: &StatementForViewers, title: &str) -> String {
    let mut table = Table::new(&[Column::text("what"), Column::numbers(statement.currency.code())]);
    for cost in &statement.costs {
        table.push([in_words(cost.category.as_str()), cost.amount.to_string()]);
    }
    table.push(["all together".to_owned(), statement.total.to_string()]);
    let mut out = text::titled(&format!("What '{title}' cost at the till"), '=');
    out.push_str(&text::render(&table, text::WIDTH));
    out.push('\n');
    out.push_str(&text::paragraph(statement.left_out, 0));
    out
}

/// What viewers may see, one row a category and the total.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn viewers_csv(statement: &StatementForViewers) -> Result<Vec<u8>, ExportError> {
    let columns = [Column::text("category"), Column::text("currency"), Column::numbers("amount")];
    let mut table = Table::new(&columns);
    let currency = statement.currency.code();
    for cost in &statement.costs {
        table.push([cost.category.as_str(), currency, &cost.amount.to_string()]);
    }
    table.push(["total", currency, &statement.total.to_string()]);
    csv::write(&table)
}

/// How every source rolls forward: one row a source, then one a kind and a side, then what the journal says.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn roll_forward_csv(roll: &RollForward, head: &Head) -> Result<Vec<u8>, ExportError> {
    let mut table = Table::new(&[
        Column::text("section"),
        Column::text("side"),
        Column::text("kind"),
        Column::text("source"),
        Column::text("text"),
        Column::text("currency"),
        Column::numbers("opening"),
        Column::numbers("incurred"),
        Column::numbers("returned"),
        Column::numbers("removed"),
        Column::numbers("attributed"),
        Column::numbers("closing"),
        Column::text("holds"),
    ]);
    let mut push = |names: [&str; 5], sums: Option<&Sums>, holds: &str| {
        let figures = sums.map(|of| {
            [of.opening, of.incurred, of.returned, of.removed, of.attributed, of.closing]
                .map(|amount| amount.to_string())
        });
        let mut cells: Vec<String> = names.map(str::to_owned).to_vec();
        cells.push(roll.currency.code().to_owned());
        cells.extend(figures.unwrap_or_default());
        cells.push(holds.to_owned());
        table.push(cells);
    };
    for one in &roll.sources {
        let (id, holds) = (one.source.to_string(), yes_or_no(one.rolls_forward));
        push(["source", one.side.as_str(), one.kind.as_str(), &id, &one.text], Some(&one.sums), holds);
    }
    for total in &roll.totals {
        let kind = total.kind.map_or("", |kind| kind.as_str());
        push(["total", total.side.as_str(), kind, "", ""], Some(&total.sums), "");
    }
    for tie in &roll.ledger {
        let says = format!("journal {}, sources {}, difference {}", tie.ledger, tie.sources, tie.difference);
        push(["tie", tie.of.as_str(), "", "", &says], None, yes_or_no(tie.difference.is_zero()));
    }
    push(["journal_head", "", "", "", &head_in_words(head)], None, yes_or_no(roll.reconciles));
    csv::write(&table)
}

fn yes_or_no(holds: bool) -> &'static str {
    if holds { "yes" } else { "no" }
}

fn in_words(name: &str) -> String {
    name.replace('_', " ")
}

fn head_in_words(head: &Head) -> String {
    format!("entry {} {}", head.number, head.hash)
}

/// A table of statement rows on its way to a file.
struct Sheet {
    currency: &'static str,
    table: Table,
}

impl Sheet {
    fn new(currency: Currency) -> Self {
        let table = Table::new(&[
            Column::text("part"),
            Column::text("section"),
            Column::text("line"),
            Column::text("currency"),
            Column::numbers("amount"),
            Column::numbers("budget"),
            Column::numbers("variance"),
            Column::text("attributions"),
        ]);
        Self { currency: currency.code(), table }
    }

    fn push(&mut self, names: [&str; 3], currency: &str, figures: [&str; 3], link: &str) {
        self.table.push(names.into_iter().chain([currency]).chain(figures).chain([link]));
    }

    fn money(&mut self, names: [&str; 3], amount: impl ToString) {
        self.push(names, self.currency, [&amount.to_string(), "", ""], "");
    }

    fn part(&mut self, part: &str, figures: &Figures) {
        for line in &figures.costs {
            let link = line.attributions.as_deref().unwrap_or_default();
            let amount = line.amount.to_string();
            self.push([part, "costs", line.category.as_str()], self.currency, [&amount, "", ""], link);
        }
        self.money([part, "cost_total", ""], figures.cost_total);
        for line in &figures.recoveries {
            self.money([part, "recoveries", line.kind.as_str()], line.amount);
        }
        self.money([part, "recovered_total", ""], figures.recovered_total);
        self.money([part, "net_cost", ""], figures.net_cost);
        for line in &figures.income {
            let section = if line.in_kind { "income_in_kind" } else { "income" };
            self.money([part, section, line.stream.as_str()], line.gross);
        }
        self.money([part, "income_total", ""], figures.income_total);
        self.money([part, "income_fees", ""], figures.income_fees);
        self.money([part, "result", ""], figures.result);
        self.push([part, "own_hours", ""], "", [&figures.own_hours.to_string(), "", ""], "");
        let pay = figures.pay_per_hour.map(|pay| pay.to_string()).unwrap_or_default();
        self.money([part, "pay_per_hour", ""], pay);
        for line in &figures.budget {
            let shown = [line.actual, line.budget, line.variance].map(|amount| amount.to_string());
            let [actual, budget, variance] = &shown;
            let names = [part, "budget", line.category.as_str()];
            self.push(names, self.currency, [actual, budget, variance], "");
        }
        self.push([part, "reconciles", yes_or_no(figures.reconciles)], "", [""; 3], "");
    }

    fn written(mut self, head: &Head) -> Result<Vec<u8>, ExportError> {
        self.push(["", "journal_head", &head_in_words(head)], "", [""; 3], "");
        csv::write(&self.table)
    }
}

fn covered(currency: Currency, period: Period) -> String {
    let code = currency.code();
    match (period.from, period.to) {
        (None, None) => format!("In {code}, over its whole life."),
        (Some(from), None) => format!("In {code}, from {from} on."),
        (None, Some(to)) => format!("In {code}, up to and with {to}."),
        (Some(from), Some(to)) => format!("In {code}, from {from} to {to}, both included."),
    }
}

fn push_figures(out: &mut String, figures: &Figures, currency: Currency) {
    let mut table = Table::new(&[Column::text(""), Column::text("what"), Column::numbers(currency.code())]);
    let mut section = |name: &str, lines: Vec<(String, String)>, total: &str, sum: String| {
        for (place, (line, amount)) in lines.into_iter().enumerate() {
            table.push([if place == 0 { name.to_owned() } else { String::new() }, line, amount]);
        }
        table.push([total.to_owned(), String::new(), sum]);
    };
    let costs = figures.costs.iter();
    let costs = costs.map(|line| (in_words(line.category.as_str()), line.amount.to_string())).collect();
    section("costs", costs, "all costs", figures.cost_total.to_string());
    let back = figures.recoveries.iter();
    let back: Vec<_> = back.map(|line| (in_words(line.kind.as_str()), line.amount.to_string())).collect();
    if !back.is_empty() {
        section("came back", back, "all that came back", figures.recovered_total.to_string());
    }
    section("", Vec::new(), "net cost", figures.net_cost.to_string());
    let income = figures.income.iter().map(|line| {
        let kind = if line.in_kind { " in goods" } else { "" };
        (format!("{}{kind}", in_words(line.stream.as_str())), line.gross.to_string())
    });
    section("income", income.collect(), "all income", figures.income_total.to_string());
    section("", Vec::new(), "fees kept of it", figures.income_fees.to_string());
    section("", Vec::new(), "result", figures.result.to_string());
    out.push_str(&text::render(&table, text::WIDTH));
    out.push('\n');
    let hours = match figures.pay_per_hour {
        Some(pay) => format!("Own hours: {}; {pay} {currency} for each.", figures.own_hours),
        None => "Own hours: none recorded.".to_owned(),
    };
    out.push_str(&text::paragraph(&hours, 0));
    if !figures.budget.is_empty() {
        out.push('\n');
        let headings = ["budget", "actual", "variance"].map(Column::numbers);
        let columns: Vec<_> = std::iter::once(Column::text("budgeted")).chain(headings).collect();
        let mut table = Table::new(&columns);
        for line in &figures.budget {
            let amounts = [line.budget, line.actual, line.variance].map(|amount| amount.to_string());
            table.push(std::iter::once(in_words(line.category.as_str())).chain(amounts));
        }
        out.push_str(&text::render(&table, text::WIDTH));
        out.push_str(&text::paragraph("Variance: actual less budget; above zero, more was spent.", 0));
    }
    let reconciles = if figures.reconciles {
        "Every source named here rolls forward."
    } else {
        "THIS DOES NOT RECONCILE: a source named here is attributed beyond what there is. Run verify."
    };
    out.push_str(&text::paragraph(reconciles, 0));
}

fn push_head(out: &mut String, head: &Head) {
    out.push('\n');
    let says = format!("The books' last entry: {}, SHA-256 {}", head.number, head.hash);
    out.push_str(&text::paragraph(&says, 0));
}
