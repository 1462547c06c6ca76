//! A buyer gets money back after the sale, and the piece comes back or not.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{MoneyAccountId, RecordId, SourceId};
use super::super::journal::{Account, Draw, EntryDraft, ExpenseClass, Stream, TaxClass};
use super::super::money::{Amount, Currency, Exchange, Money, Rate};
use super::super::objects::split_like;
use super::super::recording::{
    Category, CostObject, Label, MoneyAccount, MovementKind, Pen, Recording, Side, Source, SourceKind, Word,
};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{PieceBack, PieceRefund, PieceSale, Row, SaleCharacter};
use super::PieceFacts;

/// Money goes back to a buyer.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRefund {
    /// The day it was paid back.
    pub date: NaiveDate,
    /// What of the price went back, without sales tax; above zero.
    pub amount: Amount,
    pub paid_from: MoneyAccountId,
    /// Who has the piece now.
    pub piece: PieceBack,
    /// What the marketplace gave back of its fees; it lowers what is paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fees_back: Option<Amount>,
    /// Sales tax that the owner had collected and gave back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sales_tax_back: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A sale that stands, and what of it is left.
#[derive(Clone, Debug)]
pub struct SoldFacts {
    pub record: RecordId,
    pub sale: PieceSale,
    /// Its income, fee or recovery.
    pub sources: Vec<SoldSource>,
    /// What went back of it so far, and of its fees.
    pub refunded: Money,
    pub fees_back: Money,
    /// What of the piece's cost stands with whom, and as what.
    pub cost_given: Vec<(CostObject, Label, Money)>,
    /// The last day on which any of it was given or went back.
    pub last: Option<NaiveDate>,
}

/// One source of a sale.
#[derive(Clone, Debug)]
pub struct SoldSource {
    pub source: SourceId,
    pub side: Side,
    pub left: Money,
    pub attributed: Vec<(CostObject, Money)>,
}

/// What can be wrong with a refund.
#[derive(Clone, Debug, PartialEq)]
pub enum RefundFinding {
    NotSold { name: String },
    BeforeTheSale { sold_on: NaiveDate, date: NaiveDate },
    BeforeItWasGiven { last: NaiveDate, date: NaiveDate },
    MoreThanPrice { amount: Money, left: Money },
    MoreThanFees { fees_back: Money, left: Money },
}

impl Explain for RefundFinding {
    fn say(&self) -> Said {
        match self {
            Self::NotSold { name } => Said::conflict(
                format!("{name} is not sold"),
                "name the piece that was; a deposit goes back with POST /v1/furniture/{id}/deposits/settlement",
            ),
            Self::BeforeTheSale { sold_on, date } => {
                Said::invalid(format!("{date} is before {sold_on}, the day of the sale"), "correct the date")
            }
            Self::BeforeItWasGiven { last, date } => Said::conflict(
                format!(
                    "{date} is before {last}, the day on which something of the sale was last given or went back"
                ),
                format!("give {last} or a later day"),
            ),
            Self::MoreThanPrice { amount, left } => Said::invalid(
                format!("{amount} are more than the {left} that are left of the price"),
                "correct the amount; sales tax given back goes into sales_tax_back",
            ),
            Self::MoreThanFees { fees_back, left } => Said::invalid(
                format!("fees of {fees_back} are more than the {left} that the marketplace still has"),
                "correct fees_back",
            ),
        }
    }
}

/// The money of a refund in the books' base currency.
struct Back {
    amount: Money,
    fees: Money,
    tax: Money,
}

