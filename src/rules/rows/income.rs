//! What comes in: deals, their instalments and platforms' payouts.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::rules::ids::{DealId, EpisodeId, MoneyAccountId, PartyId, PromiseId, RecordId};
use crate::rules::money::Money;
use crate::rules::named::named;
use crate::rules::recording::CostObject;

#[derive(Clone, Debug)]
pub struct Deal {
    pub id: DealId,
    pub sponsor: PartyId,
    pub agency: Option<PartyId>,
    pub title: String,
    pub agreed_on: NaiveDate,
    /// Total agreed, in the deal's own currency, which the base value of its instalments can not be held
    /// against: the rate moves between them. Goods are apart.
    pub agreed: Money,
    /// Paid before the books began, in the deal's own currency.
    pub paid_before: Money,
}

/// An episode or project that a deal counts for, by weight.
#[derive(Clone, Debug)]
pub struct DealShare {
    pub deal: DealId,
    pub object: CostObject,
    pub weight: Decimal,
}

/// A part of a deal's total and the day it is due, in the deal's own currency.
#[derive(Clone, Debug)]
pub struct InstalmentDue {
    pub deal: DealId,
    pub due_on: NaiveDate,
    pub amount: Money,
    pub what: String,
}

/// What was promised to a sponsor by when.
#[derive(Clone, Debug)]
pub struct Promise {
    pub id: PromiseId,
    pub deal: DealId,
    pub what: String,
    pub episode: Option<EpisodeId>,
    pub due_on: NaiveDate,
}

/// That a promise was kept.
#[derive(Clone, Debug)]
pub struct PromiseKept {
    pub promise: PromiseId,
    pub kept_on: NaiveDate,
    /// Where that can be seen, in the owner's words or as an address.
    pub kept_where: Option<String>,
}

named! {
    /// Who handed the money over.
    pub enum ReceivedFrom { Sponsor => "sponsor", Agency => "agency" }
}

/// What was invoiced to a sponsor.
#[derive(Clone, Debug)]
pub struct Invoice {
    pub deal: DealId,
    pub invoiced_on: NaiveDate,
    pub what: String,
    /// In the deal's own currency.
    pub counts: Money,
    /// What it stands in the journal with; none on the cash basis, where an invoice posts nothing.
    pub booked: Option<Money>,
}

/// What an instalment pays of an invoice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settlement {
    /// The record of the invoice.
    pub invoice: RecordId,
    /// In the deal's own currency.
    pub counts: Money,
    /// The same at what the invoice was booked with; zero on the cash basis.
    pub booked: Money,
}

#[derive(Clone, Debug)]
pub struct Instalment {
    pub deal: DealId,
    /// The gross in the deal's own currency: what it counts against the total agreed.
    pub counts: Money,
    pub gross: Money,
    /// What of the gross was booked before with invoices it settles; zero on the cash basis.
    pub settled: Money,
    /// What the rate moved between invoices and their payment: positive for a gain.
    pub exchange_gain: Money,
    pub kept_by_agency: Money,
    pub kept_by_bank: Money,
    pub tax_withheld: Money,
    pub net: Money,
    pub received_from: ReceivedFrom,
    /// The day it was the owner's to have: the agency's day where an agency stood between.
    pub income_on: NaiveDate,
    pub received_on: NaiveDate,
}

/// What went back to a sponsor.
#[derive(Clone, Debug)]
pub struct Clawback {
    pub deal: DealId,
    pub paid_on: NaiveDate,
    /// In the deal's own currency.
    pub counts: Money,
    pub amount: Money,
}

#[derive(Clone, Debug)]
pub struct Payout {
    pub platform: PartyId,
    pub account: MoneyAccountId,
    /// The day its income belongs to: the day received on the cash basis, the day earned in accrual books.
    pub income_on: NaiveDate,
    pub received_on: NaiveDate,
    pub gross: Money,
    pub fees: Money,
    pub tax_withheld: Money,
    pub reserve_held: Money,
    pub reserve_released: Money,
    pub adjustments: Money,
    pub net: Money,
}
