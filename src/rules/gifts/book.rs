//! Writing goods into the journal, the sources and the statements.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;

use super::{GiftFinding, Keeping, KeptAs};
use crate::rules::ids::{PieceId, SourceId, ToolId};
use crate::rules::journal::{Account, Draw, ExpenseClass, TaxClass};
use crate::rules::money::{Exchange, Money};
use crate::rules::objects::split_over_objects;
use crate::rules::recording::{
    Category, Label, Pen, RecordFinding, Recording, Side, Source, SourceKind, words_of,
};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{
    Basis, GiftFate, GiftRelation, Piece, PieceOrigin, PiecePurpose, Row, Tool, ToolOrigin,
};
use crate::rules::tool_terms::ToolArrival;
use crate::rules::treatment::Treatment;
use crate::rules::vehicles::VehiclesAtRate;

/// What is known of the goods when they are written down.
pub(super) struct Goods<'a> {
    pub what: &'a str,
    pub relation: GiftRelation,
    /// The day they came, or became the owner's.
    pub came_on: NaiveDate,
    /// The day of the entry, which is another where that day is closed.
    pub posted_on: NaiveDate,
    /// How the tool's salvage reaches the books' currency.
    pub exchange: Exchange,
    /// A vehicle among them is not kept as a tool at a value.
    pub at_rate: &'a VehiclesAtRate,
}

/// Whether the fields that say how goods are kept fit the fate and one another.
/// # Errors
/// [`GiftFinding`] at the fields, all at once.
pub(super) fn check_keeping(keeping: &Keeping<'_>, relation: GiftRelation) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    let given = [
        ("kept_as", keeping.kept_as.is_some(), None),
        ("tool", keeping.tool.is_some(), Some(KeptAs::Tool)),
        ("piece_name", keeping.piece_name.is_some(), Some(KeptAs::Piece)),
        ("piece_purpose", keeping.piece_purpose.is_some(), Some(KeptAs::Piece)),
    ];
    for (field, _, belongs_to) in given.into_iter().filter(|(_, is_given, _)| *is_given) {
        match (keeping.fate, keeping.kept_as, belongs_to) {
            (GiftFate::KeptForBusiness, Some(kept_as), Some(wanted)) if kept_as != wanted => {
                let why = GiftFinding::NotKeptAsThat { field, kept_as };
                findings.add(Refusal::new(format!("/{field}"), why));
            }
            (GiftFate::KeptForBusiness, ..) => {}
            (fate, ..) => {
                let why = GiftFinding::NotWithThisFate { field, fate };
                findings.add(Refusal::new(format!("/{field}"), why));
            }
        }
    }
    if keeping.fate == GiftFate::KeptForBusiness {
        findings.keep(check_kept(keeping, relation));
    }
    findings.or_refuse()
}

fn check_kept(keeping: &Keeping<'_>, relation: GiftRelation) -> Result<(), Refusal> {
    match keeping.kept_as {
        None => Err(Refusal::new("/kept_as", GiftFinding::KeptAsMissing)),
        Some(KeptAs::Supplies | KeptAs::Piece) if relation == GiftRelation::Loan => {
            Err(Refusal::new("/kept_as", GiftFinding::LoanOnlyAsTool))
        }
        Some(KeptAs::Tool) if keeping.tool.is_none() => Err(Refusal::new("/tool", GiftFinding::ToolMissing)),
        Some(KeptAs::Piece) => match keeping.piece_purpose {
            None => Err(Refusal::new("/piece_purpose", GiftFinding::PurposeMissing)),
            Some(PiecePurpose::Personal) => {
                Err(Refusal::new("/piece_purpose", GiftFinding::PieceForPersonalUse))
            }
            Some(_) if keeping.piece_name.is_some_and(|name| name.trim().is_empty()) => {
                Err(Refusal::new("/piece_name", RecordFinding::NeedsText { what: "name" }))
            }
            Some(_) => Ok(()),
        },
        _ => Ok(()),
    }
}

/// Takes goods into income at `value`, and into whatever they became.
///
/// The debit is tools at cost, supplies, pieces for resale, the owner's personal items, or advertising where they
/// were given away to viewers; the credit is goods for promotion. The in-kind income goes to the episodes they are
/// shown in, and so does the cost of what is used up there; a tool's cost follows its uses, a resale piece's its sale,
/// and what the owner took home is nobody's cost.
/// # Source
/// Pub. 525, Bartering (income at fair value, when received); Pub. 551 (that value is the basis): seen. Goods given
/// away to viewers as advertising: common practice, no source.
pub(super) fn take_into_income(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    goods: &Goods<'_>,
    value: Money,
    keeping: &Keeping<'_>,
) -> Result<Option<SourceId>, Refusal> {
    let (account, class) = debit_of(keeping);
    let tax_year = goods.came_on.year();
    let mut entry = pen.entry(goods.posted_on, format!("received for promotion: {}", goods.what));
    entry.debit_for_year(account, value, class, tax_year);
    let credit = value.negated();
    entry.debit_for_year(Account::GoodsForPromotion, credit, TaxClass::GoodsForPromotion, tax_year);
    let place = recording.post(entry)?;
    let parts = split_over_objects(value, keeping.shown_in).at("/for")?;
    let income = pen.new_source();
    let text = format!("received for promotion: {}", goods.what);
    let source = Source { id: income, side: Side::InKind, kind: SourceKind::Gift, text };
    recording.open_source(source, goods.posted_on, value, place);
    for (object, part) in parts.iter().copied() {
        recording.attribute(income, goods.posted_on, object, Label::Stream(keeping.stream), part);
    }
    recording.streams.push(keeping.stream);
    let (id, kind) = open_thing(pen, recording, goods, value, keeping)?;
    let source = Source { id, side: Side::Cost, kind, text: goods.what.to_owned() };
    recording.open_source(source, goods.posted_on, value, place);
    if let Some(category) = used_up_as(keeping) {
        for (object, part) in parts {
            recording.attribute(id, goods.posted_on, object, Label::Category(category), part);
        }
    }
    Ok(Some(id))
}

