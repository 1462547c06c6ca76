//! One line of a receipt: which source it becomes, what it debits, whom it is attributed to.

use chrono::NaiveDate;

use super::super::ids::{LotId, PieceId, SourceId, ToolId};
use super::super::journal::Account;
use super::super::journal::{EntryDraft, ExpenseClass, TaxClass};
use super::super::money::{Exchange, Money, Share};
use super::super::objects::{ObjectAsked, split_over_objects};
use super::super::pieces::PieceInWork;
use super::super::recording::{
    Category, Label, MaterialsTiming, Pen, RecordFinding, Recording, Side, Source, SourceKind, words_of,
};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{
    Basis, Lot, LotStanding, Piece, PieceOrigin, PiecePurpose, PurchaseLine, Row, ToolOrigin, ToolRepair,
};
use super::super::split::{split_by_largest_remainder, split_by_shares};
use super::super::tool_terms::{ToolArrival, ToolAsked};
use super::super::treatment::Treatment;
use super::super::units::{UnitFinding, kept_in};
use super::{
    NewPurchaseLine, PieceAsked, PurchaseFacts, PurchaseFinding, StockAsked, ToolInRepair, check_vehicle,
};

/// A line with its full amount and what stands around it.
pub(super) struct LineAsked<'a> {
    pub facts: &'a PurchaseFacts,
    pub line: &'a NewPurchaseLine,
    pub position: usize,
    /// With its share of tax, delivery and discount, in the base currency.
    pub amount: Money,
    pub date: NaiveDate,
    /// Where the receipt's entry will stand.
    pub place: Option<usize>,
    pub exchange: Exchange,
}

/// Books one line.
/// # Errors
/// Findings under the line's own pointer.
pub(super) fn book(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    let line = asked.line;
    if line.text.trim().is_empty() {
        return Err(Refusal::new("/text", RecordFinding::NeedsText { what: "text" }));
    }
    let things = [
        line.stock.is_some(),
        line.tool.is_some(),
        !line.tools.is_empty(),
        line.piece.is_some(),
        line.new_piece.is_some(),
        line.repairs.is_some(),
    ];
    if things.iter().filter(|given| **given).count() > 1 {
        return Err(PurchaseFinding::MoreThanOneThing.into());
    }
    let treatments = treatments_of(line)?;
    if let Some(vehicle) = &line.vehicle {
        if !treatments.iter().any(|(one, _)| *one == Treatment::Expense(ExpenseClass::Vehicle)) {
            return Err(Refusal::new("/vehicle", PurchaseFinding::VehicleWithoutClass));
        }
        check_vehicle(asked.facts, vehicle, asked.date).at("/vehicle")?;
    }
    let repaired = match line.repairs {
        Some(tool) => Some(in_repair(asked, tool, &treatments).at("/repairs")?),
        None => None,
    };
    if !line.tools.is_empty() {
        return several_tools(pen, asked, entry, recording);
    }
    let kept = if let Some(stock) = &line.stock {
        on_the_shelf(pen, asked, stock, entry, recording)
    } else if let Some(tool) = &line.tool {
        a_tool(pen, asked, tool, entry, recording)
    } else if let Some(piece) = line.piece {
        into_a_piece(asked, piece, entry, recording)
    } else if let Some(piece) = &line.new_piece {
        a_piece(pen, asked, piece, entry, recording)
    } else {
        used_up(pen, asked, &treatments, entry, recording)
    }?;
    if let Some(found) = repaired {
        recording.depends_on.push(found.record);
        recording.rows.push(Row::ToolRepair(ToolRepair { tool: found.tool, source: kept.source }));
        recording.notes.push(format!(
            "A repair of {}: a cost of its day, in neither its basis nor its depreciation. Question: does it only keep \
             the tool in working order? What makes it better, restores it or fits it for another use is an improvement, \
             written off over years (POST /v1/tools/{{id}}/improvements).",
            found.name
        ));
    }
    recording.rows.push(Row::PurchaseLine(PurchaseLine {
        position: asked.position,
        part: 0,
        text: line.text.clone(),
        source: kept.source,
        amount: asked.amount,
        treatments: kept.treatments,
        vehicle: line.vehicle.clone(),
    }));
    Ok(())
}