/// Pays a buyer back. Of stock it is returns and allowances of the day it is paid, whatever year the sale was in; fees
/// that come back lower the year's fees, or are other income where they were deducted in an earlier year. Of the owner's
/// own and of a set piece it lowers the proceeds. A piece that comes back is held again: stock at what it had cost.
/// # Errors
/// [`RefundFinding`], the amounts' own, a closed day, all at once. It is never dated before what it takes back.
/// # Source
/// Schedule C instructions, line 2 (returns and allowances, seen in Publication 334 ch. 7's example); that the piece goes
/// back into stock at its cost: from memory.
pub fn refund(
    pen: &mut Pen<'_>,
    facts: &PieceFacts,
    sold: Option<&SoldFacts>,
    paid_from: MoneyAccount,
    new: &NewRefund,
) -> Result<Recording, Refusal> {
    let piece = &facts.piece;
    let Some(sold) = sold else { return Err(RefundFinding::NotSold { name: piece.name.clone() }.into()) };
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    if new.date < sold.sale.date {
        let (sold_on, date) = (sold.sale.date, new.date);
        findings.add(Refusal::new("/date", RefundFinding::BeforeTheSale { sold_on, date }));
    }
    if let Some(last) = sold.last.filter(|last| new.date < *last && new.date >= sold.sale.date) {
        findings.add(Refusal::new("/date", RefundFinding::BeforeItWasGiven { last, date: new.date }));
    }
    let back = read(sold, new, pen, &mut findings)?;
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let back = back.unwrap_or(Back { amount: nothing, fees: nothing, tax: nothing });
    let text = format!("paid back to the buyer of {}", piece.name);
    let mut rec = Recording::new(Word::Furniture, "refund", new.date, text.clone());
    rec.depends_on.push(sold.record);
    let mut entry = pen.entry(new.date, text);
    let in_money = back.amount.plus(back.tax)?.minus(back.fees)?;
    let account = if in_money.is_negative() { paid_from.receiving() } else { paid_from.paying() };
    entry.credit(account, in_money, None);
    entry.debit(Account::SalesTaxCollected, back.tax, None);
    match sold.sale.character {
        SaleCharacter::StockInTrade => stock_back(pen, &mut rec, entry, facts, sold, &back, new)?,
        SaleCharacter::PersonalProperty => {
            let to = (Account::OwnerContribution, TaxClass::PersonalPropertySale, Label::PersonalPieceSold);
            proceeds_back(pen, &mut rec, entry, sold, back.amount.minus(back.fees)?, to)?;
        }
        SaleCharacter::BusinessProperty => {
            let to = (Account::BusinessPropertySales, TaxClass::BusinessPropertySale, Label::SetPieceSold);
            proceeds_back(pen, &mut rec, entry, sold, back.amount.minus(back.fees)?, to)?;
        }
    }
    rec.notes.extend(in_words(facts, sold, &back, new));
    rec.rows.push(Row::PieceRefund(PieceRefund {
        piece: piece.id,
        sale: sold.record,
        date: new.date,
        amount: back.amount,
        fees_back: back.fees,
        back: new.piece,
    }));
    Ok(rec)
}

fn read(
    sold: &SoldFacts,
    new: &NewRefund,
    pen: &Pen<'_>,
    findings: &mut Findings,
) -> Result<Option<Back>, Refusal> {
    let Some(exchange) = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base())) else {
        return Ok(None);
    };
    let amount = new.amount.positive(exchange.currency).and_then(|own| exchange.in_base(own));
    let amount = findings.keep(amount.at("/amount"));
    let mut part = |part: Option<Amount>, pointer: &str| {
        let nothing = Money::zero(exchange.base);
        let part = part.map_or(Ok(nothing), |part| {
            part.not_negative(exchange.currency).and_then(|own| exchange.in_base(own))
        });
        findings.keep(part.at(pointer))
    };
    let (fees, tax) = (part(new.fees_back, "/fees_back"), part(new.sales_tax_back, "/sales_tax_back"));
    let (Some(amount), Some(fees), Some(tax)) = (amount, fees, tax) else { return Ok(None) };
    let left = sold.sale.gross.minus(sold.refunded)?;
    if amount.amount() > left.amount() {
        findings.add(Refusal::new("/amount", RefundFinding::MoreThanPrice { amount, left }));
    }
    let left = sold.sale.fees.minus(sold.fees_back)?;
    if fees.amount() > left.amount() {
        findings.add(Refusal::new("/fees_back", RefundFinding::MoreThanFees { fees_back: fees, left }));
    }
    Ok(Some(Back { amount, fees, tax }))
}

/// What goes back of a source lowers what its episodes were given, in the same proportion.
fn returned(
    rec: &mut Recording,
    of: &SoldSource,
    amount: Money,
    label: Label,
    entry: Option<usize>,
) -> Result<(), Refusal> {
    let date = rec.date;
    rec.moves(of.source, date, MovementKind::Returned, amount.negated(), entry);
    for (object, part) in split_like(amount, &of.attributed, of.left)? {
        rec.attribute(of.source, date, object, label, part.negated());
    }
    Ok(())
}

