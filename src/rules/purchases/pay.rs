//! Paying an invoice: in cash books that is the day everything counts, in accrual books the debt goes.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{MoneyAccountId, RecordId};
use super::super::journal::Account;
use super::super::money::{Exchange, Money, Rate};
use super::super::recording::{AccountingMethod, Pen, Recording, Side, Word};
use super::super::refusal::{At, Refusal};
use super::{NewPurchase, PaymentTime, PurchaseFacts, PurchaseFinding, bought};

/// The payment of an invoice, in full.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPurchasePayment {
    pub date: NaiveDate,
    pub paid_from: MoneyAccountId,
    /// For a foreign invoice: the rate of the day it is paid; the invoice's own where left out. In accrual books what it
    /// moved since the invoice is an exchange gain or loss.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// An invoice and what became of it.
#[derive(Clone, Debug)]
pub struct PurchaseToPay {
    pub record: RecordId,
    pub purchase: NewPurchase,
    pub paid_by: Option<RecordId>,
    pub facts: PurchaseFacts,
}

/// # Errors
/// [`PurchaseFinding::PaidAlready`], [`PurchaseFinding::NothingToPay`], [`PurchaseFinding::BeforeThePurchase`].
pub fn pay(
    pen: &mut Pen<'_>,
    invoice: &PurchaseToPay,
    new: &NewPurchasePayment,
) -> Result<Recording, Refusal> {
    let purchase = &invoice.purchase;
    if purchase.payment != Some(PaymentTime::Later) {
        return Err(PurchaseFinding::NothingToPay.into());
    }
    if invoice.paid_by.is_some() {
        return Err(PurchaseFinding::PaidAlready.into());
    }
    pen.open_day(new.date)?;
    if new.date < purchase.date {
        let finding = PurchaseFinding::BeforeThePurchase { bought: purchase.date };
        return Err(Refusal::new("/date", finding));
    }
    let exchange = Exchange::of(purchase.currency, new.rate.or(purchase.rate), pen.base())?;
    let total = purchase.total.not_negative(exchange.currency).at("/total")?;
    let mut recording = match pen.books.method {
        AccountingMethod::Cash => {
            let paid = NewPurchase { rate: new.rate.or(purchase.rate), ..purchase.clone() };
            let credits: Vec<_> =
                invoice.facts.accounts.iter().map(|account| (account.paying(), total)).collect();
            bought(pen, &invoice.facts, &paid, new.date, &credits)?
        }
        AccountingMethod::Accrual => {
            let owed = Exchange::of(purchase.currency, purchase.rate, pen.base())?.in_base(total)?;
            settled(pen, invoice, new.date, (owed, exchange.in_base(total)?))?
        }
    };
    recording.kind = "payment";
    recording.depends_on.push(invoice.record);
    Ok(recording)
}

/// The debt goes as it was booked, the account pays by the rate of the day, and what the rate moved in between is a gain
/// or a loss. It belongs to no episode: how it is spread is the owner's to say.
fn settled(
    pen: &mut Pen<'_>,
    invoice: &PurchaseToPay,
    date: NaiveDate,
    (owed, paid): (Money, Money),
) -> Result<Recording, Refusal> {
    const TEXT: &str = "an invoice is paid";
    let mut recording = Recording::new(Word::Purchases, "payment", date, TEXT);
    recording.party = invoice.purchase.party;
    let gain = owed.minus(paid)?;
    let mut entry = pen.entry(date, TEXT);
    entry.debit(Account::Payables, owed, None);
    for account in &invoice.facts.accounts {
        entry.credit(account.paying(), paid, None);
    }
    entry.exchange(gain);
    let posted = recording.post(entry)?;
    let text = "exchange between an invoice and its payment";
    let Some((_, side)) = recording.open_exchange(pen, text, (date, gain, posted)) else {
        return Ok(recording);
    };
    let what = if side == Side::Income { "gain" } else { "loss" };
    recording.notes.push(format!(
        "it was booked at {owed} and paid with {paid}: {} is an exchange {what}, of no episode",
        gain.absolute()
    ));
    Ok(recording)
}
