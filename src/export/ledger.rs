//! Trial balance, income statement and balance sheet for a spreadsheet and for a reader.

use chrono::NaiveDate;

use super::{Column, ExportError, Table, csv, text};
use crate::rules::chain::Head;
use crate::rules::ledger::{BalanceSheet, IncomeStatement, LedgerLine, TrialBalance};
use crate::rules::money::{Currency, Money};

#[cfg(test)]
mod tests;

/// A report as rows: section, account, name, and one or two figures.
enum Figures {
    One(Money),
    Two(Money, Money),
}

struct Report {
    title: String,
    currency: Currency,
    headings: &'static [Column],
    rows: Vec<(&'static str, String, String, Figures)>,
}

const ONE: &[Column] = &[
    Column::text("section"),
    Column::text("account"),
    Column::text("name"),
    Column::text("currency"),
    Column::numbers("amount"),
];

const TWO: &[Column] = &[
    Column::text("section"),
    Column::text("account"),
    Column::text("name"),
    Column::text("currency"),
    Column::numbers("debit"),
    Column::numbers("credit"),
];

fn until(on: Option<NaiveDate>) -> String {
    on.map_or_else(|| "all that is recorded".to_owned(), |on| format!("on {on}"))
}

fn between(from: Option<NaiveDate>, to: Option<NaiveDate>) -> String {
    match (from, to) {
        (None, None) => "all that is recorded".to_owned(),
        (Some(from), None) => format!("from {from}"),
        (None, Some(to)) => format!("through {to}"),
        (Some(from), Some(to)) => format!("from {from} through {to}"),
    }
}

impl Report {
    fn of_trial(trial: &TrialBalance) -> Self {
        let lines = trial.lines.iter().map(|line| {
            (line.kind, line.account.code(), line.name.clone(), Figures::Two(line.debit, line.credit))
        });
        let mut rows: Vec<_> = lines.collect();
        rows.push((
            "total",
            String::new(),
            String::new(),
            Figures::Two(trial.debit_total, trial.credit_total),
        ));
        Self {
            title: format!("Trial balance, {}", until(trial.on)),
            currency: trial.currency,
            headings: TWO,
            rows,
        }
    }

    fn of_income(statement: &IncomeStatement) -> Self {
        let title = format!("Income statement, {}", between(statement.from, statement.to));
        let mut report = Self { title, currency: statement.currency, headings: ONE, rows: Vec::new() };
        report.push("income", &statement.income, statement.income_total);
        report.push("costs", &statement.costs, statement.cost_total);
        report.total("result", statement.result);
        report
    }

    fn of_sheet(sheet: &BalanceSheet) -> Self {
        let title = format!("Balance sheet, {}", until(sheet.on));
        let mut report = Self { title, currency: sheet.currency, headings: ONE, rows: Vec::new() };
        report.push("assets", &sheet.assets, sheet.asset_total);
        report.push("liabilities", &sheet.liabilities, sheet.liability_total);
        report.lines("equity", &sheet.equity);
        report.rows.push((
            "equity",
            String::new(),
            "result not closed yet".to_owned(),
            Figures::One(sheet.result_not_closed),
        ));
        report.total("equity", sheet.equity_total);
        report
    }

    fn lines(&mut self, section: &'static str, lines: &[LedgerLine]) {
        for line in lines {
            self.rows.push((section, line.account.code(), line.name.clone(), Figures::One(line.amount)));
        }
    }

    fn total(&mut self, section: &'static str, total: Money) {
        self.rows.push((section, String::new(), "total".to_owned(), Figures::One(total)));
    }

    fn push(&mut self, section: &'static str, lines: &[LedgerLine], total: Money) {
        self.lines(section, lines);
        self.total(section, total);
    }

    fn table(&self) -> Table {
        let mut table = Table::new(self.headings);
        for (section, account, name, figures) in &self.rows {
            let mut cells =
                vec![(*section).to_owned(), account.clone(), name.clone(), self.currency.code().to_owned()];
            match figures {
                Figures::One(amount) => cells.push(amount.to_string()),
                Figures::Two(debit, credit) => cells.extend([debit.to_string(), credit.to_string()]),
            }
            table.push(cells);
        }
        table
    }

    /// The last row names the books' last entry, so that whoever keeps the file can tell whether they still hold
    /// what they held.
    fn csv(&self, head: &Head) -> Result<Vec<u8>, ExportError> {
        let mut table = self.table();
        let blanks = self.headings.len().saturating_sub(3);
        let cells = ["head".to_owned(), head.number.to_string(), head.hash.to_string()];
        table.push(cells.into_iter().chain(std::iter::repeat_n(String::new(), blanks)));
        csv::write(&table)
    }

    fn text(&self, head: &Head) -> String {
        let mut out = text::titled(&self.title, '=');
        out.push_str(&text::render(&self.table(), text::WIDTH));
        out.push('\n');
        out.push_str(&text::paragraph(&format!("Books up to entry {}, {}", head.number, head.hash), 2));
        out
    }
}

/// # Errors
/// [`ExportError`], a fault of ours.
pub fn trial_balance_csv(trial: &TrialBalance, head: &Head) -> Result<Vec<u8>, ExportError> {
    Report::of_trial(trial).csv(head)
}

pub fn trial_balance_text(trial: &TrialBalance, head: &Head) -> String {
    Report::of_trial(trial).text(head)
}

/// # Errors
/// [`ExportError`], a fault of ours.
pub fn income_statement_csv(statement: &IncomeStatement, head: &Head) -> Result<Vec<u8>, ExportError> {
    Report::of_income(statement).csv(head)
}

pub fn income_statement_text(statement: &IncomeStatement, head: &Head) -> String {
    Report::of_income(statement).text(head)
}

/// # Errors
/// [`ExportError`], a fault of ours.
pub fn balance_sheet_csv(sheet: &BalanceSheet, head: &Head) -> Result<Vec<u8>, ExportError> {
    Report::of_sheet(sheet).csv(head)
}

pub fn balance_sheet_text(sheet: &BalanceSheet, head: &Head) -> String {
    Report::of_sheet(sheet).text(head)
}