fn stock_back(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    mut entry: EntryDraft,
    facts: &PieceFacts,
    sold: &SoldFacts,
    back: &Back,
    new: &NewRefund,
) -> Result<(), Refusal> {
    let (date, label) = (rec.date, Label::Stream(Stream::Furniture));
    let same_year = date.year() == sold.sale.date.year();
    entry.debit(Account::ReturnsAllowances, back.amount, TaxClass::ReturnsAllowances);
    let fees = ExpenseClass::CommissionsFees;
    if same_year {
        entry.credit(Account::Expense(fees), back.fees, fees.tax_class());
    } else {
        entry.credit(Account::Income(Stream::Other), back.fees, Stream::Other.tax_class());
    }
    let cost = match new.piece {
        PieceBack::CameBack => facts.incurred(pen.base())?,
        PieceBack::KeptByBuyer => Money::zero(pen.base()),
    };
    entry.debit(Account::PiecesForResale, cost, None);
    entry.credit(Account::CostOfPiecesSold, cost, None);
    let entry = rec.post(entry)?;
    rec.streams.push(Stream::Furniture);
    for of in &sold.sources {
        match of.side {
            Side::Income => returned(rec, of, back.amount, label, entry)?,
            Side::Fee if same_year => returned(rec, of, back.fees, label, entry)?,
            Side::Fee if back.fees.is_positive() => {
                let id = pen.new_source();
                let text = format!("fees on {} given back", facts.piece.name);
                let source = Source { id, side: Side::Income, kind: SourceKind::PieceSold, text };
                rec.open_source(source, date, back.fees, entry);
                for (object, part) in split_like(back.fees, &of.attributed, of.left)? {
                    rec.attribute(id, date, object, Label::Stream(Stream::Other), part);
                }
                rec.streams.push(Stream::Other);
            }
            _ => {}
        }
    }
    if new.piece == PieceBack::CameBack {
        // It went out of stock and comes in again: what is given of it from now on stands on this record.
        let source = facts.piece.source;
        rec.moves(source, date, MovementKind::Removed, cost.negated(), entry);
        rec.moves(source, date, MovementKind::Incurred, cost, entry);
        for (object, label, part) in &sold.cost_given {
            rec.attribute(source, date, *object, *label, part.negated());
        }
    }
    Ok(())
}

/// No more goes back of the proceeds than is left of them. What is paid above that is a fee that the marketplace did not
/// give back: the owner's own loss, or with a set piece a cost.
fn proceeds_back(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    mut entry: EntryDraft,
    sold: &SoldFacts,
    amount: Money,
    (account, class, label): (Account, TaxClass, Label),
) -> Result<(), Refusal> {
    let of = sold.sources.iter().find(|of| of.side == Side::Recovery);
    let left = of.map_or(Money::zero(pen.base()), |of| of.left);
    let lowers = amount.at_most(left);
    let lost = amount.minus(lowers)?;
    entry.debit(account, lowers, class);
    let business = sold.sale.character == SaleCharacter::BusinessProperty;
    let fees = ExpenseClass::CommissionsFees;
    if business {
        entry.debit(Account::Expense(fees), lost, fees.tax_class());
    } else {
        entry.debit(Account::Draw(Draw::Cash), lost, None);
    }
    let entry = rec.post(entry)?;
    let Some(of) = of else { return Ok(()) };
    returned(rec, of, lowers, label, entry)?;
    if lost.is_zero() {
        return Ok(());
    }
    rec.notes.push(format!("{lost} of fees did not come back."));
    if business {
        let id = pen.new_source();
        let (side, kind, text) =
            (Side::Cost, SourceKind::PieceSold, "fees that did not come back".to_owned());
        rec.open_source(Source { id, side, kind, text }, rec.date, lost, entry);
        for (object, part) in split_like(lost, &of.attributed, of.left)? {
            rec.attribute(id, rec.date, object, Label::Category(Category::Other), part);
        }
    }
    Ok(())
}

fn in_words(facts: &PieceFacts, sold: &SoldFacts, back: &Back, new: &NewRefund) -> Vec<String> {
    let (name, stock) = (&facts.piece.name, sold.sale.character == SaleCharacter::StockInTrade);
    let same_year = new.date.year() == sold.sale.date.year();
    let mut said = vec![if stock {
        format!("{} are returns and allowances of {}, whatever year the sale was in.", back.amount, new.date)
    } else {
        format!("{} lower the proceeds of the sale: no business income was there to lower.", back.amount)
    }];
    said.push(match (new.piece, stock) {
        (PieceBack::CameBack, true) => {
            format!("{name} is in stock again at what it had cost, and can be sold again.")
        }
        (PieceBack::CameBack, false) => format!("{name} is held again, and can be sold again."),
        (PieceBack::KeptByBuyer, _) => format!("{name} stays with the buyer."),
    });
    if stock && !same_year && back.fees.is_positive() {
        said.push(format!(
            "Fees of {} were deducted in an earlier year: other income of this one.",
            back.fees
        ));
    }
    if !stock && !same_year {
        said.push(
            "Question to the preparer: the sale was in an earlier year. Was a gain taxed that is smaller now?".to_owned(),
        );
    }
    said
}
