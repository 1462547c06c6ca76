//! What became of goods is decided later, or they go back.

use chrono::{Datelike, NaiveDate};

use super::book::{Goods, check_keeping};
use super::receive::{book, value_of};
use super::{GiftBecame, GiftFacts, GiftFinding, Keeping, NewFate, PostedGift};
use crate::rules::ids::SourceId;
use crate::rules::journal::Stream;
use crate::rules::money::{Exchange, Money};
use crate::rules::objects::{ObjectShare, split_over_objects};
use crate::rules::recording::{
    Attribution, CostObject, Movement, MovementKind, Pen, RecordFinding, Recording, Word,
};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Gift, GiftFate, GiftRelation, Row};
use crate::rules::vehicles::VehiclesAtRate;

/// Records a later decision about goods: their value, their fate, or that they went back.
///
/// Undecided or unvalued goods are taken in as on the day they came; where that day is closed by now, the entry
/// takes the day of the decision and keeps the tax year of the day they came. A loan that is kept becomes income of
/// the day it is kept. Goods that go back in the year they were income are reversed, with what the episodes were
/// given of them. What was taken in as a tool or a piece, or goes back in a later year, is refused with the way out:
/// the first would leave a thing on the books that is gone, the second is not for us to tell.
/// # Errors
/// [`GiftFinding`]; a day before the goods came; else as [`receive`](super::receive()).
/// # Source
/// Goods returned in the same year are no income: common practice, no source.
pub fn decide(
    pen: &mut Pen<'_>,
    facts: &GiftFacts,
    at_rate: &VehiclesAtRate,
    asked: &NewFate,
) -> Result<Recording, Refusal> {
    let gift = &facts.gift;
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    if asked.date < gift.received_on {
        let (what, began) = ("goods", gift.received_on);
        let why = RecordFinding::BeforeItBegan { what, began, date: asked.date };
        findings.add(Refusal::new("/date", why));
    }
    findings.keep(check_state(facts, asked).at("/fate"));
    findings.or_refuse()?;
    let text = format!("{}: {}", gift.what, words_for(asked.fate));
    let mut recording = Recording::new(Word::Gifts, "fate", asked.date, text);
    recording.party = Some(gift.party);
    recording.depends_on.push(facts.record);
    recording.depends_on.extend(facts.decided);
    let row = match &facts.posted {
        Some(posted) => give_back(pen, &mut recording, facts, posted, asked)?,
        None => settle(pen, &mut recording, facts, at_rate, asked)?,
    };
    recording.rows.push(Row::Gift(row));
    Ok(recording)
}

const fn words_for(fate: GiftFate) -> &'static str {
    match fate {
        GiftFate::KeptForBusiness => "kept for the business",
        GiftFate::KeptPersonally => "kept personally",
        GiftFate::Returned => "returned",
        GiftFate::GivenAway => "given away",
        GiftFate::Undecided => "undecided",
    }
}

fn check_state(facts: &GiftFacts, asked: &NewFate) -> Result<(), GiftFinding> {
    let gift = &facts.gift;
    let since = gift.fate_on.unwrap_or(gift.received_on);
    let is_kept =
        matches!(asked.fate, GiftFate::KeptForBusiness | GiftFate::KeptPersonally | GiftFate::GivenAway);
    match (asked.fate, gift.fate, &facts.posted) {
        (GiftFate::Undecided, ..) => Err(GiftFinding::StillUndecided),
        (_, GiftFate::Returned, _)
        | (_, GiftFate::GivenAway, Some(_))
        | (GiftFate::Returned, GiftFate::GivenAway, None) => {
            Err(GiftFinding::AlreadyGone { fate: gift.fate, since })
        }
        (GiftFate::Returned, _, Some(posted)) => check_return(gift, posted, asked.date),
        (_, fate, Some(_)) => Err(GiftFinding::AlreadyDecided { fate, since }),
        _ if is_kept && gift.relation == GiftRelation::Loan && gift.source.is_some() => {
            Err(GiftFinding::LoanIsATool)
        }
        _ if is_kept && gift.relation == GiftRelation::PersonalGift && gift.source.is_some() => {
            Err(GiftFinding::AlreadyDecided { fate: gift.fate, since })
        }
        _ => Ok(()),
    }
}

fn check_return(gift: &Gift, posted: &PostedGift, date: NaiveDate) -> Result<(), GiftFinding> {
    let income_of = posted.postings.first().map_or(gift.received_on.year(), |one| one.tax_year);
    if income_of != date.year() {
        return Err(GiftFinding::ReturnedInALaterYear { received_on: gift.received_on, date });
    }
    match posted.became {
        GiftBecame::Spent => Ok(()),
        became => Err(GiftFinding::ReturnOfWhatLivesOn { became }),
    }
}

