//! A piece that the books know is sold.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PartyId, ProjectId};
use super::super::journal::{Account, EntryDraft, ExpenseClass, Stream, TaxClass};
use super::super::money::{Amount, Currency, Exchange, Money, MoneyFinding, Rate};
use super::super::objects::ObjectAsked;
use super::super::recording::{
    Category, CostObject, Label, MoneyAccount, Pen, Recording, Side, Source, SourceKind, Word,
};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{PieceSale, Row, SaleCharacter};
use super::PieceFacts;
use super::character::OnSale;

/// The sale of a piece that the books know.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSale {
    pub date: NaiveDate,
    /// What the buyer paid for the piece, before fees and without sales tax; above zero.
    pub gross: Amount,
    /// What the marketplace kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fees: Option<Amount>,
    /// The money account that took the rest.
    pub paid_into: MoneyAccountId,
    /// The buyer or the marketplace.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    /// The episode it counts for; the piece's own where neither episode nor project is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Sales tax that came with the money and is owed on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sales_tax_collected: Option<Amount>,
    /// Sales tax that the marketplace took and pays on itself: noted, never posted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sales_tax_by_marketplace: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What can be wrong with a sale.
#[derive(Clone, Debug, PartialEq)]
pub enum SellFinding {
    FeesMoreThanGross { fees: Money, gross: Money },
}

impl Explain for SellFinding {
    fn say(&self) -> Said {
        match self {
            Self::FeesMoreThanGross { fees, gross } => Said::invalid(
                format!("fees of {fees} are more than the {gross} it was sold for"),
                "correct one of the two; a charge of its own is a purchase",
            ),
        }
    }
}

/// The money of a sale in the books' base currency.
pub(super) struct Terms {
    gross: Money,
    fees: Money,
    net: Money,
    tax_collected: Money,
    tax_by_marketplace: Money,
}

/// Sells a piece. Its purpose decides the character: resale is stock in trade (gross receipts and the cost of
/// the piece sold), personal is the owner's own property (proceeds net of fees are contributed, never business
/// income), set is business property. `paid_into` is the account that `sale.paid_into` names.
///
/// # Errors
/// [`SellFinding`], [`GoingFinding`](super::GoingFinding) and the ground's findings at their fields, all at once: a piece already sold, a sale before
/// the piece came or before its last cost, fees above the gross, a gross that is not above zero.
/// # Source
/// IRS Publication 334 ch. 5-7, gross receipts and cost of goods sold; IRS FS-2023-06, own things sold (seen in
/// pages copying them).
pub fn sell(
    pen: &mut Pen<'_>,
    facts: &PieceFacts,
    paid_into: MoneyAccount,
    sale: &NewSale,
) -> Result<Recording, Refusal> {
    let piece = &facts.piece;
    let mut findings = Findings::new();
    findings.keep(pen.open_day(sale.date));
    facts.may_go(sale.date, &mut findings);
    let named = ObjectAsked { episode: sale.episode, project: sale.project }.optional();
    let named = findings.keep(named).flatten();
    let exchange = findings.keep(Exchange::of(sale.currency, sale.rate, pen.base()));
    let terms = exchange.and_then(|exchange| read(sale, exchange, &mut findings));
    findings.or_refuse()?;
    let text = format!("{} sold", piece.name);
    let mut rec = Recording::new(Word::Furniture, "sale", sale.date, text);
    rec.party = sale.party;
    rec.depends_on = facts.records();
    if let Some(terms) = terms {
        let (incurred, added) = (facts.incurred(pen.base())?, facts.added(pen.base())?);
        let on_sale = OnSale { piece, incurred, added, attributed: facts.attributed };
        hand_over(pen, &mut rec, &on_sale, &terms, paid_into, named.or(piece.object))?;
    }
    Ok(rec)
}

/// Reads the amounts; what is wrong with them goes to `findings`.
pub(super) fn read(sale: &NewSale, exchange: Exchange, findings: &mut Findings) -> Option<Terms> {
    let gross = match sale.gross.decimal() {
        amount if amount > Decimal::ZERO => exchange.base_of(sale.gross),
        amount => Err(MoneyFinding::NotPositive { amount }),
    };
    let gross = findings.keep(gross.at("/gross"));
    let mut optional = |amount: Option<Amount>, pointer: &str| {
        let amount = match amount {
            Some(amount) if amount.decimal() < Decimal::ZERO => {
                Err(MoneyFinding::Negative { amount: amount.decimal() })
            }
            Some(amount) => exchange.base_of(amount),
            None => Ok(Money::zero(exchange.base)),
        };
        findings.keep(amount.at(pointer))
    };
    let fees = optional(sale.fees, "/fees");
    let tax_collected = optional(sale.sales_tax_collected, "/sales_tax_collected");
    let tax_by_marketplace = optional(sale.sales_tax_by_marketplace, "/sales_tax_by_marketplace");
    let (gross, fees) = (gross?, fees?);
    let net = findings.keep(gross.minus(fees))?;
    if net.is_negative() {
        findings.add(Refusal::new("/fees", SellFinding::FeesMoreThanGross { fees, gross }));
    }
    Some(Terms { gross, fees, net, tax_collected: tax_collected?, tax_by_marketplace: tax_by_marketplace? })
}

