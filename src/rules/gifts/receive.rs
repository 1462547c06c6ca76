//! Goods are received.

use super::book::{Goods, check_keeping, take_in_for_nothing, take_into_income};
use super::{GiftFinding, Keeping, NewGift};
use crate::rules::ids::{RecordId, SourceId};
use crate::rules::money::{Amount, Exchange, Money};
use crate::rules::objects::split_over_objects;
use crate::rules::recording::{Pen, Recording, Word, words_of};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Deal, Gift, GiftFate, GiftRelation, Row};
use crate::rules::vehicles::VehiclesAtRate;

/// Records goods received; `deal` is the one the request names, with its record.
///
/// Goods for promotion, and brand goods nobody asked for, are income at their value on the day they came, once they
/// are valued and their fate is decided. While undecided nothing is posted: until then it is open whether they will
/// be the owner's, and when they are, the income is dated back to the day they came. A loan and a private present post
/// nothing; kept as a tool they are a tool of no basis.
/// # Errors
/// [`GiftFinding`] where fate, relation and what they are kept as do not fit; the terms of the tool under `/tool`;
/// a closed day; shares that are not 100 %.
/// # Source
/// Pub. 525, Bartering: seen. Goods sent for promotion are pay, a loan that goes back is not: from memory.
pub fn receive(
    pen: &mut Pen<'_>,
    deal: Option<&(Deal, RecordId)>,
    at_rate: &VehiclesAtRate,
    asked: &NewGift,
) -> Result<Recording, Refusal> {
    let keeping = Keeping::from(asked);
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    let what = findings.keep(words_of("goods", &asked.what).at("/what"));
    findings.keep(check_keeping(&keeping, asked.relation));
    findings.keep(check_relation(deal.map(|(deal, _)| deal), asked, keeping.fate));
    let exchange = findings.keep(Exchange::on(asked.date, asked.currency, asked.rate, pen.base()));
    let value = findings.keep(value_of(asked.value, exchange));
    let objects = split_over_objects(Money::zero(pen.base()), &asked.shown_in).at("/for");
    let about = findings.keep(objects).unwrap_or_default();
    findings.or_refuse()?;
    let (Some(what), Some(exchange)) = (what, exchange) else {
        return Err(GiftFinding::StillUndecided.into());
    };
    let value = value.flatten();
    let mut recording = Recording::new(Word::Gifts, "gift", asked.date, format!("received: {what}"));
    recording.party = Some(asked.party);
    recording.depends_on.extend(deal.map(|(_, record)| *record));
    recording.about = about.into_iter().map(|(object, _)| object).collect();
    let (came_on, posted_on) = (asked.date, asked.date);
    let goods = Goods { what: &what, relation: asked.relation, came_on, posted_on, exchange, at_rate };
    let booked = book(pen, &mut recording, &goods, value, &keeping)?;
    recording.rows.push(Row::Gift(Gift {
        gift: None,
        party: asked.party,
        what: what.clone(),
        relation: asked.relation,
        received_on: asked.date,
        value,
        evidence: asked.evidence.clone(),
        fate: keeping.fate,
        fate_on: (keeping.fate != GiftFate::Undecided).then_some(asked.date),
        source: booked,
        deal: asked.deal,
    }));
    Ok(recording)
}

fn check_relation(deal: Option<&Deal>, asked: &NewGift, fate: GiftFate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    let kept = matches!(fate, GiftFate::KeptPersonally | GiftFate::GivenAway);
    if asked.relation == GiftRelation::Loan && kept {
        findings.add(Refusal::new("/fate", GiftFinding::LoanIsNotKept { fate }));
    }
    if deal.is_some_and(|deal| deal.sponsor != asked.party && deal.agency != Some(asked.party)) {
        findings.add(Refusal::new("/deal", GiftFinding::NotOfTheDeal));
    }
    findings.or_refuse()
}

pub(super) fn value_of(value: Option<Amount>, exchange: Option<Exchange>) -> Result<Option<Money>, Refusal> {
    match (value, exchange) {
        (Some(value), Some(exchange)) => {
            let own = value.positive(exchange.currency).at("/value")?;
            Ok(Some(exchange.in_base(own).at("/value")?))
        }
        _ => Ok(None),
    }
}

/// Writes whatever the goods post, and says in words what was done and what is still asked.
pub(super) fn book(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    goods: &Goods<'_>,
    value: Option<Money>,
    keeping: &Keeping<'_>,
) -> Result<Option<SourceId>, Refusal> {
    let taxable = matches!(goods.relation, GiftRelation::Promotion | GiftRelation::UnsolicitedBrandGoods);
    let kept = !matches!(keeping.fate, GiftFate::Undecided | GiftFate::Returned);
    let booked = match (taxable && kept, value) {
        (true, Some(value)) => {
            let booked = take_into_income(pen, recording, goods, value, keeping)?;
            recording.notes.push(format!(
                "The goods are income at their value, {value}, of {}; that value is what they count for from now on.",
                goods.came_on
            ));
            booked
        }
        (true, None) => {
            recording.notes.push(
                "Nothing is posted before the goods are valued; give the value with POST /v1/gifts/{id}/fate."
                    .to_owned(),
            );
            None
        }
        (false, _) if kept => {
            recording.notes.push(no_income(goods.relation).to_owned());
            take_in_for_nothing(pen, recording, goods, keeping)?
        }
        (false, _) => None,
    };
    recording.notes.extend(fate_note(taxable, keeping.fate).map(str::to_owned));
    if value.is_none() && taxable && keeping.fate != GiftFate::Returned {
        recording.notes.push("Question to the preparer: the goods are not valued.".to_owned());
    }
    if goods.relation == GiftRelation::UnsolicitedBrandGoods && kept {
        recording.notes.push(
            "Question to the preparer: a brand sent these unasked; they are treated like goods for promotion."
                .to_owned(),
        );
    }
    Ok(booked)
}

const fn no_income(relation: GiftRelation) -> &'static str {
    match relation {
        GiftRelation::Loan => "A loan is not income and has no basis: nothing is posted.",
        _ => "A private present is not income and has no basis for the business: nothing is posted.",
    }
}

const fn fate_note(taxable: bool, fate: GiftFate) -> Option<&'static str> {
    match (taxable, fate) {
        (true, GiftFate::Undecided) => Some(
            "Nothing is posted before it is decided what becomes of the goods; say so with \
             POST /v1/gifts/{id}/fate, and the income is dated the day they came.",
        ),
        (_, GiftFate::Returned) => Some("What goes back is not income: nothing is posted."),
        (true, GiftFate::KeptPersonally) => {
            Some("The owner took the goods: they are income all the same, and no cost of an episode.")
        }
        (true, GiftFate::GivenAway) => Some(
            "Goods given away to viewers are advertising; that is common practice, not a published rule.",
        ),
        _ => None,
    }
}