/// The mirror of what was posted, and of what the episodes were given. It is an entry of its own and reverses none:
/// the record that took the goods in was right and stands.
fn give_back(
    pen: &Pen<'_>,
    recording: &mut Recording,
    facts: &GiftFacts,
    posted: &PostedGift,
    asked: &NewFate,
) -> Result<Gift, Refusal> {
    let mut back = pen.entry(asked.date, recording.text.clone());
    for one in &posted.postings {
        back.debit_for_year(one.account, one.amount.negated(), one.class, one.tax_year);
    }
    let entry = recording.post(back)?;
    for movement in &posted.movements {
        let (date, kind) = (asked.date, MovementKind::Returned);
        let amount = movement.amount.negated();
        recording.movements.push(Movement { source: movement.source, date, kind, amount, entry });
    }
    for given in &posted.attributions {
        let amount = given.amount.negated();
        recording.attributions.push(Attribution { date: asked.date, amount, ..given.clone() });
    }
    recording.notes.push(
        "The goods went back in the year they came: their income is reversed, and what the episodes were given of it."
            .to_owned(),
    );
    Ok(decision(facts, asked, facts.gift.value, facts.gift.source))
}

/// Goods that nothing was posted for yet.
fn settle(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    facts: &GiftFacts,
    at_rate: &VehiclesAtRate,
    asked: &NewFate,
) -> Result<Gift, Refusal> {
    let gift = &facts.gift;
    let as_before: Vec<_> = facts.shown_in.iter().copied().map(equal_share).collect();
    let shown_in = if asked.shown_in.is_empty() { &as_before } else { &asked.shown_in };
    let keeping = Keeping {
        fate: asked.fate,
        kept_as: asked.kept_as,
        tool: asked.tool.as_ref(),
        piece_name: asked.piece_name.as_deref(),
        piece_purpose: asked.piece_purpose,
        shown_in,
        stream: asked.stream.unwrap_or(Stream::Sponsorship),
    };
    let kept_loan = gift.relation == GiftRelation::Loan && asked.fate != GiftFate::Returned;
    let relation = if kept_loan { GiftRelation::Promotion } else { gift.relation };
    let came_on = if kept_loan { kept_since(gift, asked.date) } else { gift.received_on };
    let mut findings = Findings::new();
    findings.keep(check_keeping(&keeping, relation));
    let exchange = findings.keep(Exchange::on(asked.date, asked.currency, asked.rate, pen.base()));
    let given = findings.keep(value_of(asked.value, exchange)).flatten();
    let before = if kept_loan { None } else { gift.value };
    if given.is_some() && before.is_some() && given != before {
        findings.add(Refusal::new("/value", GiftFinding::ValuedAlready));
    }
    let objects = split_over_objects(Money::zero(pen.base()), shown_in).at("/for");
    let about = findings.keep(objects).unwrap_or_default();
    findings.or_refuse()?;
    let Some(exchange) = exchange else { return Err(GiftFinding::StillUndecided.into()) };
    recording.about = about.into_iter().map(|(object, _)| object).collect();
    let open = came_on >= pen.books.first_open;
    let posted_on = if open { came_on } else { asked.date };
    let goods = Goods { what: &gift.what, relation, came_on, posted_on, exchange, at_rate };
    let value = given.or(before);
    let booked = book(pen, recording, &goods, value, &keeping)?;
    if kept_loan {
        recording.notes.push("A loan that need not go back is income of the day it is kept.".to_owned());
    }
    if !open && !recording.entries.is_empty() {
        recording.notes.push(format!(
            "{came_on} is closed: the entry is dated {posted_on} and belongs to the tax year {}, whose figures change.",
            came_on.year()
        ));
    }
    if gift.relation == GiftRelation::Loan && gift.source.is_some() {
        recording
            .notes
            .push("The loan is on the books as a tool: record the tool's disposal as well.".to_owned());
    }
    Ok(decision(facts, asked, value, booked.or(gift.source)))
}

/// The day a loan became the owner's: of an earlier decision where only the value was still missing.
fn kept_since(gift: &Gift, date: NaiveDate) -> NaiveDate {
    match gift.fate {
        GiftFate::Undecided | GiftFate::Returned => date,
        _ => gift.fate_on.unwrap_or(date),
    }
}

fn equal_share(object: CostObject) -> ObjectShare {
    match object {
        CostObject::Episode(id) => ObjectShare { episode: Some(id), ..ObjectShare::default() },
        CostObject::Project(id) => ObjectShare { project: Some(id), ..ObjectShare::default() },
    }
}

fn decision(facts: &GiftFacts, asked: &NewFate, value: Option<Money>, source: Option<SourceId>) -> Gift {
    Gift {
        gift: Some(facts.record),
        value,
        evidence: asked.evidence.clone().or_else(|| facts.gift.evidence.clone()),
        fate: asked.fate,
        fate_on: Some(asked.date),
        source,
        ..facts.gift.clone()
    }
}