/// The tool that a line repairs, if it may.
/// # Source
/// Reg. 1.162-4 (repairs) and 1.263(a)-3 (betterment, restoration, adaptation), from memory.
fn in_repair<'a>(
    asked: &LineAsked<'a>,
    tool: ToolId,
    treatments: &[(Treatment, Option<Share>)],
) -> Result<&'a ToolInRepair, Refusal> {
    let found = asked.facts.tools.iter().find(|one| one.tool == tool);
    let found = found.ok_or(RecordFinding::Unknown { what: "tools" })?;
    if !treatments.iter().any(|(one, _)| *one == Treatment::Expense(ExpenseClass::Repairs)) {
        return Err(PurchaseFinding::RepairWithoutClass.into());
    }
    let name = found.name.clone();
    if asked.date < found.came_on {
        return Err(PurchaseFinding::BeforeTheToolCame { tool: name, came_on: found.came_on }.into());
    }
    match found.left_on.filter(|left_on| asked.date > *left_on) {
        Some(left_on) => Err(PurchaseFinding::ToolLeft { tool: name, left_on }.into()),
        None => Ok(found),
    }
}

/// Where a line's cost went.
struct Kept {
    source: SourceId,
    treatments: Vec<(Treatment, Money)>,
}

fn treatments_of(line: &NewPurchaseLine) -> Result<Vec<(Treatment, Option<Share>)>, Refusal> {
    let mut findings = Findings::new();
    let mut treatments = Vec::with_capacity(line.treatments.len());
    for (place, one) in line.treatments.iter().enumerate() {
        let treatment = one.treatment().at(&format!("/treatments/{place}"));
        treatments.extend(findings.keep(treatment).map(|treatment| (treatment, one.share)));
    }
    findings.or_refuse()?;
    Ok(treatments)
}

/// A line that is a thing has its thing's treatment; saying the same once more does no harm.
fn only(line: &NewPurchaseLine, treatment: Treatment, thing: &'static str) -> Result<(), Refusal> {
    let given = treatments_of(line)?;
    if given.iter().all(|(one, _)| *one == treatment) && given.len() <= 1 {
        Ok(())
    } else {
        Err(Refusal::new("/treatments", PurchaseFinding::TreatmentOfAThing { thing }))
    }
}

/// What a line that is a thing is for is not said on the receipt; `where_said` is the rest of the sentence.
fn no_objects(line: &NewPurchaseLine, where_said: &'static str) -> Result<(), Refusal> {
    if line.objects.is_empty() {
        return Ok(());
    }
    Err(Refusal::new("/for", PurchaseFinding::ObjectsOfAThing { where_said }))
}

