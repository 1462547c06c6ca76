//! Paying an invoice: in cash books that is the day everything counts, in accrual books the debt goes.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{MoneyAccountId, RecordId};
use super::super::journal::Account;
use super::super::money::{Exchange, Rate};
use super::super::recording::{AccountingMethod, Pen, Recording, Word};
use super::super::refusal::{At, Refusal};
use super::{NewPurchase, PaymentTime, PurchaseFacts, PurchaseFinding, bought};

/// The payment of an invoice, in full.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPurchasePayment {
    pub date: NaiveDate,
    pub paid_from: MoneyAccountId,
    /// For a foreign invoice in cash books: the rate of the day it is paid; the invoice's own where left out.
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
            let mut recording = Recording::new(Word::Purchases, "payment", new.date, "an invoice is paid");
            recording.party = purchase.party;
            let mut entry = pen.entry(new.date, "an invoice is paid");
            entry.debit(Account::Payables, owed, None);
            for account in &invoice.facts.accounts {
                entry.credit(account.paying(), owed, None);
            }
            recording.post(entry)?;
            recording
        }
    };
    recording.kind = "payment";
    recording.depends_on.push(invoice.record);
    Ok(recording)
}
