//! A part of a deal is invoiced, and what an instalment pays of it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Beyond, DealFacts, DealFinding, in_currency_of, weighted};
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, Stream, TaxClass};
use crate::rules::money::{Amount, Currency, Exchange, Money, Rate};
use crate::rules::objects::ObjectShare;
use crate::rules::recording::{
    AccountingMethod, Label, Pen, Recording, Side, Source, SourceKind, Word, words_of,
};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Invoice, Row, Settlement};

/// An invoice to the sponsor.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewInvoice {
    /// The day of the invoice: the day of the income in accrual books. On the cash basis it posts nothing.
    pub date: NaiveDate,
    /// Its number, or what it is for.
    #[schema(min_length = 1, max_length = 300)]
    pub what: String,
    /// Gross, before anybody keeps something of it.
    pub amount: Amount,
    /// The episodes and projects it counts for; the deal's own where it is left out.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub counts_for: Vec<ObjectShare>,
    /// The deal's where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`; needed for a foreign invoice of accrual books.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// Needed where it goes beyond the total agreed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beyond: Option<Beyond>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// An invoice with what is still open of it.
#[derive(Clone, Debug)]
pub struct InvoiceFacts {
    pub record: RecordId,
    pub invoiced_on: NaiveDate,
    pub what: String,
    /// In the deal's own currency.
    pub counts: Money,
    pub open: Money,
    /// What of it is still booked as a receivable; zero on the cash basis.
    pub open_booked: Money,
}

/// Records an invoice: income and a receivable in accrual books, nothing in the journal on the cash basis.
/// # Errors
/// [`DealFinding`]: more than agreed without `beyond`, another currency than the deal's, a day before it was agreed;
/// a closed day; an amount not above zero.
/// # Source
/// Pub. 538, Accrual Method (income when the right to it is fixed) and Cash Method, from memory.
pub fn invoice(pen: &mut Pen<'_>, facts: &DealFacts, asked: &NewInvoice) -> Result<Recording, Refusal> {
    let accrual = pen.books.method == AccountingMethod::Accrual;
    let currency = facts.deal.agreed.currency();
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    findings.keep(facts.since_agreed(asked.date));
    findings.keep(in_currency_of(&facts.deal, asked.currency));
    let what = findings.keep(words_of("purpose", &asked.what).at("/what")).unwrap_or_default();
    let counts = findings.keep(asked.amount.positive(currency).at("/amount"));
    if let Some(counts) = counts {
        findings.keep(within_total(facts, counts, asked.beyond));
    }
    let exchange = if accrual || asked.rate.is_some() {
        findings.keep(Exchange::of(Some(currency), asked.rate, pen.base()))
    } else {
        None
    };
    findings.or_refuse()?;
    let counts = counts.unwrap_or(Money::zero(currency));
    let booked = match exchange.filter(|_| accrual) {
        Some(exchange) => Some(exchange.in_base(counts).at("/amount")?),
        None => None,
    };
    let mut recording =
        Recording::new(Word::Deals, "invoice", asked.date, format!("invoice: {}, {what}", facts.deal.title));
    recording.party = Some(facts.deal.sponsor);
    recording.streams.push(Stream::Sponsorship);
    recording.depends_on.push(facts.record);
    match booked {
        Some(booked) => book(pen, &mut recording, facts, asked, booked)?,
        None => recording
            .notes
            .push("Nothing is posted: on the cash basis an invoice is income as it is paid.".to_owned()),
    }
    let (deal, invoiced_on) = (facts.deal.id, asked.date);
    recording.rows.push(Row::Invoice(Invoice { deal, invoiced_on, what, counts, booked }));
    Ok(recording)
}

fn book(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    facts: &DealFacts,
    asked: &NewInvoice,
    booked: Money,
) -> Result<(), Refusal> {
    let mut entry = pen.entry(recording.date, recording.text.clone());
    entry.debit(Account::SponsorReceivables, booked, None);
    entry.credit(Account::Income(Stream::Sponsorship), booked, TaxClass::Sponsorship);
    let place = recording.post(entry)?;
    let (id, date, text) = (pen.new_source(), recording.date, recording.text.clone());
    let source = Source { id, side: Side::Income, kind: SourceKind::Invoice, text };
    recording.open_source(source, date, booked, place);
    for (object, part) in weighted(booked, &asked.counts_for, &facts.objects).at("/for")? {
        recording.attribute(id, date, object, Label::Stream(Stream::Sponsorship), part);
    }
    recording.notes.push(format!("{booked} is income of {date}; what comes in on it later is none."));
    Ok(())
}

/// What was invoiced and what came in without an invoice may not be more than what was agreed.
fn within_total(facts: &DealFacts, counts: Money, beyond: Option<Beyond>) -> Result<(), Refusal> {
    let open = Money::sum(counts.currency(), facts.invoices.iter().map(|one| one.open))?;
    let (agreed, so_far) = (facts.deal.agreed, facts.gross_so_far.plus(open)?);
    let over = so_far.plus(counts)?.minus(agreed)?;
    match beyond {
        None if over.is_positive() => {
            Err(Refusal::new("/amount", DealFinding::InvoicedBeyondTotal { agreed, so_far, counts, over }))
        }
        _ => Ok(()),
    }
}

/// What a gross, in the deal's own currency, pays of the invoices that are there on its day, the earliest first.
/// # Errors
/// Sums that are too large.
pub(super) fn settle(
    invoices: &[InvoiceFacts],
    gross: Money,
    date: NaiveDate,
) -> Result<Vec<Settlement>, Refusal> {
    let mut left = gross;
    let mut settled = Vec::new();
    let mut due: Vec<_> =
        invoices.iter().filter(|one| one.invoiced_on <= date && one.open.is_positive()).collect();
    due.sort_by_key(|one| (one.invoiced_on, one.record));
    for one in due {
        let counts = one.open.at_most(left);
        if !counts.is_positive() {
            break;
        }
        left = left.minus(counts)?;
        let booked = if counts == one.open {
            one.open_booked
        } else {
            one.open_booked.portion(counts.amount(), one.open.amount())?
        };
        settled.push(Settlement { invoice: one.record, counts, booked });
    }
    Ok(settled)
}
