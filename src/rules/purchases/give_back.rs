//! Giving back: a refund goes to the cost it came from in the same year, and is income or basis in a later one.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PieceId, ProjectId, RecordId};
use super::super::journal::{Account, EntryDraft, ExpenseClass, Stream, TaxClass};
use super::super::money::{Amount, Money, Quantity};
use super::super::named::named;
use super::super::objects::split_like;
use super::super::pieces::PieceInWork;
use super::super::recording::{
    CostObject, Label, MoneyAccount, MovementKind, Pen, Recording, Side, Source, SourceKind, Word,
};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{Lot, LotMove, LotMoveKind, LotStanding, PurchaseLine, Row, Target};
use super::super::split::split_by_largest_remainder;
use super::super::treatment::Treatment;
use super::super::units::UnitFinding;
use super::PurchaseFinding;
use super::rebate::lower_price;

/// Some of a purchase goes back to the vendor.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPurchaseReturn {
    pub date: NaiveDate,
    /// Where the refund arrived: the card, store credit, cash.
    pub refunded_to: MoneyAccountId,
    /// What went back of each line.
    #[schema(min_items = 1, max_items = 500)]
    pub lines: Vec<GivenBack>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What goes back of one line.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GivenBack {
    /// The place of the line on the receipt, counted from 0.
    pub line: usize,
    /// What was refunded, tax included, in the books' currency.
    pub amount: Amount,
    /// For stock: how much of it went back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<Quantity>,
    /// For stock: one of the lot's units; the one it is kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
    /// `kept` where money came back and no goods went: a rebate, or what was used up already. The refund is then spread
    /// over the shelf and everything issued.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub goods: Option<GoodsBack>,
    /// For stock that was kept: the episode that used what is refunded, where it was one alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    /// For stock that was kept: the project that used it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// For stock that was kept: the piece of furniture that it went into.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
}

named! {
    /// Whether the goods went back to the vendor for the refund.
    pub enum GoodsBack { WentBack => "went_back", Kept => "kept" }
}

/// A line as the books hold it now.
#[derive(Clone, Debug)]
pub struct LineBought {
    pub line: PurchaseLine,
    pub kind: SourceKind,
    /// Incurred less returned and removed so far.
    pub held: Money,
    /// What of it stands at which object under which label, added up.
    pub attributed: Vec<(CostObject, Label, Money)>,
    /// The last day on which any of it was given to an object, moved on or went back.
    pub last_given: Option<NaiveDate>,
    pub lot: Option<LotBought>,
}

/// A line's stock as the books hold it now.
#[derive(Clone, Debug)]
pub struct LotBought {
    pub lot: Lot,
    pub left: Decimal,
    /// What is left of its cost.
    pub left_cost: Money,
    /// What moved it and stands, with each move's record.
    pub moves: Vec<(RecordId, LotMove)>,
    /// The pieces of furniture that its moves name.
    pub pieces: Vec<PieceInWork>,
}

/// A purchase as the books hold it now.
#[derive(Clone, Debug)]
pub struct PurchaseBought {
    pub record: RecordId,
    pub date: NaiveDate,
    pub text: String,
    /// In their order; none for an invoice that is not paid.
    pub lines: Vec<LineBought>,
    /// Earlier returns, which this one stands on.
    pub returns: Vec<RecordId>,
}

