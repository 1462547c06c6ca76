//! A deal is agreed.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::DealFinding;
use crate::rules::ids::{DealId, EpisodeId, PartyId, PromiseId};
use crate::rules::journal::Stream;
use crate::rules::money::{Amount, Currency, Money};
use crate::rules::objects::{ObjectShare, split_over_objects};
use crate::rules::recording::{AccountingMethod, CostObject, Pen, Recording, Word, words_of};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Deal, DealShare, InstalmentDue, Promise, Row};

/// A part of the total and the day it is due.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InstalmentAsked {
    pub due_on: NaiveDate,
    pub amount: Amount,
    /// What it is due for, such as "on signing".
    #[schema(min_length = 1, max_length = 300)]
    pub what: String,
}

/// Something promised to the sponsor.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PromiseAsked {
    /// What was promised, such as a minute in the middle of the episode.
    #[schema(min_length = 1, max_length = 500)]
    pub what: String,
    pub due_on: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
}

/// An agreement with a sponsor. Goods that come with it are gifts that name the deal.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDeal {
    /// The day it was agreed.
    pub date: NaiveDate,
    pub sponsor: PartyId,
    /// Who stands between, where somebody does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agency: Option<PartyId>,
    /// What you call the deal.
    #[schema(min_length = 1, max_length = 200)]
    pub title: String,
    /// Agreed in all, gross, before anybody keeps something of it.
    pub amount: Amount,
    /// The deal's own currency; the books' where it is left out. Rates come with the instalments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// When which part is due; the parts come to `amount`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub schedule: Vec<InstalmentAsked>,
    /// What was promised to the sponsor, by when.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub promises: Vec<PromiseAsked>,
    /// The episodes and projects it counts for.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub counts_for: Vec<ObjectShare>,
    /// What of `amount` was paid before the books began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_before: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Records a deal; nothing is posted before money moves.
/// # Errors
/// [`DealFinding`] where the schedule does not come to the total (both sums said) or more was paid than agreed;
/// empty words, amounts not above zero, shares that are not 100 %.
pub fn agree(pen: &mut Pen<'_>, asked: &NewDeal) -> Result<Recording, Refusal> {
    let currency = asked.currency.unwrap_or(pen.base());
    let mut findings = Findings::new();
    findings.keep(Currency::find_on(currency.code(), asked.date).at("/currency"));
    let title = findings.keep(words_of("title", &asked.title).at("/title"));
    let agreed = findings.keep(asked.amount.positive(currency).at("/amount"));
    let nothing = Money::zero(currency);
    let paid = asked.paid_before.map_or(Ok(nothing), |paid| paid.not_negative(currency));
    let paid_before = findings.keep(paid.at("/paid_before"));
    let id = DealId(pen.ids.next());
    let mut rows = Vec::new();
    rows.extend(findings.keep(schedule_of(id, asked, currency, agreed)).into_iter().flatten());
    rows.extend(findings.keep(promises_of(pen, id, asked)).into_iter().flatten());
    let objects = findings.keep(weights_of(asked, currency).at("/for")).unwrap_or_default();
    if let (Some(agreed), Some(paid)) = (agreed, paid_before)
        && paid.amount() > agreed.amount()
    {
        findings.add(Refusal::new("/paid_before", DealFinding::PaidBeforeBeyondTotal { paid, agreed }));
    }
    findings.or_refuse()?;
    let title = title.unwrap_or_default();
    let mut recording = Recording::new(Word::Deals, "deal", asked.date, format!("deal: {title}"));
    recording.party = Some(asked.sponsor);
    recording.streams.push(Stream::Sponsorship);
    recording.rows.push(Row::Deal(Deal {
        id,
        sponsor: asked.sponsor,
        agency: asked.agency,
        title,
        agreed_on: asked.date,
        agreed: agreed.unwrap_or(nothing),
        paid_before: paid_before.unwrap_or(nothing),
    }));
    for (object, weight) in objects {
        recording.about.push(object);
        recording.rows.push(Row::DealShare(DealShare { deal: id, object, weight }));
    }
    recording.rows.extend(rows);
    recording.notes.push(
        match pen.books.method {
            AccountingMethod::Cash => "Nothing is posted: on the cash basis a deal is income as it is paid.",
            AccountingMethod::Accrual => {
                "Nothing is posted yet: in these accrual books it is income as it is invoiced, or paid before."
            }
        }
        .to_owned(),
    );
    Ok(recording)
}

fn schedule_of(
    deal: DealId,
    asked: &NewDeal,
    currency: Currency,
    agreed: Option<Money>,
) -> Result<Vec<Row>, Refusal> {
    let mut findings = Findings::new();
    let mut rows = Vec::with_capacity(asked.schedule.len());
    let mut schedule = Money::zero(currency);
    for (place, due) in asked.schedule.iter().enumerate() {
        let at = format!("/schedule/{place}");
        let what = findings.keep(words_of("purpose", &due.what).at(&format!("{at}/what")));
        let amount = findings.keep(due.amount.positive(currency).at(&format!("{at}/amount")));
        if let (Some(what), Some(amount)) = (what, amount) {
            schedule = schedule.plus(amount).at(&at)?;
            rows.push(Row::InstalmentDue(InstalmentDue { deal, due_on: due.due_on, amount, what }));
        }
    }
    findings.or_refuse()?;
    match agreed {
        Some(agreed) if !rows.is_empty() && schedule != agreed => {
            Err(Refusal::new("/schedule", DealFinding::ScheduleDiffers { schedule, agreed }))
        }
        _ => Ok(rows),
    }
}

fn promises_of(pen: &mut Pen<'_>, deal: DealId, asked: &NewDeal) -> Result<Vec<Row>, Refusal> {
    let mut findings = Findings::new();
    let mut rows = Vec::with_capacity(asked.promises.len());
    for (place, promise) in asked.promises.iter().enumerate() {
        let at = format!("/promises/{place}/what");
        if let Some(what) = findings.keep(words_of("promise", &promise.what).at(&at)) {
            let (id, episode, due_on) = (PromiseId(pen.ids.next()), promise.episode, promise.due_on);
            rows.push(Row::Promise(Promise { id, deal, what, episode, due_on }));
        }
    }
    findings.or_refuse()?;
    Ok(rows)
}

/// The shares as weights, or one each; checked by splitting nothing over them.
fn weights_of(asked: &NewDeal, currency: Currency) -> Result<Vec<(CostObject, Decimal)>, Refusal> {
    let objects = split_over_objects(Money::zero(currency), &asked.counts_for)?;
    let weights = asked.counts_for.iter().map(|one| one.share.map_or(Decimal::ONE, |share| share.decimal()));
    Ok(objects.into_iter().map(|(object, _)| object).zip(weights).collect())
}