/// Writes the sale into `rec`: its entry, its sources and what counts for `object`.
pub(super) fn hand_over(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    on_sale: &OnSale<'_>,
    terms: &Terms,
    paid_into: MoneyAccount,
    object: Option<CostObject>,
) -> Result<(), Refusal> {
    let sale = PieceSale {
        piece: on_sale.piece.id,
        date: rec.date,
        gross: terms.gross,
        fees: terms.fees,
        basis: on_sale.basis(pen.base())?,
        basis_for_loss: on_sale.basis_for_loss(pen.base())?,
        character: on_sale.character(),
    };
    match sale.character {
        SaleCharacter::StockInTrade => stock_sold(pen, rec, on_sale, terms, paid_into, object)?,
        SaleCharacter::PersonalProperty => {
            let (account, class) = (Account::OwnerContribution, TaxClass::PersonalPropertySale);
            let label = Label::PersonalPieceSold;
            recovered(pen, rec, on_sale, terms, paid_into, object, Recovered { account, class, label })?;
        }
        SaleCharacter::BusinessProperty => {
            let (account, class) = (Account::BusinessPropertySales, TaxClass::BusinessPropertySale);
            let label = Label::SetPieceSold;
            recovered(pen, rec, on_sale, terms, paid_into, object, Recovered { account, class, label })?;
        }
    }
    rec.notes.extend(on_sale.in_words(&sale)?);
    if !terms.tax_by_marketplace.is_zero() {
        rec.notes.push(format!(
            "Sales tax of {} was collected and paid on by the marketplace: noted, not posted.",
            terms.tax_by_marketplace
        ));
    }
    if object.is_none() {
        rec.notes.push("It counts for no episode or project, since none is named.".to_owned());
    }
    rec.rows.push(Row::PieceSale(sale));
    Ok(())
}

/// The entry's first half: what came in, with the sales tax that is owed on.
fn money_in(
    pen: &Pen<'_>,
    rec: &Recording,
    terms: &Terms,
    paid_into: MoneyAccount,
) -> Result<EntryDraft, Refusal> {
    let mut entry = pen.entry(rec.date, rec.text.clone());
    entry.debit(paid_into.receiving(), terms.net.plus(terms.tax_collected)?, None);
    entry.credit(Account::SalesTaxCollected, terms.tax_collected, None);
    Ok(entry)
}

fn sale_source(pen: &mut Pen<'_>, on_sale: &OnSale<'_>, side: Side) -> Source {
    Source {
        id: pen.new_source(),
        side,
        kind: SourceKind::PieceSold,
        text: format!("{} sold", on_sale.piece.name),
    }
}

fn stock_sold(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    on_sale: &OnSale<'_>,
    terms: &Terms,
    paid_into: MoneyAccount,
    object: Option<CostObject>,
) -> Result<(), Refusal> {
    let date = rec.date;
    let mut entry = money_in(pen, rec, terms, paid_into)?;
    let fees = ExpenseClass::CommissionsFees;
    entry.debit(Account::Expense(fees), terms.fees, fees.tax_class());
    entry.credit(Account::Income(Stream::Furniture), terms.gross, Stream::Furniture.tax_class());
    entry.debit(Account::CostOfPiecesSold, on_sale.incurred, None);
    entry.credit(Account::PiecesForResale, on_sale.incurred, None);
    let entry = rec.post(entry)?;
    rec.streams.push(Stream::Furniture);
    let label = Label::Stream(Stream::Furniture);
    for (side, amount) in [(Side::Income, terms.gross), (Side::Fee, terms.fees)] {
        if amount.is_zero() {
            continue;
        }
        let source = sale_source(pen, on_sale, side);
        let id = source.id;
        rec.open_source(source, date, amount, entry);
        if let Some(object) = object {
            rec.attribute(id, date, object, label, amount);
        }
    }
    let unattributed = on_sale.incurred.minus(on_sale.attributed)?;
    if let Some(object) = object.filter(|_| unattributed.is_positive()) {
        let label = Label::Category(Category::PiecesSold);
        rec.attribute(on_sale.piece.source, date, object, label, unattributed);
    }
    Ok(())
}

/// Where proceeds that are no business income are credited, and what they are called on a statement.
struct Recovered {
    account: Account,
    class: TaxClass,
    label: Label,
}

fn recovered(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    on_sale: &OnSale<'_>,
    terms: &Terms,
    paid_into: MoneyAccount,
    object: Option<CostObject>,
    to: Recovered,
) -> Result<(), Refusal> {
    let date = rec.date;
    let mut entry = money_in(pen, rec, terms, paid_into)?;
    entry.credit(to.account, terms.net, to.class);
    let entry = rec.post(entry)?;
    let source = sale_source(pen, on_sale, Side::Recovery);
    let id = source.id;
    rec.open_source(source, date, terms.net, entry);
    if let Some(object) = object {
        rec.attribute(id, date, object, to.label, terms.net);
    }
    Ok(())
}
