//! How a deal stands: what came in and what was kept of it, what is still open, what was promised.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::{DealFacts, InvoiceFacts, PromiseStanding};
use crate::rules::ids::{DealId, EpisodeId, PartyId, PromiseId, RecordId};
use crate::rules::money::{Currency, Money, MoneyFinding};
use crate::rules::rows::{Clawback, Instalment, InstalmentDue};

/// A deal with everything that stands on it.
#[derive(Clone, Debug)]
pub struct DealStandingFacts {
    pub deal: DealFacts,
    pub instalments: Vec<Instalment>,
    pub clawbacks: Vec<Clawback>,
    /// In any order.
    pub schedule: Vec<InstalmentDue>,
    pub promises: Vec<PromiseStanding>,
}

/// How a deal stands. Sums are in the deal's currency, those of `kept` in the books'.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct DealStanding {
    pub id: DealId,
    /// The record that agreed it, or stated it as an opening position.
    pub record: RecordId,
    pub title: String,
    pub sponsor: PartyId,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agency: Option<PartyId>,
    pub agreed_on: NaiveDate,
    pub currency: Currency,
    pub agreed: Money,
    /// Gross that came in, with what was paid before the books began, less what went back.
    pub paid: Money,
    /// What of `agreed` is still to come; zero where more came in.
    pub open: Money,
    pub went_back: Money,
    pub kept: DealKept,
    /// The earliest first, paid or not.
    pub invoices: Vec<InvoiceOpen>,
    /// Parts of the schedule that are not paid in full, the earliest first.
    pub open_instalments: Vec<InstalmentOpen>,
    /// The earliest due first, kept or not.
    pub promises: Vec<PromiseDue>,
}

/// What came in on a deal and who kept what of it, in the books' currency.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct DealKept {
    pub gross: Money,
    pub by_agency: Money,
    pub by_bank: Money,
    pub tax_withheld: Money,
    /// What reached the accounts.
    pub net: Money,
}

/// An invoice and what is still to come on it, in the deal's currency.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct InvoiceOpen {
    pub record: RecordId,
    /// The day of the invoice.
    pub invoiced_on: NaiveDate,
    /// What was invoiced, as the invoice says.
    pub what: String,
    pub amount: Money,
    pub open: Money,
}

impl From<&InvoiceFacts> for InvoiceOpen {
    fn from(one: &InvoiceFacts) -> Self {
        let (record, invoiced_on, what) = (one.record, one.invoiced_on, one.what.clone());
        Self { record, invoiced_on, what, amount: one.counts, open: one.open }
    }
}

/// A part of the schedule that is not paid in full.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct InstalmentOpen {
    pub due_on: NaiveDate,
    /// What the part is for, as the schedule says.
    pub what: String,
    pub amount: Money,
    /// What of `amount` is still to come.
    pub open: Money,
}

/// Something promised to the sponsor.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PromiseDue {
    /// Its id, to say that it was kept: `POST /v1/deals/{id}/promises/{promise}/kept`.
    pub id: PromiseId,
    pub due_on: NaiveDate,
    /// What was promised.
    pub what: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    /// Left out while it is not kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept_on: Option<NaiveDate>,
    /// Where that can be seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept_where: Option<String>,
    /// The record that says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept_record: Option<RecordId>,
}

impl From<&PromiseStanding> for PromiseDue {
    fn from(one: &PromiseStanding) -> Self {
        let (promise, kept) = (&one.promise, one.kept.as_ref());
        Self {
            id: promise.id,
            due_on: promise.due_on,
            what: promise.what.clone(),
            episode: promise.episode,
            kept_on: kept.map(|(_, kept)| kept.kept_on),
            kept_where: kept.and_then(|(_, kept)| kept.kept_where.clone()),
            kept_record: kept.map(|(record, _)| *record),
        }
    }
}

/// Works out how a deal stands. What came in pays the schedule from its earliest day on, whichever part it was
/// meant for.
/// # Errors
/// Sums that are too large.
/// # Source
/// Common practice, no source.
pub fn standing(facts: &DealStandingFacts, base: Currency) -> Result<DealStanding, MoneyFinding> {
    let deal = &facts.deal.deal;
    let (currency, paid) = (deal.agreed.currency(), facts.deal.gross_so_far);
    let counts = counted(paid);
    let mut promises: Vec<_> = facts.promises.iter().map(PromiseDue::from).collect();
    promises.sort_by_key(|one| one.due_on);
    Ok(DealStanding {
        id: deal.id,
        record: facts.deal.record,
        title: deal.title.clone(),
        sponsor: deal.sponsor,
        agency: deal.agency,
        agreed_on: deal.agreed_on,
        currency,
        agreed: deal.agreed,
        paid,
        open: still_open(deal.agreed, paid)?,
        went_back: Money::sum(currency, facts.clawbacks.iter().map(|one| one.counts))?,
        kept: kept(facts, base)?,
        invoices: facts.deal.invoices.iter().map(InvoiceOpen::from).collect(),
        open_instalments: open_instalments(&facts.schedule, counts)?,
        promises,
    })
}

/// What of the sum agreed is still to come, where `paid` came in gross; zero where more came in.
/// # Errors
/// Sums that are too large.
pub fn still_open(agreed: Money, paid: Money) -> Result<Money, MoneyFinding> {
    agreed.minus(counted(paid).at_most(agreed))
}

/// At another rate more can go back than came in, and the sponsor owes no more than what was agreed.
fn counted(paid: Money) -> Money {
    if paid.is_negative() { Money::zero(paid.currency()) } else { paid }
}

fn kept(facts: &DealStandingFacts, base: Currency) -> Result<DealKept, MoneyFinding> {
    let sum = |of: fn(&Instalment) -> Money| Money::sum(base, facts.instalments.iter().map(of));
    Ok(DealKept {
        gross: sum(|one| one.gross)?,
        by_agency: sum(|one| one.kept_by_agency)?,
        by_bank: sum(|one| one.kept_by_bank)?,
        tax_withheld: sum(|one| one.tax_withheld)?,
        net: sum(|one| one.net)?,
    })
}

fn open_instalments(schedule: &[InstalmentDue], paid: Money) -> Result<Vec<InstalmentOpen>, MoneyFinding> {
    let mut due: Vec<_> = schedule.iter().collect();
    due.sort_by_key(|one| one.due_on);
    let mut left = paid;
    let mut still = Vec::new();
    for one in due {
        let covered = one.amount.at_most(left);
        left = left.minus(covered)?;
        let open = one.amount.minus(covered)?;
        if open.is_positive() {
            still.push(InstalmentOpen {
                due_on: one.due_on,
                what: one.what.clone(),
                amount: one.amount,
                open,
            });
        }
    }
    Ok(still)
}
