//! The report on overhead for a spreadsheet.

use super::head_in_words;
use crate::export::{Column, ExportError, Table, csv};
use crate::rules::chain::Head;
use crate::rules::costing::{OverheadReport, Spreading};
use crate::rules::money::Money;

/// One row a pool, then one a spreading of it: part, id, name, days, what it went by, the rate, hours or other base,
/// applied, actual (of a spreading: what was there), difference, over or under, borne, left. What was spread without a
/// pool comes after the pools; the last row names the books' last entry.
/// # Errors
/// [`ExportError`], a fault of ours.
pub fn overhead_csv(report: &OverheadReport, head: &Head) -> Result<Vec<u8>, ExportError> {
    let texts = ["part", "id", "name", "from", "to", "by", "rate", "currency"].map(Column::text);
    let numbers = ["base", "applied", "actual", "difference", "borne", "left"].map(Column::numbers);
    let columns = texts.into_iter().chain(numbers).chain([Column::text("over_or_under")]);
    let mut table = Table::new(&columns.collect::<Vec<_>>());
    let currency = report.currency.code();
    let text = |amount: Money| amount.to_string();
    for pool in &report.pools {
        let rate = pool.rate_per_hour.map(|rate| format!("{rate} an hour")).unwrap_or_default();
        let hours = pool.estimated_hours.map(|hours| hours.to_string()).unwrap_or_default();
        let (id, from, to) = (pool.pool.to_string(), pool.from.to_string(), pool.to.to_string());
        let names = ["pool", &id, &pool.name, &from, &to, "", &rate, currency].map(str::to_owned);
        let sums = [pool.applied, pool.actual, pool.difference, pool.borne, pool.left].map(text);
        let verdict = pool.over_or_under.as_str().to_owned();
        table.push(names.into_iter().chain([hours]).chain(sums).chain([verdict]));
        for one in &pool.spreads {
            table.push(spreading(one, &pool.name, currency));
        }
    }
    for one in &report.without_pool {
        table.push(spreading(one, "", currency));
    }
    let says = head_in_words(head);
    table.push(["journal_head", "", &says].into_iter().chain(std::iter::repeat_n("", 12)));
    csv::write(&table)
}

fn spreading(one: &Spreading, name: &str, currency: &str) -> [String; 15] {
    [
        "spreading".to_owned(),
        one.record.to_string(),
        name.to_owned(),
        one.from.to_string(),
        one.to.to_string(),
        one.by.to_string(),
        one.rate.to_string(),
        currency.to_owned(),
        one.base.to_string(),
        one.applied.to_string(),
        one.there.to_string(),
        one.difference.to_string(),
        one.borne.to_string(),
        String::new(),
        String::new(),
    ]
}