/// # Errors
/// [`PurchaseFinding`] at each line.
pub fn give_back(
    pen: &mut Pen<'_>,
    bought: &PurchaseBought,
    refunded_to: MoneyAccount,
    new: &NewPurchaseReturn,
) -> Result<Recording, Refusal> {
    pen.open_day(new.date)?;
    if bought.lines.is_empty() {
        return Err(PurchaseFinding::NotPaidYet.into());
    }
    if new.date < bought.date {
        return Err(Refusal::new("/date", PurchaseFinding::BeforeThePurchase { bought: bought.date }));
    }
    let text = format!("given back: {}", bought.text);
    let mut recording = Recording::new(Word::Purchases, "return", new.date, text.clone());
    recording.depends_on.push(bought.record);
    recording.depends_on.extend(&bought.returns);
    let mut entry = pen.entry(new.date, text);
    let mut findings = Findings::new();
    let mut refund = Money::zero(pen.base());
    for (place, given) in new.lines.iter().enumerate() {
        let one = line_back(pen, bought, new.date, given, &mut entry, &mut recording);
        if let Some(amount) = findings.keep(one.at(&format!("/lines/{place}"))) {
            refund = refund.plus(amount)?;
        }
    }
    findings.or_refuse()?;
    entry.debit(refunded_to.receiving(), refund, None);
    recording.post(entry)?;
    Ok(recording)
}

