//! A lower price afterwards: money comes back for stock that stays, or that is used up already. What is on the shelf is
//! worth less, what was issued cost less where it went, and what was deducted in an earlier year is income.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;

use super::PurchaseFinding;
use super::give_back::{GivenBack, LineBought, LotBought};
use crate::rules::journal::{Account, EntryDraft, Stream, TaxClass};
use crate::rules::money::{Money, MoneyFinding};
use crate::rules::objects::TargetAsked;
use crate::rules::pieces::PieceInWork;
use crate::rules::recording::{
    Category, CostObject, Label, MovementKind, Pen, RecordFinding, Recording, Side, Source, SourceKind,
};
use crate::rules::refusal::{At, Refusal};
use crate::rules::rows::{LotMove, LotMoveKind, LotStanding, PiecePurpose, Row, Target};
use crate::rules::split::split_by_largest_remainder;
use crate::rules::treatment::Treatment;

/// Who carries some of a lot's cost.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bearer {
    place: Place,
    treatment: Treatment,
    /// The year in which it was deducted, where it was.
    deducted_in: Option<i32>,
    cost: Money,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    Shelf,
    Out(Target),
}

/// What of the refund lowers costs, and where.
#[derive(Default)]
struct Lowered {
    objects: BTreeMap<CostObject, Money>,
    /// Of the lot's own cost, that of objects included.
    of_lot: Option<Money>,
    /// Of what left the shelf for nobody.
    for_nobody: Option<Money>,
    /// All that leaves the lot's layer, pieces included.
    of_layer: Option<Money>,
    /// What was deducted in an earlier year, by whom it is income of.
    income: Vec<(Option<CostObject>, Money)>,
}

fn add(sum: &mut Option<Money>, amount: Money) -> Result<(), MoneyFinding> {
    *sum = Some(sum.map_or(Ok(amount), |sum| sum.plus(amount))?);
    Ok(())
}

/// Splits the refund over the shelf and everything that was issued by what each carries of the lot's cost, or over what one
/// of them carries where the request names it; left-over cents to the largest remainders.
/// # Errors
/// [`PurchaseFinding`]: more than they carry; a day before the last that moved any of it; nothing used where it is said.
/// # Source
/// A refund of what was bought lowers its cost, that of an earlier year's deduction is income: IRC 111, from memory.
pub(super) fn lower_price(
    pen: &mut Pen<'_>,
    (found, lot): (&LineBought, &LotBought),
    date: NaiveDate,
    given: &GivenBack,
    amount: Money,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    if given.quantity.is_some() || given.unit.is_some() {
        return Err(PurchaseFinding::QuantityOfKept).at("/quantity");
    }
    let moved = lot.moves.iter().map(|(_, row)| row.date).max();
    if let Some(last) = moved.max(found.last_given).filter(|last| date < *last) {
        return Err(PurchaseFinding::BeforeItWasGiven { last, date }.into());
    }
    let bearers = bearers(lot, given)?;
    let there = Money::sum(amount.currency(), bearers.iter().map(|bearer| bearer.cost))?;
    if amount.amount() > there.amount() {
        return Err(PurchaseFinding::MoreThanBought { asked: amount, left: there }).at("/amount");
    }
    let weights: Vec<Decimal> = bearers.iter().map(|bearer| bearer.cost.amount()).collect();
    let parts = split_by_largest_remainder(amount, &weights)?;
    let mut lowered = Lowered::default();
    for (bearer, part) in bearers.into_iter().zip(parts) {
        if part.is_positive() {
            take(&mut lowered, lot, bearer, part, date, entry, recording)?;
        }
    }
    let nothing = Money::zero(amount.currency());
    let source = found.line.source;
    let of_lot = lowered.of_lot.unwrap_or(nothing);
    recording.moves(source, date, MovementKind::Returned, of_lot.negated(), Some(0));
    lower_given(recording, found, lot, &lowered, nothing)?;
    if let Some(of_layer) = lowered.of_layer {
        push_move(recording, lot, date, Target::Overhead, of_layer.negated());
        recording.notes.push(format!("{of_layer} lowers what {} cost", lot.lot.material));
    }
    recording.depends_on.extend(lot.moves.iter().map(|(record, _)| *record));
    earn(pen, recording, &lowered, &lot.lot.material, date, entry)
}

