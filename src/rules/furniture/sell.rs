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
use super::super::rows::{
    ConsignmentAct, DepositAct, PieceConsignment, PieceDeposit, PieceSale, Row, SaleCharacter,
};
use super::PieceFacts;
use super::character::OnSale;

/// The sale of a piece that the books know.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSale {
    pub date: NaiveDate,
    /// What the buyer paid for the piece, before fees and without sales tax; above zero. A deposit taken before is part of
    /// it.
    pub gross: Amount,
    /// What the marketplace kept. Of a piece that stands in a shop, the shop's commission where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fees: Option<Amount>,
    /// The money account that took the rest.
    pub paid_into: MoneyAccountId,
    /// The buyer or the marketplace; the shop where a piece stands in one.
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
    DepositMoreThanPrice { held: Money, comes: Money },
}

impl Explain for SellFinding {
    fn say(&self) -> Said {
        match self {
            Self::FeesMoreThanGross { fees, gross } => Said::invalid(
                format!("fees of {fees} are more than the {gross} it was sold for"),
                "correct one of the two; a charge of its own is a purchase",
            ),
            Self::DepositMoreThanPrice { held, comes } => Said::conflict(
                format!("a deposit of {held} is held, and the sale brings {comes} after fees"),
                "give the whole price in gross, or pay what is too much of the deposit back first",
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

impl Terms {
    /// What the buyer's money comes to after fees, sales tax included.
    pub(super) fn comes(&self) -> Result<Money, MoneyFinding> {
        self.net.plus(self.tax_collected)
    }

    /// A price without fees and sales tax.
    pub(super) fn of_price(gross: Money) -> Self {
        let nothing = Money::zero(gross.currency());
        Self { gross, fees: nothing, net: gross, tax_collected: nothing, tax_by_marketplace: nothing }
    }
}

/// What the buyer gave: accounts to debit, which come to the net and the sales tax together.
pub(super) type Paid = [(Account, Money, Option<TaxClass>)];

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
    facts.may_be_sold(sale.date, &mut findings);
    let named = ObjectAsked { episode: sale.episode, project: sale.project }.optional();
    let named = findings.keep(named).flatten();
    let exchange = findings.keep(Exchange::on(sale.date, sale.currency, sale.rate, pen.base()));
    let commission = facts.consigned.as_ref().map(|(_, at)| at.commission);
    let mut terms = exchange.and_then(|exchange| read(sale, exchange, &mut findings));
    if let (Some(terms), Some(commission), None) = (&mut terms, commission, sale.fees) {
        terms.fees = terms.gross.portion(commission, Decimal::ONE_HUNDRED)?;
        terms.net = terms.gross.minus(terms.fees)?;
    }
    let held = facts.deposits.held;
    if let Some(terms) = &terms {
        let comes = terms.comes()?;
        if held.amount() > comes.amount() {
            findings.add(SellFinding::DepositMoreThanPrice { held, comes });
        }
    }
    findings.or_refuse()?;
    let text = format!("{} sold", piece.name);
    let mut rec = Recording::new(Word::Furniture, "sale", sale.date, text);
    rec.party = sale.party.or(facts.consigned.as_ref().map(|(_, at)| at.shop));
    rec.depends_on = facts.records();
    if let Some(terms) = terms {
        let (incurred, added) = (facts.incurred(pen.base())?, facts.added(pen.base())?);
        let on_sale = OnSale { piece, incurred, added, attributed: facts.attributed };
        let in_money = terms.comes()?.minus(held)?;
        let paid = [(Account::DepositsReceived, held, None), (paid_into.receiving(), in_money, None)];
        hand_over(pen, &mut rec, &on_sale, &terms, &paid, named.or(piece.object))?;
        settle_before(&mut rec, facts, &terms)?;
    }
    Ok(rec)
}

/// What stood open on the piece is settled by its sale: the deposit, the shop.
fn settle_before(rec: &mut Recording, facts: &PieceFacts, terms: &Terms) -> Result<(), MoneyFinding> {
    let (piece, date, held) = (facts.piece.id, rec.date, facts.deposits.held);
    if held.is_positive() {
        rec.depends_on.extend(&facts.deposits.records);
        rec.notes.push(format!("A deposit of {held} taken before is part of the price."));
        let act = DepositAct::Applied;
        rec.rows.push(Row::PieceDeposit(PieceDeposit { piece, date, act, amount: held }));
    }
    if let Some((record, at)) = &facts.consigned {
        rec.depends_on.push(*record);
        let (fees, share) = (terms.fees, at.commission.normalize());
        let agreed = terms.gross.portion(at.commission, Decimal::ONE_HUNDRED)?;
        rec.notes.push(format!(
            "Sold by the shop: the whole price counts as sold, and the {fees} that it kept are its commission."
        ));
        if fees != agreed {
            rec.notes.push(format!(
                "{share} % was agreed, which would be {agreed}: ask the shop, or reverse the sale and give the fees that it \
                 kept."
            ));
        }
        let act = ConsignmentAct::SoldThere;
        rec.rows.push(Row::PieceConsignment(PieceConsignment { date, act, ..at.clone() }));
    }
    Ok(())
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
    paid: &Paid,
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
        SaleCharacter::StockInTrade => stock_sold(pen, rec, on_sale, terms, paid, object)?,
        SaleCharacter::PersonalProperty => {
            let (account, class) = (Account::OwnerContribution, TaxClass::PersonalPropertySale);
            let label = Label::PersonalPieceSold;
            recovered(pen, rec, on_sale, terms, paid, object, Recovered { account, class, label })?;
        }
        SaleCharacter::BusinessProperty => {
            let (account, class) = (Account::BusinessPropertySales, TaxClass::BusinessPropertySale);
            let label = Label::SetPieceSold;
            recovered(pen, rec, on_sale, terms, paid, object, Recovered { account, class, label })?;
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
fn money_in(pen: &Pen<'_>, rec: &Recording, terms: &Terms, paid: &Paid) -> EntryDraft {
    let mut entry = pen.entry(rec.date, rec.text.clone());
    for (account, amount, class) in paid {
        entry.debit(*account, *amount, *class);
    }
    entry.credit(Account::SalesTaxCollected, terms.tax_collected, None);
    entry
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
    paid: &Paid,
    object: Option<CostObject>,
) -> Result<(), Refusal> {
    let date = rec.date;
    let mut entry = money_in(pen, rec, terms, paid);
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
    paid: &Paid,
    object: Option<CostObject>,
    to: Recovered,
) -> Result<(), Refusal> {
    let date = rec.date;
    let mut entry = money_in(pen, rec, terms, paid);
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