fn line_back(
    pen: &mut Pen<'_>,
    bought: &PurchaseBought,
    date: NaiveDate,
    given: &GivenBack,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Money, Refusal> {
    let line = given.line;
    let lines = bought.lines.iter().map(|one| one.line.position + 1).max().unwrap_or_default();
    // Of a line that is several tools any of them stands for all.
    let found = bought.lines.iter().find(|one| one.line.position == line);
    let found = found.ok_or(PurchaseFinding::NoSuchLine { line, lines }).at("/line")?;
    let amount = given.amount.positive(pen.base()).at("/amount")?;
    match (found.kind, &found.lot) {
        (SourceKind::Tool, _) => Err(PurchaseFinding::GoesBackWhole { what: "a tool" }.into()),
        (SourceKind::Piece, _) => Err(PurchaseFinding::GoesBackWhole { what: "a piece of furniture" }.into()),
        (_, Some(lot)) if given.goods == Some(GoodsBack::Kept) => {
            lower_price(pen, (found, lot), date, given, amount, entry, recording)
        }
        _ if given.is_used_somewhere() => Err(Refusal::new("/goods", PurchaseFinding::UsedOnlyWhereKept)),
        (_, Some(lot)) => stock_back(pen, lot, (bought, found), date, (given, amount), entry, recording),
        (_, None) if given.quantity.is_some() || given.unit.is_some() => {
            Err(Refusal::new("/quantity", PurchaseFinding::QuantityOnlyForStock))
        }
        (_, None) => cost_back(pen, bought, found, date, amount, entry, recording),
    }?;
    Ok(amount)
}

fn cost_back(
    pen: &mut Pen<'_>,
    bought: &PurchaseBought,
    found: &LineBought,
    date: NaiveDate,
    amount: Money,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    if amount.amount() > found.held.amount() {
        return Err(Refusal::new(
            "/amount",
            PurchaseFinding::MoreThanBought { asked: amount, left: found.held },
        ));
    }
    if let Some(last) = found.last_given.filter(|last| date < *last) {
        return Err(PurchaseFinding::BeforeItWasGiven { last, date }.into());
    }
    let weights: Vec<_> = found.line.treatments.iter().map(|(_, part)| part.amount()).collect();
    let parts = split_by_largest_remainder(amount, &weights)?;
    let mut deducted = Money::zero(amount.currency());
    for ((treatment, _), part) in found.line.treatments.iter().zip(parts) {
        let (account, class) = treatment.books_to(TaxClass::ResaleOther);
        if matches!(treatment, Treatment::Expense(_)) && date.year() != bought.date.year() {
            deducted = deducted.plus(part)?;
        } else {
            entry.credit(account, part, class);
        }
    }
    let back = amount.minus(deducted)?;
    let shares: Vec<_> = found.attributed.iter().map(|(object, _, part)| (*object, *part)).collect();
    let source = found.line.source;
    recording.moves(source, date, MovementKind::Returned, back.negated(), Some(0));
    for ((object, part), (_, label, _)) in
        split_like(back, &shares, found.held)?.into_iter().zip(&found.attributed)
    {
        recording.attribute(source, date, object, *label, part.negated());
    }
    if deducted.is_positive() {
        entry.credit(Account::Income(Stream::Other), deducted, TaxClass::OtherIncome);
        let income = pen.new_source();
        let text = format!("refund of a cost deducted in {}: {}", bought.date.year(), found.line.text);
        let opened = Source { id: income, side: Side::Income, kind: SourceKind::PurchaseLine, text };
        recording.open_source(opened, date, deducted, Some(0));
        for (object, part) in split_like(deducted, &shares, found.held)? {
            recording.attribute(income, date, object, Label::Stream(Stream::Other), part);
        }
        recording.streams.push(Stream::Other);
        recording.notes.push(format!(
            "{deducted} was deducted in {}, so it is other income of {}; what was not deducted lowers its basis",
            bought.date.year(),
            date.year()
        ));
    }
    Ok(())
}

impl GivenBack {
    const fn is_used_somewhere(&self) -> bool {
        self.episode.is_some() || self.project.is_some() || self.piece.is_some()
    }
}

fn stock_back(
    pen: &mut Pen<'_>,
    LotBought { lot, left, left_cost, .. }: &LotBought,
    (bought, found): (&PurchaseBought, &LineBought),
    date: NaiveDate,
    (given, amount): (&GivenBack, Money),
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    let quantity = given.quantity.ok_or(PurchaseFinding::QuantityMissing).at("/quantity")?.decimal();
    let quantity = lot.in_its_unit(quantity, given.unit.as_deref(), "/quantity")?;
    if quantity.is_zero() {
        return Err(Refusal::new("/quantity", UnitFinding::NotPositive { quantity }));
    }
    if quantity > *left {
        return Err(Refusal::new(
            "/quantity",
            PurchaseFinding::MoreThanOnShelf { asked: quantity, left: *left },
        ));
    }
    if amount.amount() > left_cost.amount() {
        return Err(Refusal::new(
            "/amount",
            PurchaseFinding::MoreThanBought { asked: amount, left: *left_cost },
        ));
    }
    let (account, class) = match lot.standing {
        LotStanding::OnHand => (Account::MaterialsOnHand, None),
        LotStanding::Expensed => lot.treatment.books_to(TaxClass::ResaleMaterials),
    };
    let deducted = lot.standing == LotStanding::Expensed && matches!(lot.treatment, Treatment::Expense(_));
    if deducted && date.year() != bought.date.year() {
        // What was deducted stays a cost, and what comes back is income of its own.
        entry.credit(Account::Income(Stream::Other), amount, TaxClass::OtherIncome);
        let id = pen.new_source();
        let text = format!("refund of a cost deducted in {}: {}", bought.date.year(), lot.material);
        let opened = Source { id, side: Side::Income, kind: SourceKind::PurchaseLine, text };
        recording.open_source(opened, date, amount, Some(0));
        recording.streams.push(Stream::Other);
        recording.notes.push(format!(
            "{amount} was deducted in {}, so it is other income of {}",
            bought.date.year(),
            date.year()
        ));
    } else {
        entry.credit(account, amount, class);
        recording.moves(found.line.source, date, MovementKind::Returned, amount.negated(), Some(0));
    }
    // Everything went back for less than it cost: the rest is lost, and waits on no shelf.
    let rest = if quantity == *left { left_cost.minus(amount)? } else { Money::zero(amount.currency()) };
    if rest.is_positive() && lot.standing == LotStanding::OnHand {
        let supplies = Treatment::Expense(ExpenseClass::Supplies).books_to(TaxClass::ResaleMaterials);
        entry.debit(supplies.0, rest, supplies.1);
        entry.credit(Account::MaterialsOnHand, rest, None);
        recording.notes.push(format!("{rest} of {} was not refunded and is lost", lot.material));
    }
    recording.rows.push(Row::LotMove(LotMove {
        lot: lot.id,
        date,
        kind: LotMoveKind::ReturnedToVendor,
        quantity: -quantity,
        cost: amount.plus(rest)?.negated(),
        to: Target::Overhead,
        treatment: lot.treatment,
    }));
    Ok(())
}
