//! The lines of a statement: what each brought in, for which episodes, and its share of what the platform kept.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::{Figures, NewPayout, PayoutFinding, PayoutLine, PayoutShare};
use crate::rules::journal::Stream;
use crate::rules::money::{Exchange, Money};
use crate::rules::objects::{ObjectAsked, split_like};
use crate::rules::recording::{CostObject, Label, MovementKind, Pen, Recording, Side, Source, SourceKind};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::split::split_by_largest_remainder;

/// One line in both currencies with what of it goes to whom, in the books' own.
pub(super) struct PaidLine {
    pub stream: Stream,
    pub own: Money,
    pub gross: Money,
    parts: Vec<(CostObject, Money)>,
}

pub(super) fn lines_of(asked: &NewPayout, exchange: Exchange) -> Result<Vec<PaidLine>, Refusal> {
    let mut findings = Findings::new();
    let without = asked.lines.iter().filter(|line| line.came_from.is_empty()).count();
    if without > 1 && asked.came_from.iter().any(|share| share.amount.is_some()) {
        findings.add(Refusal::new("/for", PayoutFinding::AmountsForSeveralLines { lines: without }));
    }
    let mut lines = Vec::with_capacity(asked.lines.len());
    for (place, line) in asked.lines.iter().enumerate() {
        lines.extend(findings.keep(line_of(asked, place, line, exchange)));
    }
    findings.or_refuse()?;
    Ok(lines)
}

fn line_of(
    asked: &NewPayout,
    place: usize,
    line: &PayoutLine,
    exchange: Exchange,
) -> Result<PaidLine, Refusal> {
    let at = format!("/lines/{place}");
    let own = line.gross.positive(exchange.currency).at(&format!("{at}/gross"))?;
    let gross = exchange.in_base(own).at(&format!("{at}/gross"))?;
    let (shares, at) = if line.came_from.is_empty() {
        (&asked.came_from, "/for".to_owned())
    } else {
        (&line.came_from, format!("{at}/for"))
    };
    let parts = parts_of(own, gross, shares, exchange).at(&at)?;
    Ok(PaidLine { stream: line.stream, own, gross, parts })
}

/// What each object takes of a gross; by amounts, the last weight is what none of them takes.
fn parts_of(
    own: Money,
    gross: Money,
    shares: &[PayoutShare],
    exchange: Exchange,
) -> Result<Vec<(CostObject, Money)>, Refusal> {
    if shares.is_empty() {
        return Ok(Vec::new());
    }
    let mut findings = Findings::new();
    let mut objects = Vec::with_capacity(shares.len());
    let mut amounts = Vec::with_capacity(shares.len());
    let mut weights = Vec::with_capacity(shares.len());
    for (place, share) in shares.iter().enumerate() {
        let named = ObjectAsked { episode: share.episode, project: share.project };
        objects.extend(findings.keep(named.object().at(&format!("/{place}"))));
        if let Some(amount) = share.amount {
            let amount = amount.not_negative(exchange.currency);
            amounts.extend(findings.keep(amount.at(&format!("/{place}/amount"))));
        }
        weights.extend(share.weight.map(|weight| weight.decimal()));
    }
    findings.or_refuse()?;
    let weights = match (amounts.len(), weights.len()) {
        (0, 0) => vec![Decimal::ONE; shares.len()],
        (0, given) if given == shares.len() => weights,
        (0, _) => return Err(PayoutFinding::SomeWeightsMissing.into()),
        (given, 0) if given == shares.len() => amounts_and_rest(own, &amounts)?,
        (_, 0) => return Err(PayoutFinding::SomeAmountsMissing.into()),
        _ => return Err(PayoutFinding::AmountAndWeight.into()),
    };
    let parts = split_by_largest_remainder(gross, &weights)?;
    Ok(objects.into_iter().zip(parts).collect())
}

fn amounts_and_rest(gross: Money, amounts: &[Money]) -> Result<Vec<Decimal>, Refusal> {
    let sum = Money::sum(gross.currency(), amounts.iter().copied())?;
    let rest = gross.minus(sum)?;
    if rest.is_negative() {
        return Err(PayoutFinding::AmountsBeyondGross { amounts: sum, gross }.into());
    }
    Ok(amounts.iter().chain(std::iter::once(&rest)).map(|part| part.amount()).collect())
}

/// Opens an income source and a fee source a line; a positive adjustment is one more income without fee.
pub(super) fn open_sources(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    asked: &NewPayout,
    lines: &[PaidLine],
    figures: &Figures,
    earned: (NaiveDate, Option<usize>),
) -> Result<(), Refusal> {
    let weights: Vec<_> = lines.iter().map(|line| line.gross.amount()).collect();
    let no_gross = weights.iter().all(Decimal::is_zero);
    let spread = |amount| {
        if no_gross {
            return Ok(vec![Money::zero(figures.gross.currency()); lines.len()]);
        }
        split_by_largest_remainder(amount, &weights)
    };
    let (fees, taken) = (spread(figures.fees)?, spread(figures.taken_back())?);
    for ((line, fee), taken) in lines.iter().zip(fees).zip(taken) {
        open_income(pen, recording, line, taken, earned)?;
        open_fee(pen, recording, Some(line), fee, earned)?;
    }
    if no_gross {
        open_fee(pen, recording, None, figures.fees, earned)?;
    }
    if figures.adjustments.is_positive() {
        let amount = figures.adjustments;
        let exchange = Exchange { currency: pen.base(), base: pen.base(), rate: Decimal::ONE };
        let by_amounts = asked.came_from.iter().any(|share| share.amount.is_some());
        let shares: &[PayoutShare] = if by_amounts { &[] } else { &asked.came_from };
        let parts = parts_of(amount, amount, shares, exchange).at("/for")?;
        let line = PaidLine { stream: Stream::Other, own: amount, gross: amount, parts };
        open_income(pen, recording, &line, Money::zero(pen.base()), earned)?;
    }
    Ok(())
}

fn open_income(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    line: &PaidLine,
    taken: Money,
    (date, entry): (NaiveDate, Option<usize>),
) -> Result<(), Refusal> {
    let id = pen.new_source();
    let text = format!("{}: {}", recording.text, line.stream);
    let source = Source { id, side: Side::Income, kind: SourceKind::Payout, text };
    recording.open_source(source, date, line.gross, entry);
    recording.moves(id, date, MovementKind::Returned, taken.negated(), entry);
    let label = Label::Stream(line.stream);
    let returned = split_like(taken, &line.parts, line.gross)?;
    for (object, part) in line.parts.iter().copied() {
        recording.attribute(id, date, object, label, part);
    }
    for (object, part) in returned {
        recording.attribute(id, date, object, label, part.negated());
    }
    Ok(())
}

fn open_fee(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    line: Option<&PaidLine>,
    fee: Money,
    (date, entry): (NaiveDate, Option<usize>),
) -> Result<(), Refusal> {
    if fee.is_zero() {
        return Ok(());
    }
    let id = pen.new_source();
    let text = format!("{}: fees", recording.text);
    recording.open_source(Source { id, side: Side::Fee, kind: SourceKind::Payout, text }, date, fee, entry);
    if let Some(line) = line {
        for (object, part) in split_like(fee, &line.parts, line.gross)? {
            recording.attribute(id, date, object, Label::Stream(line.stream), part);
        }
    }
    Ok(())
}
