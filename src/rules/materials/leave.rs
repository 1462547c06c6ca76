//! The one way out of a lot: rows, the entry, movements and attributions of what leaves it.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::super::journal::{Account, TaxClass};
use super::super::money::Money;
use super::super::objects::{ObjectShare, split_over_objects};
use super::super::pieces::PieceInWork;
use super::super::recording::{Category, CostObject, Label, MovementKind, Pen, Recording};
use super::super::refusal::{At, Refusal};
use super::super::rows::{LotMove, LotMoveKind, LotStanding, Row, Target};
use super::super::treatment::Treatment;
use super::{Layer, LotFacts, MaterialsFinding, each_once, split_quantity};

/// Where it goes.
#[derive(Clone, Copy)]
pub(super) enum Destination<'a> {
    Object(CostObject),
    Objects(&'a [ObjectShare]),
    Piece(&'a PieceInWork),
    Overhead,
}

/// What leaves, when and where to.
pub(super) struct Leaving<'a> {
    pub kind: LotMoveKind,
    pub date: NaiveDate,
    pub to: Destination<'a>,
    /// Where it stands on a statement; the lot's own category where none is given.
    pub category: Option<Category>,
}

/// What one lot gives, and what that is to the tax office.
pub(super) struct Drawn<'a> {
    pub facts: &'a LotFacts,
    pub free: Layer,
    pub taken: Layer,
    pub treatment: Treatment,
}

/// The account that carries a lot's cost, with its class.
pub(super) fn account_of(facts: &LotFacts) -> (Account, Option<TaxClass>) {
    match facts.lot.standing {
        LotStanding::OnHand => (Account::MaterialsOnHand, None),
        LotStanding::Expensed => facts.lot.treatment.books_to(TaxClass::ResaleMaterials),
    }
}

/// Sums to post, so that several lots make one entry with one posting an account and class.
#[derive(Default)]
pub(super) struct Transfers(BTreeMap<(Account, Option<TaxClass>), Money>);

impl Transfers {
    /// Nothing where both sides are the same account: a lot expensed as it was paid is already there.
    pub fn transfer(
        &mut self,
        from: (Account, Option<TaxClass>),
        to: (Account, Option<TaxClass>),
        amount: Money,
    ) -> Result<(), Refusal> {
        if from != to {
            self.add(to, amount)?;
            self.add(from, amount.negated())?;
        }
        Ok(())
    }

    fn add(&mut self, side: (Account, Option<TaxClass>), amount: Money) -> Result<(), Refusal> {
        let sum = self.0.entry(side).or_insert_with(|| Money::zero(amount.currency()));
        *sum = sum.plus(amount)?;
        Ok(())
    }

    /// Debits first; the entry's place, or none where nothing changes account.
    pub fn post(
        self,
        pen: &Pen<'_>,
        rec: &mut Recording,
        date: NaiveDate,
        text: String,
    ) -> Result<Option<usize>, Refusal> {
        let mut entry = pen.entry(date, text);
        let (credits, debits): (Vec<_>, Vec<_>) = self.0.into_iter().partition(|(_, sum)| sum.is_negative());
        for ((account, class), sum) in debits.into_iter().chain(credits) {
            entry.debit(account, sum, class);
        }
        rec.post(entry)
    }
}

/// Writes what leaves into `rec`, whose text becomes the entry's.
///
/// # Errors
/// [`MaterialsFinding::ResaleWithoutPiece`] and [`MaterialsFinding::ToolIsNoMaterial`] at `/treatment`, the
/// shares' own findings at `/to`.
pub(super) fn leave(
    pen: &Pen<'_>,
    rec: &mut Recording,
    leaving: &Leaving<'_>,
    drawn: &[Drawn<'_>],
) -> Result<(), Refusal> {
    let mut transfers = Transfers::default();
    for one in drawn {
        transfers.transfer(account_of(one.facts), account_to(leaving, one)?, one.taken.cost)?;
    }
    let entry = transfers.post(pen, rec, leaving.date, rec.text.clone())?;
    for one in drawn {
        write_moves(rec, leaving, one, entry)?;
        let left = one.free.plus(one.taken.negated())?;
        rec.notes.push(format!(
            "{}, cost {}; {} {} at {} stay in that lot",
            one.facts.quantity_in_words(one.taken.quantity),
            one.taken.cost,
            left.quantity.normalize(),
            one.facts.lot.unit,
            left.cost,
        ));
    }
    rec.depends_on =
        each_once(drawn.iter().flat_map(|one| one.facts.depends_on(one.free, one.taken.quantity)));
    if let Destination::Piece(work) = leaving.to {
        rec.depends_on = each_once(rec.depends_on.iter().copied().chain([work.record]));
        rec.about.extend(work.piece.object);
    }
    Ok(())
}

fn account_to(leaving: &Leaving<'_>, one: &Drawn<'_>) -> Result<(Account, Option<TaxClass>), Refusal> {
    if let Destination::Piece(work) = leaving.to {
        return Ok(work.books_to(TaxClass::ResaleMaterials));
    }
    match one.treatment {
        Treatment::Resale => Err(MaterialsFinding::ResaleWithoutPiece).at("/treatment"),
        Treatment::Tool => Err(MaterialsFinding::ToolIsNoMaterial).at("/treatment"),
        treatment => Ok(treatment.books_to(TaxClass::ResaleMaterials)),
    }
}

fn write_moves(
    rec: &mut Recording,
    leaving: &Leaving<'_>,
    one: &Drawn<'_>,
    entry: Option<usize>,
) -> Result<(), Refusal> {
    let lot = &one.facts.lot;
    let label = Label::Category(leaving.category.unwrap_or(lot.category));
    match leaving.to {
        Destination::Overhead => push_move(rec, leaving, one, one.taken, Target::Overhead),
        Destination::Object(object) => {
            push_move(rec, leaving, one, one.taken, Target::Object(object));
            rec.attribute(lot.source, leaving.date, object, label, one.taken.cost);
        }
        Destination::Objects(asked) => {
            for (object, part) in shared_out(one.taken, asked)? {
                push_move(rec, leaving, one, part, Target::Object(object));
                rec.attribute(lot.source, leaving.date, object, label, part.cost);
            }
        }
        Destination::Piece(work) => {
            push_move(rec, leaving, one, one.taken, Target::Piece(work.piece.id));
            let cost = one.taken.cost;
            rec.moves(lot.source, leaving.date, MovementKind::Removed, cost.negated(), entry);
            work.take_cost(rec, leaving.date, cost, entry);
        }
    }
    Ok(())
}

fn push_move(rec: &mut Recording, leaving: &Leaving<'_>, one: &Drawn<'_>, part: Layer, to: Target) {
    let Layer { quantity, cost } = part.negated();
    if quantity.is_zero() && cost.is_zero() {
        return;
    }
    let (lot, date, kind) = (one.facts.lot.id, leaving.date, leaving.kind);
    rec.rows.push(Row::LotMove(LotMove { lot, date, kind, quantity, cost, to, treatment: one.treatment }));
}

fn shared_out(taken: Layer, asked: &[ObjectShare]) -> Result<Vec<(CostObject, Layer)>, Refusal> {
    let costs = split_over_objects(taken.cost, asked).at("/to")?;
    let weights: Vec<_> =
        asked.iter().map(|one| one.share.map_or(Decimal::ONE, |share| share.decimal())).collect();
    let quantities = split_quantity(taken.quantity, &weights)?;
    let parts = costs.into_iter().zip(quantities);
    Ok(parts.map(|((object, cost), quantity)| (object, Layer { quantity, cost })).collect())
}
