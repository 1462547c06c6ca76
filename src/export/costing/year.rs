//! A year of work for a spreadsheet and for a reader.

use super::{head_in_words, push_head, yes_or_no};
use crate::export::{Column, ExportError, Table, csv, text};
use crate::rules::chain::Head;
use crate::rules::costing::{Work, YearOfWork};

/// One row an episode, one for each project's own, one a project and the total: part, project, name, currency, hours,
/// income, fees, costs, what came back, result, pay for an hour (empty at no hours) and where the statement is.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn year_csv(year: &YearOfWork, head: &Head) -> Result<Vec<u8>, ExportError> {
    let texts = ["part", "id", "name", "currency"].map(Column::text);
    let numbers = ["own_hours", "income", "fees", "costs", "came_back", "result", "pay_per_hour"];
    let columns = texts.into_iter().chain(numbers.map(Column::numbers)).chain([Column::text("statement")]);
    let mut table = Table::new(&columns.collect::<Vec<_>>());
    let currency = year.currency.code();
    let mut push = |names: [&str; 3], work: &Work, link: &str| {
        let names = names.map(str::to_owned).into_iter().chain([currency.to_owned()]);
        table.push(names.chain(figures(work)).chain([link.to_owned()]));
    };
    for project in &year.projects {
        for episode in &project.episodes {
            let id = episode.episode.to_string();
            push(["episode", &id, &episode.title], &episode.work, &episode.statement);
        }
        let id = project.project.to_string();
        push(["own", &id, &project.name], &project.own, "");
        push(["project", &id, &project.name], &project.total, &project.statement);
    }
    push(["total", "", &year.year.to_string()], &year.total, "");
    for (part, says) in [("reconciles", yes_or_no(year.reconciles)), ("journal_head", &head_in_words(head))] {
        let empty = std::iter::repeat_n("", 9);
        table.push([part, "", says].into_iter().chain(empty));
    }
    csv::write(&table)
}

fn figures(work: &Work) -> [String; 7] {
    let pay = work.pay_per_hour.map(|pay| pay.to_string()).unwrap_or_default();
    let [income, fees, costs, back, result] =
        [work.income_total, work.income_fees, work.cost_total, work.recovered_total, work.result]
            .map(|sum| sum.to_string());
    [work.own_hours.to_string(), income, fees, costs, back, result, pay]
}

/// The year to read, of at most [`text::WIDTH`] characters a line.
pub fn year_text(year: &YearOfWork, head: &Head) -> String {
    let mut out = text::titled(&format!("What the hours of {} brought", year.year), '=');
    let days = format!("In {}, from {} to {}, both included.", year.currency, year.from, year.to);
    out.push_str(&text::paragraph(&days, 0));
    out.push('\n');
    let names = ["hours", "income", "fees", "costs", "back", "result", "an hour"].map(Column::numbers);
    let columns: Vec<_> = std::iter::once(Column::text("")).chain(names).collect();
    let mut table = Table::new(&columns);
    let mut push = |name: String, work: &Work| table.push(std::iter::once(name).chain(figures(work)));
    for project in &year.projects {
        push(project.name.clone(), &project.total);
        for episode in &project.episodes {
            push(format!("- {}", episode.title), &episode.work);
        }
    }
    push("all together".to_owned(), &year.total);
    out.push_str(&text::render(&table, text::WIDTH));
    out.push('\n');
    let reconciles = if year.reconciles {
        "The parts add up, and every statement behind them reconciles."
    } else {
        "THIS DOES NOT RECONCILE: a statement behind it does not. Run verify."
    };
    out.push_str(&text::paragraph(reconciles, 0));
    for note in &year.notes {
        out.push_str(&text::paragraph(note, 0));
    }
    push_head(&mut out, head);
    out
}
