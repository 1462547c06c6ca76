//! What the owner puts in, takes out, and pays in tax.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AccountFinding, exchange_of, of_the_business, positive_in_base};
use crate::rules::ids::MoneyAccountId;
use crate::rules::journal::{Account, Draw, TaxClass};
use crate::rules::money::{Amount, Money, Rate};
use crate::rules::recording::{MoneyAccount, Pen, Recording, Word};
use crate::rules::refusal::{At, Findings, Refusal};

/// The owner puts money of their own into the business.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewContribution {
    pub date: NaiveDate,
    /// The account that received it.
    pub into: MoneyAccountId,
    /// In the account's currency.
    pub amount: Amount,
    /// Base units for one unit of the account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The owner takes money out for themselves.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDraw {
    pub date: NaiveDate,
    /// The account that paid it.
    pub from: MoneyAccountId,
    /// In the account's currency.
    pub amount: Amount,
    /// Base units for one unit of the account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The owner's own income tax, paid ahead by estimate; never an expense of the business.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTaxPayment {
    pub date: NaiveDate,
    /// The account that paid it; an own pocket may.
    pub from: MoneyAccountId,
    /// In the account's currency.
    pub amount: Amount,
    /// Base units for one unit of the account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// The year the tax is for, which may be the one before: the fourth payment falls in January.
    pub tax_year: i32,
    /// Which part of that year, in words, such as "second quarter".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Money of the owner's own comes in: a contribution, not income.
/// # Errors
/// [`AccountFinding::OwnPocketIsTheOwners`] at `/into`, a closed day, an amount not above zero.
pub fn contribute(
    pen: &mut Pen<'_>,
    into: MoneyAccount,
    asked: &NewContribution,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    findings.keep(of_the_business(into).at("/into"));
    let amount = findings.keep(in_base(pen, into, asked.rate, asked.amount));
    findings.or_refuse()?;
    let amount = amount.unwrap_or(Money::zero(pen.base()));
    let text = "owner's contribution";
    let mut recording = Recording::new(Word::Accounts, "contribution", asked.date, text);
    let mut entry = pen.entry(asked.date, text);
    entry.debit(into.receiving(), amount, None);
    entry.credit(Account::OwnerContribution, amount, None);
    recording.post(entry)?;
    Ok(recording)
}

/// The owner takes money out: a draw, not an expense.
/// # Errors
/// [`AccountFinding::OwnPocketIsTheOwners`] at `/from`, a closed day, an amount not above zero.
pub fn draw(pen: &mut Pen<'_>, from: MoneyAccount, asked: &NewDraw) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    findings.keep(of_the_business(from).at("/from"));
    let amount = findings.keep(in_base(pen, from, asked.rate, asked.amount));
    findings.or_refuse()?;
    let amount = amount.unwrap_or(Money::zero(pen.base()));
    let text = "owner's draw";
    let mut recording = Recording::new(Word::Accounts, "draw", asked.date, text);
    let mut entry = pen.entry(asked.date, text);
    entry.debit(Account::Draw(Draw::Cash), amount, None);
    entry.credit(from.paying(), amount, None);
    recording.post(entry)?;
    Ok(recording)
}

/// Estimated tax goes to the tax office: a draw, labelled with the year it is for.
/// # Errors
/// [`AccountFinding::TaxYearAhead`] at `/tax_year`, a closed day, an amount not above zero.
/// # Source
/// Pub. 505 ch. 2: four payments, the last of them in January of the next year; from memory.
pub fn pay_tax(pen: &mut Pen<'_>, from: MoneyAccount, asked: &NewTaxPayment) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    if asked.tax_year > asked.date.year().saturating_add(1) {
        let why = AccountFinding::TaxYearAhead { tax_year: asked.tax_year, date: asked.date };
        findings.add(Refusal::new("/tax_year", why));
    }
    let amount = findings.keep(in_base(pen, from, asked.rate, asked.amount));
    findings.or_refuse()?;
    let amount = amount.unwrap_or(Money::zero(pen.base()));
    let text = match asked.period.as_deref().map(str::trim) {
        Some(period) if !period.is_empty() => {
            format!("estimated tax for {}, {period}", asked.tax_year)
        }
        _ => format!("estimated tax for {}", asked.tax_year),
    };
    let mut recording = Recording::new(Word::Accounts, "tax_payment", asked.date, text.clone());
    let mut entry = pen.entry(asked.date, text);
    let account = Account::Draw(Draw::TaxPayments);
    entry.debit_for_year(account, amount, TaxClass::OwnerTax, asked.tax_year);
    entry.credit(from.paying(), amount, None);
    recording.post(entry)?;
    recording.notes.push("The owner's own tax is a draw, not an expense of the business.".to_owned());
    Ok(recording)
}

fn in_base(
    pen: &Pen<'_>,
    account: MoneyAccount,
    rate: Option<Rate>,
    amount: Amount,
) -> Result<Money, Refusal> {
    positive_in_base(exchange_of(account, rate, pen)?, amount).at("/amount")
}