/// Goods of no basis: nothing is posted, but a tool or a piece stands on the books to be used.
pub(super) fn take_in_for_nothing(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    goods: &Goods<'_>,
    keeping: &Keeping<'_>,
) -> Result<Option<SourceId>, Refusal> {
    if !matches!(keeping.kept_as, Some(KeptAs::Tool | KeptAs::Piece)) {
        return Ok(None);
    }
    let nothing = Money::zero(pen.base());
    let (id, kind) = open_thing(pen, recording, goods, nothing, keeping)?;
    recording.sources.push(Source { id, side: Side::Cost, kind, text: goods.what.to_owned() });
    Ok(Some(id))
}

fn debit_of(keeping: &Keeping<'_>) -> (Account, Option<TaxClass>) {
    let treatment = match (keeping.fate, keeping.kept_as, keeping.piece_purpose) {
        (GiftFate::KeptForBusiness, Some(KeptAs::Tool), _) => Treatment::Tool,
        (GiftFate::KeptForBusiness, Some(KeptAs::Piece), Some(purpose)) => piece_treatment(purpose),
        (GiftFate::GivenAway, ..) => Treatment::Expense(ExpenseClass::Advertising),
        (GiftFate::KeptForBusiness, ..) => Treatment::Expense(ExpenseClass::Supplies),
        _ => return (Account::Draw(Draw::PersonalItems), Some(TaxClass::Personal)),
    };
    treatment.books_to(TaxClass::ResalePurchases)
}

const fn piece_treatment(purpose: PiecePurpose) -> Treatment {
    match purpose {
        PiecePurpose::Resale => Treatment::Resale,
        PiecePurpose::Set => Treatment::Expense(ExpenseClass::Supplies),
        PiecePurpose::Personal => Treatment::Personal,
    }
}

/// Where the cost of goods stands that the episodes use up; none for what reaches them another way, or never.
fn used_up_as(keeping: &Keeping<'_>) -> Option<Category> {
    match (keeping.fate, keeping.kept_as, keeping.piece_purpose) {
        (GiftFate::GivenAway, ..) => Some(Category::usual_for(TaxClass::Advertising)),
        (GiftFate::KeptForBusiness, Some(KeptAs::Supplies), _) => Some(Category::Materials),
        (GiftFate::KeptForBusiness, Some(KeptAs::Piece), Some(PiecePurpose::Set)) => {
            Some(Category::Furniture)
        }
        _ => None,
    }
}

/// The row of the tool or piece, where the goods became one, and the source of their cost.
fn open_thing(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    goods: &Goods<'_>,
    value: Money,
    keeping: &Keeping<'_>,
) -> Result<(SourceId, SourceKind), Refusal> {
    let source = pen.new_source();
    match (keeping.kept_as, keeping.tool, keeping.piece_purpose) {
        (Some(KeptAs::Tool), Some(asked), _) => {
            let id = ToolId(pen.ids.next());
            let arrival = ToolArrival {
                origin: tool_origin(goods.relation),
                came_on: goods.came_on,
                cost: value,
                basis_for_gain: None,
                invoice_price: None,
                exchange: goods.exchange,
                hours_before: Decimal::ZERO,
                prior: None,
                at_rate: goods.at_rate,
            };
            let tool: Tool = asked.tool(id, source, &arrival).at("/tool")?;
            recording.rows.push(Row::Tool(tool));
            Ok((source, SourceKind::Tool))
        }
        (Some(KeptAs::Piece), _, Some(purpose)) => {
            let piece = piece_of(pen, goods, value, keeping, (source, purpose))?;
            recording.rows.push(Row::Piece(piece));
            Ok((source, SourceKind::Piece))
        }
        _ => Ok((source, SourceKind::Gift)),
    }
}

/// # Source
/// Pub. 551: goods taken into income have that value as basis (seen); a private gift keeps the giver's basis, which
/// the one who receives it does not know (from memory).
fn piece_of(
    pen: &mut Pen<'_>,
    goods: &Goods<'_>,
    value: Money,
    keeping: &Keeping<'_>,
    (source, purpose): (SourceId, PiecePurpose),
) -> Result<Piece, Refusal> {
    let first = split_over_objects(Money::zero(pen.base()), keeping.shown_in).at("/for")?;
    Ok(Piece {
        id: PieceId(pen.ids.next()),
        source,
        name: words_of("name", keeping.piece_name.unwrap_or(goods.what)).at("/piece_name")?,
        origin: PieceOrigin::Gifted,
        purpose,
        acquired_on: goods.came_on,
        basis: if value.is_zero() { Basis::Unknown } else { Basis::Known(value) },
        value: None,
        treatment: piece_treatment(purpose),
        object: first.first().map(|(object, _)| *object),
    })
}

const fn tool_origin(relation: GiftRelation) -> ToolOrigin {
    match relation {
        GiftRelation::Promotion | GiftRelation::UnsolicitedBrandGoods => ToolOrigin::ForPromotion,
        GiftRelation::Loan => ToolOrigin::Loan,
        GiftRelation::PersonalGift => ToolOrigin::PersonalGift,
    }
}