fn used_up(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    treatments: &[(Treatment, Option<Share>)],
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Kept, Refusal> {
    let (line, amount) = (asked.line, asked.amount);
    for (place, (treatment, _)) in treatments.iter().enumerate() {
        let finding = match treatment {
            Treatment::Resale => PurchaseFinding::ResaleWithoutPiece,
            Treatment::Tool => PurchaseFinding::ToolWithoutTerms,
            _ => continue,
        };
        return Err(Refusal::new(format!("/treatments/{place}"), finding));
    }
    let Some((first, _)) = treatments.first().copied() else {
        return Err(Refusal::new("/treatments", PurchaseFinding::TreatmentMissing));
    };
    let shares: Vec<Share> = match treatments {
        [(_, None)] => vec![Share::parse("100").ok_or(PurchaseFinding::TreatmentMissing)?],
        several => several.iter().filter_map(|(_, share)| *share).collect(),
    };
    if shares.len() != treatments.len() {
        let missing = super::super::objects::ObjectFinding::SomeSharesMissing;
        return Err(Refusal::new("/treatments", missing));
    }
    let parts = split_by_shares(amount, &shares).at("/treatments")?;
    let treatments: Vec<_> = treatments.iter().map(|(one, _)| *one).zip(parts).collect();
    for (treatment, part) in &treatments {
        let (account, class) = treatment.books_to(TaxClass::ResaleOther);
        entry.debit(account, *part, class);
    }
    let source = pen.new_source();
    let text = line.text.clone();
    let opened = Source { id: source, side: Side::Cost, kind: SourceKind::PurchaseLine, text };
    recording.open_source(opened, asked.date, amount, asked.place);
    let (_, class) = first.books_to(TaxClass::ResaleOther);
    let category = line.category.unwrap_or_else(|| class.map_or(Category::Other, Category::usual_for));
    for (object, part) in split_over_objects(amount, &line.objects).at("/for")? {
        recording.attribute(source, asked.date, object, Label::Category(category), part);
    }
    Ok(Kept { source, treatments })
}

fn on_the_shelf(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    stock: &StockAsked,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Kept, Refusal> {
    no_objects(asked.line, "stock; what it is for is said as it is issued")?;
    let usual = Treatment::Expense(ExpenseClass::Supplies);
    let treatment = stock.treatment.map_or(Ok(usual), |one| one.treatment()).at("/stock/treatment")?;
    only(asked.line, treatment, "stock")?;
    let mut findings = Findings::new();
    let material = findings.keep(words_of("material", &stock.material).at("/stock/material"));
    let quantity = stock.quantity.decimal();
    if quantity.is_zero() {
        let zero = UnitFinding::NotPositive { quantity };
        findings.add(Refusal::new("/stock/quantity", zero));
    }
    let kept = findings.keep(kept_in(&stock.unit, quantity, stock.kept_in.as_ref()).at("/stock"));
    findings.or_refuse()?;
    let (Some(material), Some(kept)) = (material, kept) else {
        return Err(PurchaseFinding::QuantityMissing.into());
    };
    let deducted =
        pen.books.timing == MaterialsTiming::WhenPaid && matches!(treatment, Treatment::Expense(_));
    let (account, class) = if deducted {
        treatment.books_to(TaxClass::ResaleMaterials)
    } else {
        (Account::MaterialsOnHand, None)
    };
    entry.debit(account, asked.amount, class);
    let source = pen.new_source();
    let text = material.clone();
    let opened = Source { id: source, side: Side::Cost, kind: SourceKind::Lot, text };
    recording.open_source(opened, asked.date, asked.amount, asked.place);
    let (_, class) = treatment.books_to(TaxClass::ResaleMaterials);
    let usual = class.map_or(Category::Materials, Category::usual_for);
    recording.rows.push(Row::Lot(Lot {
        id: LotId(pen.ids.next()),
        source,
        material,
        unit: kept.unit,
        bought_in: kept.bought_in,
        quantity: kept.quantity,
        cost: asked.amount,
        acquired_on: asked.date,
        treatment,
        category: asked.line.category.unwrap_or(usual),
        standing: if deducted { LotStanding::Expensed } else { LotStanding::OnHand },
    }));
    Ok(Kept { source, treatments: vec![(treatment, asked.amount)] })
}

fn a_tool(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    tool: &ToolAsked,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Kept, Refusal> {
    no_objects(asked.line, "a tool; what it is used for is said as its uses are logged")?;
    only(asked.line, Treatment::Tool, "a tool")?;
    let source = bring_in(pen, asked, asked.amount, tool, entry, recording).at("/tool")?;
    Ok(Kept { source, treatments: vec![(Treatment::Tool, asked.amount)] })
}

/// Takes one tool in at `amount`; its source.
fn bring_in(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    amount: Money,
    tool: &ToolAsked,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<SourceId, Refusal> {
    let at_rate = &asked.facts.at_rate;
    let mut arrival = ToolArrival::new(ToolOrigin::Bought, asked.date, amount, at_rate);
    arrival.exchange = asked.exchange;
    arrival.invoice_price = Some(asked.amount);
    let source = pen.new_source();
    let row = tool.tool(ToolId(pen.ids.next()), source, &arrival)?;
    entry.debit(Account::ToolsAtCost, amount, None);
    let opened = Source { id: source, side: Side::Cost, kind: SourceKind::Tool, text: row.name.clone() };
    recording.open_source(opened, asked.date, amount, asked.place);
    recording.rows.push(Row::Tool(row));
    Ok(source)
}

/// A line that is several tools: its amount is split over them by their values, left-over cents to the largest
/// remainders, and each is then a tool with a line's part and a source of its own.
/// # Source
/// IRS Publication 551, allocating the basis: things bought together for a lump sum share it by their fair values
/// (from memory).
fn several_tools(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<(), Refusal> {
    let line = asked.line;
    no_objects(line, "several tools; what they are used for is said as their uses are logged")?;
    only(line, Treatment::Tool, "several tools")?;
    let mut findings = Findings::new();
    let mut weights = Vec::with_capacity(line.tools.len());
    for (place, one) in line.tools.iter().enumerate() {
        let value = one.fair_value.positive(asked.exchange.currency);
        let value = findings.keep(value.at(&format!("/tools/{place}/fair_value")));
        weights.extend(value.map(|value| value.amount()));
    }
    findings.or_refuse()?;
    let parts = split_by_largest_remainder(asked.amount, &weights).at("/tools")?;
    let mut findings = Findings::new();
    for (part, (one, amount)) in line.tools.iter().zip(parts).enumerate() {
        let brought = bring_in(pen, asked, amount, &one.tool, entry, recording);
        let Some(source) = findings.keep(brought.at(&format!("/tools/{part}/tool"))) else { continue };
        let (name, value) = (one.tool.name.trim(), one.fair_value);
        recording.notes.push(format!("{name}: {amount} of the {}, by its value of {value}.", asked.amount));
        recording.rows.push(Row::PurchaseLine(PurchaseLine {
            position: asked.position,
            part,
            text: line.text.clone(),
            source,
            amount,
            treatments: vec![(Treatment::Tool, amount)],
            vehicle: None,
        }));
    }
    recording.notes.push(format!(
        "One price bought them, so {} is what the invoice proves: the de minimis safe harbor looks at that. If the invoice \
         names a price for each, make a line of each.",
        asked.amount
    ));
    findings.or_refuse()
}

fn into_a_piece(
    asked: &LineAsked<'_>,
    piece: PieceId,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Kept, Refusal> {
    no_objects(asked.line, "part of a piece, and its cost is the piece's")?;
    let found = asked.facts.pieces.iter().find(|one| one.piece.id == piece);
    let unknown = RecordFinding::Unknown { what: "furniture" };
    let found = found.ok_or(unknown).at("/piece")?;
    only(asked.line, found.piece.treatment, "part of a piece")?;
    found.takes_costs_on(asked.date).at("/piece")?;
    let (account, class) = found.books_to(TaxClass::ResaleMaterials);
    entry.debit(account, asked.amount, class);
    found.take_cost(recording, asked.date, asked.amount, asked.place);
    recording.depends_on.push(found.record);
    Ok(Kept { source: found.piece.source, treatments: vec![(found.piece.treatment, asked.amount)] })
}

fn a_piece(
    pen: &mut Pen<'_>,
    asked: &LineAsked<'_>,
    new: &PieceAsked,
    entry: &mut EntryDraft,
    recording: &mut Recording,
) -> Result<Kept, Refusal> {
    if new.name.trim().is_empty() {
        return Err(Refusal::new("/new_piece/name", RecordFinding::NeedsText { what: "name" }));
    }
    let treatment = match (new.purpose, new.class) {
        (PiecePurpose::Set, class) => Treatment::Expense(class.unwrap_or(ExpenseClass::Supplies)),
        (_, Some(_)) => {
            return Err(Refusal::new("/new_piece/class", PurchaseFinding::ClassOnlyForSetPieces));
        }
        (PiecePurpose::Resale, None) => Treatment::Resale,
        (PiecePurpose::Personal, None) => Treatment::Personal,
    };
    only(asked.line, treatment, "a piece")?;
    let object = match asked.line.objects.as_slice() {
        [] => None,
        [one] => Some(ObjectAsked { episode: one.episode, project: one.project }.object().at("/for/0")?),
        _ => {
            let several = super::super::objects::ObjectFinding::MoreThanOneNamed;
            return Err(Refusal::new("/for", several));
        }
    };
    let piece = Piece {
        id: PieceId(pen.ids.next()),
        source: pen.new_source(),
        name: new.name.clone(),
        origin: PieceOrigin::Bought,
        purpose: new.purpose,
        acquired_on: asked.date,
        basis: Basis::Known(asked.amount),
        value: None,
        treatment,
        object,
    };
    let (source, text) = (piece.source, piece.name.clone());
    let (account, class) = treatment.books_to(TaxClass::ResalePurchases);
    entry.debit(account, asked.amount, class);
    recording.sources.push(Source { id: source, side: Side::Cost, kind: SourceKind::Piece, text });
    recording.rows.push(Row::Piece(piece.clone()));
    recording.about.extend(object);
    // The record's own id is not known to the rules, and nothing here depends on it.
    let in_work = PieceInWork { piece, record: super::super::ids::RecordId(source.0), gone: None };
    in_work.take_cost(recording, asked.date, asked.amount, asked.place);
    Ok(Kept { source, treatments: vec![(treatment, asked.amount)] })
}
