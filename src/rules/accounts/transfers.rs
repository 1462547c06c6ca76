//! Money moved from one account to another.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AccountFinding, exchange_of, open_charge, positive_in_base};
use crate::rules::ids::MoneyAccountId;
use crate::rules::journal::{Account, ExpenseClass, TaxClass};
use crate::rules::money::{Amount, Money, Rate};
use crate::rules::recording::{MoneyAccount, MoneyAccountKind, Pen, Recording, Word};
use crate::rules::refusal::{At, Findings, Refusal};

/// Money moved from one account to another; a card paid off from the bank is one.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTransfer {
    pub date: NaiveDate,
    /// Where the money left.
    pub from: MoneyAccountId,
    /// Where it came to.
    pub to: MoneyAccountId,
    /// What was moved, in the currency of `from`, without the fee.
    pub amount: Amount,
    /// What the bank took for it on top of `amount`, in the currency of `from`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<Amount>,
    /// Between two currencies: what arrived, in the currency of `to`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Amount>,
    /// Base units for one unit of the currency of `from`, where neither account is in the books' currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Moves money between two accounts at its value in the books' currency.
///
/// Where one account is in that currency, its own sum is the value; exchange differences are not worked out.
/// The fee is a cost of no episode, class bank_fees.
/// # Errors
/// [`AccountFinding`] at `/to`, `/received` and `/rate`; a closed day; amounts that are not above zero.
pub fn transfer(
    pen: &mut Pen<'_>,
    from: MoneyAccount,
    to: MoneyAccount,
    asked: &NewTransfer,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    if from.id == to.id {
        findings.add(Refusal::new("/to", AccountFinding::SameAccount));
    }
    let sums = findings.keep(sums(pen, from, to, asked));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let (moved, fee) = sums.unwrap_or((nothing, nothing));
    let text = "transfer between accounts";
    let mut recording = Recording::new(Word::Accounts, "transfer", asked.date, text);
    let mut entry = pen.entry(asked.date, text);
    entry.debit(to.receiving(), moved, None);
    entry.debit(Account::Expense(ExpenseClass::BankFees), fee, TaxClass::BankFees);
    entry.credit(from.paying(), moved.plus(fee)?, None);
    let place = recording.post(entry)?;
    open_charge(&mut recording, pen, "fee for a transfer", (asked.date, fee, place));
    if from.kind == MoneyAccountKind::OwnPocket {
        recording
            .notes
            .push("The money came from the owner's own pocket: an owner's contribution.".to_owned());
    }
    if to.kind == MoneyAccountKind::OwnPocket {
        recording.notes.push("The money went to the owner's own pocket: an owner's draw.".to_owned());
    }
    Ok(recording)
}

/// What moved and what the bank took, both in the books' currency.
fn sums(
    pen: &Pen<'_>,
    from: MoneyAccount,
    to: MoneyAccount,
    asked: &NewTransfer,
) -> Result<(Money, Money), Refusal> {
    if from.currency == to.currency {
        if asked.received.is_some() {
            let why = AccountFinding::ReceivedInOneCurrency { currency: from.currency };
            return Err(Refusal::new("/received", why));
        }
        return at_rate(pen, from, asked);
    }
    let missing = AccountFinding::ReceivedMissing { from: from.currency, to: to.currency };
    let received = asked.received.ok_or_else(|| Refusal::new("/received", missing))?;
    let received = received.positive(to.currency).at("/received")?;
    if from.currency != pen.base() && to.currency != pen.base() {
        return at_rate(pen, from, asked);
    }
    if asked.rate.is_some() {
        return Err(Refusal::new("/rate", AccountFinding::RateNotNeeded { base: pen.base() }));
    }
    let out = asked.amount.positive(from.currency).at("/amount")?;
    let fee = fee_of(from, asked)?;
    if from.currency == pen.base() {
        return Ok((out, fee));
    }
    let fee = received.portion(fee.amount(), out.amount()).at("/fee")?;
    Ok((received, fee))
}

fn at_rate(pen: &Pen<'_>, from: MoneyAccount, asked: &NewTransfer) -> Result<(Money, Money), Refusal> {
    let exchange = exchange_of(from, asked.rate, pen)?;
    let moved = positive_in_base(exchange, asked.amount).at("/amount")?;
    Ok((moved, exchange.in_base(fee_of(from, asked)?).at("/fee")?))
}

fn fee_of(from: MoneyAccount, asked: &NewTransfer) -> Result<Money, Refusal> {
    let nothing = Ok(Money::zero(from.currency));
    asked.fee.map_or(nothing, |fee| fee.not_negative(from.currency)).at("/fee")
}
