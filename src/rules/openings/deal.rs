//! A deal that was agreed, and perhaps paid in part, before the books.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{OpeningFinding, came_before, post};
use crate::rules::ids::{DealId, PartyId};
use crate::rules::journal::{Account, Stream};
use crate::rules::money::{Amount, Currency, Exchange, Money, Rate};
use crate::rules::objects::{ObjectShare, split_over_objects};
use crate::rules::recording::{AccountingMethod, Pen, Recording, Word, words_of};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Deal, DealShare, Invoice, Row};

/// A deal as it stood on the day the books begin.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DealOpening {
    pub sponsor: PartyId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agency: Option<PartyId>,
    #[schema(min_length = 1, max_length = 200)]
    pub title: String,
    pub agreed_on: NaiveDate,
    /// Agreed in all, gross.
    pub amount: Amount,
    /// What of it was paid before the books begin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_before: Option<Amount>,
    /// What of it was invoiced before the books begin and is not paid yet: a receivable of accrual books, whose income
    /// was that of earlier years.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub invoiced_before: Option<Amount>,
    /// Base units for one unit of a foreign `currency`, as the invoices were booked; with `invoiced_before` of accrual
    /// books.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// The deal's own currency; the books' where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// The episodes and projects it counts for.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub counts_for: Vec<ObjectShare>,
}

/// Nothing is posted on the cash basis: what is still to come is income when it is paid. In accrual books what was
/// invoiced before stands as a receivable against opening equity.
pub(super) fn state(pen: &mut Pen<'_>, date: NaiveDate, asked: &DealOpening) -> Result<Recording, Refusal> {
    let currency = asked.currency.unwrap_or(pen.base());
    let nothing = Money::zero(currency);
    let mut findings = Findings::new();
    let title = findings.keep(words_of("title", &asked.title).at("/title"));
    findings.keep(came_before(asked.agreed_on, date).at("/agreed_on"));
    let agreed = findings.keep(asked.amount.positive(currency).at("/amount"));
    let paid = asked.paid_before.map_or(Ok(nothing), |paid| paid.not_negative(currency));
    let paid = findings.keep(paid.at("/paid_before"));
    let invoiced = asked.invoiced_before.map_or(Ok(nothing), |invoiced| invoiced.not_negative(currency));
    let invoiced = findings.keep(invoiced.at("/invoiced_before")).unwrap_or(nothing);
    let accrual = pen.books.method == AccountingMethod::Accrual;
    let booked = if accrual && invoiced.is_positive() {
        findings.keep(
            Exchange::of(Some(currency), asked.rate, pen.base())
                .and_then(|exchange| exchange.in_base(invoiced).at("/invoiced_before")),
        )
    } else {
        None
    };
    let objects = findings.keep(split_over_objects(nothing, &asked.counts_for).at("/for"));
    if let (Some(agreed), Some(paid)) = (agreed, paid)
        && paid.amount() > agreed.amount()
    {
        findings.add(Refusal::new("/paid_before", OpeningFinding::PaidBeyondAgreed { paid, agreed }));
    } else if let (Some(agreed), Some(paid)) = (agreed, paid)
        && paid.plus(invoiced)?.amount() > agreed.amount()
    {
        let why = OpeningFinding::InvoicedBeyondAgreed { paid, invoiced, agreed };
        findings.add(Refusal::new("/invoiced_before", why));
    }
    findings.or_refuse()?;
    let (title, id) = (title.unwrap_or_default(), DealId(pen.ids.next()));
    let (agreed, paid_before) = (agreed.unwrap_or(nothing), paid.unwrap_or(nothing));
    let text = format!("opening position: {title}");
    let mut recording = Recording::new(Word::Openings, "deal", date, text);
    recording.party = Some(asked.sponsor);
    recording.streams.push(Stream::Sponsorship);
    let agreed_on = asked.agreed_on;
    let (sponsor, agency) = (asked.sponsor, asked.agency);
    recording.rows.push(Row::Deal(Deal { id, sponsor, agency, title, agreed_on, agreed, paid_before }));
    let weights = asked.counts_for.iter().map(|one| one.share.map_or(Decimal::ONE, |share| share.decimal()));
    for ((object, _), weight) in objects.unwrap_or_default().into_iter().zip(weights) {
        recording.about.push(object);
        recording.rows.push(Row::DealShare(DealShare { deal: id, object, weight }));
    }
    if invoiced.is_positive() {
        let (deal, what) = (id, "invoiced before the books".to_owned());
        let invoice = Invoice { deal, invoiced_on: date, what, counts: invoiced, booked };
        recording.rows.push(Row::Invoice(invoice));
    }
    let to_come = agreed.minus(paid_before)?;
    match booked {
        Some(booked) => {
            post(pen, &mut recording, &[(Account::SponsorReceivables, booked)])?;
            recording.notes.push(format!(
                "{to_come} of {agreed} is still to come; {booked} of it stands as a receivable and was income before."
            ));
        }
        None => recording.notes.push(format!("Nothing is posted: {to_come} of {agreed} is still to come.")),
    }
    Ok(recording)
}
