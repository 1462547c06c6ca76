//! Loans: what was lent to the business and what goes back.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AccountFinding, exchange_of, of_the_business, open_charge, positive_in_base};
use crate::rules::ids::{MoneyAccountId, PartyId, RecordId};
use crate::rules::journal::{Account, ExpenseClass, TaxClass};
use crate::rules::money::{Amount, Currency, Exchange, Money, Rate};
use crate::rules::recording::{MoneyAccount, Pen, Recording, Side, Word};
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
    /// The loan that it pays back, by the record that took it in. A loan in a foreign currency is named, so that what the
    /// rate has moved since is a gain or a loss.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loan: Option<RecordId>,
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

/// A loan as it was taken in, and what was paid back of it since.
#[derive(Clone, Debug)]
pub struct LoanOwed {
    pub record: RecordId,
    pub loan: NewLoan,
    /// Of the account that received it.
    pub currency: Currency,
    /// The repayments that name it, but for those that were taken back.
    pub repaid: Vec<NewLoanRepayment>,
}

/// What a repayment says of the loan that it reduces.
#[derive(Clone, Debug)]
pub enum LoanRepaid {
    /// Nothing: the debt goes down by what was paid, at the rate of the day.
    Unnamed,
    Named(Box<LoanOwed>),
}

/// What a repayment comes to, in the books' currency.
#[derive(Clone, Copy, Debug)]
struct Parts {
    /// What the debt goes down by: as it was booked, where the loan is named.
    owed: Money,
    /// What was paid of it, at the rate of the day.
    principal: Money,
    interest: Money,
}

/// A loan is paid back: the principal reduces the debt, the interest is a cost of no episode. Where the loan is named,
/// the debt goes as it was booked, and what the rate moved in between is a gain or a loss of no episode.
/// # Errors
/// A closed day; an amount that is none; [`AccountFinding::NothingRepaid`] at `/principal`; of a loan that is named
/// another currency at `/from`, a day before it at `/date`, more than is left of it at `/principal`.
pub fn repay(
    pen: &mut Pen<'_>,
    from: MoneyAccount,
    which: &LoanRepaid,
    asked: &NewLoanRepayment,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    let parts = findings.keep(parts(pen, from, which, asked));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let Parts { owed, principal, interest } =
        parts.unwrap_or(Parts { owed: nothing, principal: nothing, interest: nothing });
    let text = "loan repaid";
    let mut recording = Recording::new(Word::Accounts, "loan_repayment", asked.date, text);
    recording.party = asked.lender;
    let gain = owed.minus(principal)?;
    let mut entry = pen.entry(asked.date, text);
    entry.debit(Account::Loans, owed, None);
    entry.debit(Account::Expense(ExpenseClass::Interest), interest, TaxClass::Interest);
    entry.exchange(gain);
    entry.credit(from.paying(), principal.plus(interest)?, None);
    let place = recording.post(entry)?;
    open_charge(&mut recording, pen, "interest on a loan", (asked.date, interest, place));
    if let LoanRepaid::Named(loan) = which {
        recording.depends_on.push(loan.record);
    }
    let text = "exchange between a loan and its repayment";
    if let Some((_, side)) = recording.open_exchange(pen, text, (asked.date, gain, place)) {
        let what = if side == Side::Income { "gain" } else { "loss" };
        recording.notes.push(format!(
            "it was booked at {owed} and paid back with {principal}: {} is an exchange {what}, of no episode",
            gain.absolute()
        ));
    }
    Ok(recording)
}

fn parts(
    pen: &Pen<'_>,
    from: MoneyAccount,
    which: &LoanRepaid,
    asked: &NewLoanRepayment,
) -> Result<Parts, Refusal> {
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
    let paid = exchange.in_base(principal).at("/principal")?;
    let owed = match which {
        LoanRepaid::Unnamed => paid,
        LoanRepaid::Named(loan) => booked(pen, from, loan, (asked.date, principal))?,
    };
    Ok(Parts { owed, principal: paid, interest: exchange.in_base(interest).at("/interest")? })
}

/// What a part of the loan was booked at. The parts of a loan that is paid back whole come to what it came in at, to the
/// cent, since each is counted from all that was paid back before it.
fn booked(
    pen: &Pen<'_>,
    from: MoneyAccount,
    owed: &LoanOwed,
    (date, principal): (NaiveDate, Money),
) -> Result<Money, Refusal> {
    let LoanOwed { loan, currency, repaid, .. } = owed;
    if from.currency != *currency {
        return Err(Refusal::new("/from", AccountFinding::LoanInAnotherCurrency { currency: *currency }));
    }
    if date < loan.date {
        return Err(Refusal::new("/date", AccountFinding::RepaidBeforeLent { date: loan.date }));
    }
    let exchange = Exchange::of(Some(*currency), loan.rate, pen.base())?;
    let before =
        repaid.iter().try_fold(Money::zero(*currency), |sum, one| sum.plus(exchange.part(one.principal)?));
    let before = before.at("/principal")?;
    let after = before.plus(principal)?;
    let left = loan.amount.positive(*currency).at("/principal")?.minus(after)?;
    if left.is_negative() {
        let left = left.plus(principal)?;
        return Err(Refusal::new("/principal", AccountFinding::MoreThanTheLoan { left }));
    }
    let (before, after) = (exchange.in_base(before), exchange.in_base(after));
    Ok(after.at("/principal")?.minus(before.at("/principal")?)?)
}