/// In the order of the shelf, then of the moves; what came back or was refunded before is less.
fn bearers(lot: &LotBought, given: &GivenBack) -> Result<Vec<Bearer>, Refusal> {
    let asked = TargetAsked { episode: given.episode, project: given.project, piece: given.piece };
    let only = match asked.target()? {
        Target::Overhead => None,
        named => Some(named),
    };
    let expensed = lot.lot.standing == LotStanding::Expensed;
    let deducted =
        |treatment: Treatment, year: i32| matches!(treatment, Treatment::Expense(_)).then_some(year);
    let bought_in = lot.lot.acquired_on.year();
    let mut found = vec![Bearer {
        place: Place::Shelf,
        treatment: lot.lot.treatment,
        deducted_in: deducted(lot.lot.treatment, bought_in).filter(|_| expensed),
        cost: lot.left_cost,
    }];
    let mut moves: Vec<&LotMove> = lot.moves.iter().map(|(_, row)| row).collect();
    moves.sort_by_key(|row| row.date);
    for row in moves {
        if matches!(row.kind, LotMoveKind::ReturnedToVendor | LotMoveKind::Rebated | LotMoveKind::CountedOver)
        {
            continue;
        }
        let year = if expensed { bought_in } else { row.date.year() };
        let (place, treatment) = (Place::Out(row.to), row.treatment);
        let deducted_in = deducted(treatment, year);
        if row.cost.is_negative() {
            let same = |one: &&mut Bearer| {
                (one.place, one.treatment, one.deducted_in) == (place, treatment, deducted_in)
            };
            match found.iter_mut().find(same) {
                Some(one) => one.cost = one.cost.minus(row.cost)?,
                None => found.push(Bearer { place, treatment, deducted_in, cost: row.cost.negated() }),
            }
        } else {
            take_back(&mut found, place, treatment, row.cost)?;
        }
    }
    if let Some(only) = only {
        found.retain(|one| one.place == Place::Out(only));
        if found.iter().all(|one| one.cost.is_zero()) {
            let place = if given.piece.is_some() {
                "/piece"
            } else if given.project.is_some() {
                "/project"
            } else {
                "/episode"
            };
            return Err(Refusal::new(place, PurchaseFinding::NothingUsedThere));
        }
    }
    Ok(found)
}

/// What came back is less of the latest year first.
fn take_back(
    found: &mut [Bearer],
    place: Place,
    treatment: Treatment,
    cost: Money,
) -> Result<(), MoneyFinding> {
    let mut left = cost;
    for one in found.iter_mut().rev().filter(|one| (one.place, one.treatment) == (place, treatment)) {
        let part = one.cost.at_most(left);
        one.cost = one.cost.minus(part)?;
        left = left.minus(part)?;
    }
    Ok(())
}

fn take(
    lowered: &mut Lowered,
    lot: &LotBought,
    bearer: Bearer,
    part: Money,
    date: NaiveDate,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    let piece = match bearer.place {
        Place::Out(Target::Piece(id)) => {
            let work = lot.pieces.iter().find(|work| work.piece.id == id);
            Some(work.ok_or(RecordFinding::Unknown { what: "furniture" })?)
        }
        _ => None,
    };
    let sold = piece.filter(|work| work.gone.is_some() && work.piece.purpose == PiecePurpose::Resale);
    if bearer.deducted_in.is_some_and(|year| year != date.year()) || sold.is_some() {
        let object = match bearer.place {
            Place::Out(Target::Object(object)) => Some(object),
            _ => piece.and_then(|work| work.piece.object),
        };
        lowered.income.push((object, part));
        recording.notes.extend(sold.map(|work| {
            format!(
                "{part} of it went into {}, whose cost was settled when it left: other income",
                work.piece.name
            )
        }));
        return Ok(());
    }
    let (account, class) = match bearer.place {
        Place::Shelf if lot.lot.standing == LotStanding::OnHand => (Account::MaterialsOnHand, None),
        _ => bearer.treatment.books_to(TaxClass::ResaleMaterials),
    };
    entry.credit(account, part, class);
    add(&mut lowered.of_layer, part)?;
    if let Place::Out(to) = bearer.place {
        let row = LotMove {
            lot: lot.lot.id,
            date,
            kind: LotMoveKind::RebatePassedOn,
            quantity: Decimal::ZERO,
            cost: part,
            to,
            treatment: bearer.treatment,
        };
        recording.rows.push(Row::LotMove(row));
    }
    match (bearer.place, piece) {
        (_, Some(work)) => lower_piece(recording, work, date, part),
        (Place::Out(Target::Object(object)), None) => {
            let sum = lowered.objects.entry(object).or_insert(Money::zero(part.currency()));
            *sum = sum.plus(part)?;
            add(&mut lowered.of_lot, part)?;
        }
        (Place::Out(_), None) => {
            add(&mut lowered.for_nobody, part)?;
            add(&mut lowered.of_lot, part)?;
        }
        (Place::Shelf, None) => add(&mut lowered.of_lot, part)?,
    }
    Ok(())
}

