//! A deal that was agreed, and perhaps paid in part, before the books.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{OpeningFinding, came_before};
use crate::rules::ids::{DealId, PartyId};
use crate::rules::journal::Stream;
use crate::rules::money::{Amount, Currency, Money};
use crate::rules::objects::{ObjectShare, split_over_objects};
use crate::rules::recording::{Pen, Recording, Word, words_of};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Deal, DealShare, Row};

/// A deal as it stood on the day the books begin.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DealOpening {
    pub sponsor: PartyId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agency: Option<PartyId>,
    pub title: String,
    pub agreed_on: NaiveDate,
    /// Agreed in all, gross.
    pub amount: Amount,
    /// What of it was paid before the books begin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_before: Option<Amount>,
    /// The deal's own currency; the books' where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// The episodes and projects it counts for.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub counts_for: Vec<ObjectShare>,
}

/// Nothing is posted: on the cash basis what is still to come is income when it is paid.
pub(super) fn state(pen: &mut Pen<'_>, date: NaiveDate, asked: &DealOpening) -> Result<Recording, Refusal> {
    let currency = asked.currency.unwrap_or(pen.base());
    let nothing = Money::zero(currency);
    let mut findings = Findings::new();
    let title = findings.keep(words_of("title", &asked.title).at("/title"));
    findings.keep(came_before(asked.agreed_on, date).at("/agreed_on"));
    let agreed = findings.keep(asked.amount.positive(currency).at("/amount"));
    let paid = asked.paid_before.map_or(Ok(nothing), |paid| paid.not_negative(currency));
    let paid = findings.keep(paid.at("/paid_before"));
    let objects = findings.keep(split_over_objects(nothing, &asked.counts_for).at("/for"));
    if let (Some(agreed), Some(paid)) = (agreed, paid)
        && paid.amount() > agreed.amount()
    {
        findings.add(Refusal::new("/paid_before", OpeningFinding::PaidBeyondAgreed { paid, agreed }));
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
    recording
        .notes
        .push(format!("Nothing is posted: {} of {agreed} is still to come.", agreed.minus(paid_before)?));
    Ok(recording)
}
