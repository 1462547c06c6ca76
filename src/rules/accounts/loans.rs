//! Loans: what was lent to the business and what goes back.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AccountFinding, exchange_of, of_the_business, positive_in_base};
use crate::rules::ids::{MoneyAccountId, PartyId};
use crate::rules::journal::{Account, ExpenseClass, TaxClass};
use crate::rules::money::{Amount, Money, Rate};
use crate::rules::recording::{MoneyAccount, Pen, Recording, Side, Source, SourceKind, Word};
use crate::rules::refusal::{At, Findings, Refusal};

/// Money lent to the business.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLoan {
    pub date: NaiveDate,
    /// The account that received it.
    pub into: MoneyAccountId,
    /// In the account's currency.
    pub amount: Amount,
    /// Base units for one unit of the account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// Who lent it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lender: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A payment on a loan.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLoanRepayment {
    pub date: NaiveDate,
    /// The account that paid it.
    pub from: MoneyAccountId,
    /// What of it reduces the loan, in the account's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub principal: Option<Amount>,
    /// What of it is interest, in the account's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interest: Option<Amount>,
    /// Base units for one unit of the account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// Who lent it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lender: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A loan comes in: a debt, not income.
/// # Errors
/// [`AccountFinding::OwnPocketIsTheOwners`] at `/into`, a closed day, an amount not above zero.
pub fn borrow(pen: &mut Pen<'_>, into: MoneyAccount, asked: &NewLoan) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    findings.keep(of_the_business(into).at("/into"));
    let amount = findings.keep(
        exchange_of(into, asked.rate, pen)
            .and_then(|exchange| positive_in_base(exchange, asked.amount).at("/amount")),
    );
    findings.or_refuse()?;
    let amount = amount.unwrap_or(Money::zero(pen.base()));
    let text = "loan received";
    let mut recording = Recording::new(Word::Accounts, "loan", asked.date, text);
    recording.party = asked.lender;
    let mut entry = pen.entry(asked.date, text);
    entry.debit(into.receiving(), amount, None);
    entry.credit(Account::Loans, amount, None);
    recording.post(entry)?;
    Ok(recording)
}

/// A loan is paid back: the principal reduces the debt, the interest is a cost of no episode.
/// # Errors
/// [`AccountFinding::NothingRepaid`] at `/principal`, a closed day, negative amounts.
pub fn repay(pen: &mut Pen<'_>, from: MoneyAccount, asked: &NewLoanRepayment) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    let sums = findings.keep(parts(pen, from, asked));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let (principal, interest) = sums.unwrap_or((nothing, nothing));
    let text = "loan repaid";
    let mut recording = Recording::new(Word::Accounts, "loan_repayment", asked.date, text);
    recording.party = asked.lender;
    let mut entry = pen.entry(asked.date, text);
    entry.debit(Account::Loans, principal, None);
    entry.debit(Account::Expense(ExpenseClass::Interest), interest, TaxClass::Interest);
    entry.credit(from.paying(), principal.plus(interest)?, None);
    let place = recording.post(entry)?;
    if !interest.is_zero() {
        let source = Source {
            id: pen.new_source(),
            side: Side::Cost,
            kind: SourceKind::AccountCharge,
            text: "interest on a loan".to_owned(),
        };
        recording.open_source(source, asked.date, interest, place);
    }
    Ok(recording)
}

fn parts(pen: &Pen<'_>, from: MoneyAccount, asked: &NewLoanRepayment) -> Result<(Money, Money), Refusal> {
    let exchange = exchange_of(from, asked.rate, pen)?;
    let mut findings = Findings::new();
    let principal = findings.keep(exchange.part(asked.principal).at("/principal"));
    let interest = findings.keep(exchange.part(asked.interest).at("/interest"));
    findings.or_refuse()?;
    let nothing = Money::zero(exchange.currency);
    let (principal, interest) = (principal.unwrap_or(nothing), interest.unwrap_or(nothing));
    if principal.is_zero() && interest.is_zero() {
        return Err(Refusal::new("/principal", AccountFinding::NothingRepaid));
    }
    Ok((exchange.in_base(principal).at("/principal")?, exchange.in_base(interest).at("/interest")?))
}