/// The opposite of what the piece took: a kept piece cost its episode less at once, stock costs less when it is sold.
fn lower_piece(recording: &mut Recording, work: &PieceInWork, date: NaiveDate, part: Money) {
    let piece = &work.piece;
    recording.moves(piece.source, date, MovementKind::Returned, part.negated(), Some(0));
    if let (PiecePurpose::Set | PiecePurpose::Personal, Some(object)) = (piece.purpose, piece.object) {
        recording.attribute(piece.source, date, object, Label::Category(Category::Furniture), part.negated());
    }
}

fn push_move(recording: &mut Recording, lot: &LotBought, date: NaiveDate, to: Target, cost: Money) {
    recording.rows.push(Row::LotMove(LotMove {
        lot: lot.lot.id,
        date,
        kind: LotMoveKind::Rebated,
        quantity: Decimal::ZERO,
        cost,
        to,
        treatment: lot.lot.treatment,
    }));
}

/// What episodes and projects were given of the lot is less: of each what it used, and what has been moved on or spread
/// as overhead since is less where it stands now, in proportion.
fn lower_given(
    recording: &mut Recording,
    found: &LineBought,
    lot: &LotBought,
    lowered: &Lowered,
    nothing: Money,
) -> Result<(), Refusal> {
    let given = Money::sum(nothing.currency(), found.attributed.iter().map(|(.., amount)| *amount))?;
    let free = found.held.minus(given)?.minus(lot.left_cost)?;
    let free = if free.is_positive() { free } else { nothing };
    let for_nobody = lowered.for_nobody.unwrap_or(nothing);
    let spread = for_nobody.minus(for_nobody.at_most(free))?;
    let mut standing: Vec<Money> = found.attributed.iter().map(|(.., amount)| *amount).collect();
    let overhead = Label::Category(Category::Overhead);
    let those = |among: &dyn Fn(CostObject, Label) -> bool| -> Vec<bool> {
        found.attributed.iter().map(|(object, label, _)| among(*object, *label)).collect()
    };
    let everywhere = those(&|_, _| true);
    let spread = less_among(&mut standing, &those(&|_, label| label == overhead), spread)?;
    less_among(&mut standing, &everywhere, spread)?;
    for (object, part) in &lowered.objects {
        let mut left = *part;
        for among in [
            those(&|one, label| one == *object && label != overhead),
            those(&|_, label| label != overhead),
            those(&|one, _| one == *object),
        ] {
            left = less_among(&mut standing, &among, left)?;
        }
        less_among(&mut standing, &everywhere, left)?;
    }
    let (source, date) = (found.line.source, recording.date);
    for ((object, label, before), there) in found.attributed.iter().zip(standing) {
        recording.attribute(source, date, *object, *label, there.minus(*before)?);
    }
    Ok(())
}

/// Takes it off those `among` them in proportion, at most what stands there; what could not be taken.
fn less_among(standing: &mut [Money], among: &[bool], amount: Money) -> Result<Money, Refusal> {
    let weights: Vec<Decimal> = standing
        .iter()
        .zip(among)
        .map(|(there, among)| if *among { there.amount().max(Decimal::ZERO) } else { Decimal::ZERO })
        .collect();
    let there = Money::exact(weights.iter().sum(), amount.currency())?;
    let part = amount.at_most(there);
    if part.is_positive() {
        for (there, part) in standing.iter_mut().zip(split_by_largest_remainder(part, &weights)?) {
            *there = there.minus(part)?;
        }
    }
    Ok(amount.minus(part)?)
}

fn earn(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    lowered: &Lowered,
    material: &str,
    date: NaiveDate,
    entry: &mut EntryDraft,
) -> Result<(), Refusal> {
    let earned = Money::sum(pen.base(), lowered.income.iter().map(|(_, part)| *part))?;
    if !earned.is_positive() {
        return Ok(());
    }
    entry.credit(Account::Income(Stream::Other), earned, TaxClass::OtherIncome);
    let id = pen.new_source();
    let text = format!("refund of a cost that was settled before: {material}");
    let opened = Source { id, side: Side::Income, kind: SourceKind::PurchaseLine, text };
    recording.open_source(opened, date, earned, Some(0));
    for (object, part) in &lowered.income {
        if let Some(object) = object {
            recording.attribute(id, date, *object, Label::Stream(Stream::Other), *part);
        }
    }
    recording.streams.push(Stream::Other);
    recording.notes.push(format!(
        "{earned} was deducted or settled before, so it is other income of {}; the rest lowers the cost",
        date.year()
    ));
    Ok(())
}
