//! Purchases: one receipt with its lines. Every line answers two questions that do not depend on each other: what
//! was it for, and what is it to the tax office.

mod finding;
mod give_back;
mod line;
mod pay;
mod rebate;
mod spread;
#[cfg(test)]
mod tests;

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{DocumentId, MoneyAccountId, PartyId, PieceId, RecordId, ToolId};
use super::journal::{Account, EntryDraft, ExpenseClass};
use super::money::{Amount, Currency, Exchange, Money, Quantity, Rate};
use super::named::named;
use super::objects::ObjectShare;
use super::pieces::PieceInWork;
use super::recording::{AccountingMethod, Category, MoneyAccount, Pen, Recording, Word};
use super::refusal::{At, Findings, Refusal};
use super::rows::{DocumentAttachment, DocumentOnHand, PiecePurpose, Proved, Row};
use super::split::split_by_largest_remainder;
use super::tool_terms::ToolAsked;
use super::treatment::{TreatmentAsked, TreatmentShare};
use super::units::KeptIn;
use super::vehicles::VehiclesAtRate;

pub use finding::PurchaseFinding;
pub use give_back::{
    GivenBack, GoodsBack, LineBought, LotBought, NewPurchaseReturn, PurchaseBought, give_back,
};
pub use pay::{NewPurchasePayment, PurchaseToPay, pay};

/// One receipt. The lines, tax and delivery less the discount come to the total.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPurchase {
    /// The day it was paid; a card charge counts on its day. With `payment` later, the day of the invoice.
    pub date: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// The account that paid all of it: a bank, a card, store credit, the own pocket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    /// Where several accounts paid: each with its amount; together they come to the total.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub paid: Vec<PaidPart>,
    /// `now` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub payment: Option<PaymentTime>,
    /// What the receipt says was paid in all.
    pub total: Amount,
    /// Sales tax; spread over the lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax: Option<Amount>,
    /// Delivery; spread over the lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub delivery: Option<Amount>,
    /// A discount on the whole receipt; spread over the lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discount: Option<Amount>,
    /// The lines of the receipt.
    #[schema(min_items = 1, max_items = 500)]
    pub lines: Vec<NewPurchaseLine>,
    /// The pictures or papers that prove it, out of the inbox.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub documents: Vec<DocumentId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

named! {
    /// Whether the receipt is paid as it is recorded.
    pub enum PaymentTime { Now => "now", Later => "later" }
}

/// What one account paid of a receipt.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PaidPart {
    pub account: MoneyAccountId,
    pub amount: Amount,
}

/// One line of a receipt, before tax, delivery and discount. It goes to at most one of `stock`, `tool`, `tools`,
/// `piece`, `new_piece` and `repairs`; without one it goes to the episodes and projects of `for`, or stays overhead.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPurchaseLine {
    /// What it says on the receipt.
    #[schema(min_length = 1, max_length = 300, example = "pine boards, planed")]
    pub text: String,
    pub amount: Amount,
    /// What it was for: shares that total 100, or none for equal parts. Left out: overhead.
    #[serde(default, rename = "for", skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub objects: Vec<ObjectShare>,
    /// What it is to the tax office: shares that total 100.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub treatments: Vec<TreatmentShare>,
    /// The line of the cost statement; the usual one of its treatment where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
    /// It went on the shelf; what it is to the tax office is decided as it is issued.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock: Option<StockAsked>,
    /// It is a tool, used on many episodes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tool: Option<ToolAsked>,
    /// It is several tools for one price, such as a drill and driver kit: the line is split over them by their values,
    /// and each is a tool of its own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub tools: Vec<ToolInBundle>,
    /// It went into a piece of furniture that the books have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    /// It is a piece of furniture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub new_piece: Option<PieceAsked>,
    /// With class repairs: the tool that it keeps in working order. What makes a tool better, restores it or fits it for
    /// another use is an improvement: `POST /v1/tools/{id}/improvements`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repairs: Option<ToolId>,
    /// With class vehicle: which vehicle; actual costs and the standard rate do not go together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 100)]
    pub vehicle: Option<String>,
}

/// Stock that a line put on the shelf.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockAsked {
    /// Lots of one material share its name.
    #[schema(min_length = 1, max_length = 200, example = "birch plywood 18 mm")]
    pub material: String,
    /// The unit it was bought in.
    #[schema(min_length = 1, max_length = 40, example = "square foot")]
    pub unit: String,
    pub quantity: Quantity,
    /// Another unit that it is kept and used in: two boxes with a factor of 12 pieces are 24 pieces on the shelf.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_in: Option<KeptIn>,
    /// What an issue is to the tax office unless it says otherwise; an expense of class supplies where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
}

/// One tool of several that a line bought together.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolInBundle {
    /// What it would have cost by itself that day, in the currency of the receipt; its weight in the price.
    pub fair_value: Amount,
    pub tool: ToolAsked,
}

/// A piece of furniture that a line bought.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceAsked {
    #[schema(min_length = 1, max_length = 200, example = "oak dresser with four drawers")]
    pub name: String,
    pub purpose: PiecePurpose,
    /// For a set piece: the class of expense; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<ExpenseClass>,
}

/// A tool that a line repairs.
#[derive(Clone, Debug)]
pub struct ToolInRepair {
    pub tool: ToolId,
    /// The record that brought it.
    pub record: RecordId,
    pub name: String,
    pub came_on: NaiveDate,
    pub left_on: Option<NaiveDate>,
}

/// What the rules must know beside the receipt.
#[derive(Clone, Debug, Default)]
pub struct PurchaseFacts {
    /// The account of `paid_from`, or those of `paid` in their order.
    pub accounts: Vec<MoneyAccount>,
    /// The pieces that lines name.
    pub pieces: Vec<PieceInWork>,
    /// The tools that lines repair.
    pub tools: Vec<ToolInRepair>,
    /// Loaded where a line names a vehicle or is a tool.
    pub at_rate: VehiclesAtRate,
    /// Those that the receipt names.
    pub documents: Vec<DocumentOnHand>,
}

/// Records a receipt: each line's two answers, spread to the cent.
/// # Errors
/// [`PurchaseFinding`] and the findings of lines, all at once.
pub fn record(pen: &mut Pen<'_>, facts: &PurchaseFacts, new: &NewPurchase) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(payment_named(new));
    findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let proofs = findings.keep(proofs(&facts.documents)).unwrap_or_default();
    findings.or_refuse()?;
    let mut recording = recorded(pen, facts, new)?;
    recording.rows.extend(proofs);
    recording.depends_on.extend(facts.documents.iter().map(|document| document.record));
    Ok(recording)
}

/// That the documents prove the receipt.
fn proofs(documents: &[DocumentOnHand]) -> Result<Vec<Row>, Refusal> {
    let mut findings = Findings::new();
    let mut rows = Vec::with_capacity(documents.len());
    for (place, document) in documents.iter().enumerate() {
        if let Some(by) = document.taken_back {
            let why = PurchaseFinding::DocumentTakenBack { by };
            findings.add(Refusal::new(format!("/documents/{place}"), why));
        }
        let attachment = DocumentAttachment { document: document.id, proves: Proved::ThisRecord };
        rows.push(Row::DocumentAttachment(attachment));
    }
    findings.or_refuse()?;
    Ok(rows)
}

fn recorded(pen: &mut Pen<'_>, facts: &PurchaseFacts, new: &NewPurchase) -> Result<Recording, Refusal> {
    let later = new.payment == Some(PaymentTime::Later);
    if later && pen.books.method == AccountingMethod::Cash {
        // Checked as if it were paid, so that the payment finds nothing left to mend; kept without an entry.
        let checked = bought(pen, facts, new, new.date, &[])?;
        let mut invoice = Recording::new(Word::Purchases, "invoice", new.date, checked.text);
        invoice.party = new.party;
        invoice.about = checked.attributions.iter().map(|one| one.object).collect();
        invoice
            .notes
            .push("an invoice posts nothing in cash books: it counts on the day it is paid".to_owned());
        return Ok(invoice);
    }
    let exchange = Exchange::of(new.currency, new.rate, pen.base())?;
    let credits = if later { Vec::new() } else { paid_parts(exchange, facts, new)? };
    bought(pen, facts, new, new.date, &credits)
}

fn payment_named(new: &NewPurchase) -> Result<(), Refusal> {
    let named = new.paid_from.is_some() || !new.paid.is_empty();
    match (new.payment.unwrap_or(PaymentTime::Now), named) {
        (PaymentTime::Later, true) => Err(Refusal::new("/payment", PurchaseFinding::PaidThoughLater)),
        (PaymentTime::Now, false) => Err(Refusal::new("/paid_from", PurchaseFinding::NotPaidByAnything)),
        _ if new.paid_from.is_some() && !new.paid.is_empty() => {
            Err(Refusal::new("/paid", PurchaseFinding::PaidTwoWays))
        }
        _ => Ok(()),
    }
}

/// The accounts to credit and their weights in the total.
fn paid_parts(
    exchange: Exchange,
    facts: &PurchaseFacts,
    new: &NewPurchase,
) -> Result<Vec<(Account, Money)>, Refusal> {
    let total = new.total.not_negative(exchange.currency).at("/total")?;
    if new.paid.is_empty() {
        return Ok(facts.accounts.iter().map(|account| (account.paying(), total)).collect());
    }
    let mut findings = Findings::new();
    let mut parts = Vec::new();
    for (place, (part, account)) in new.paid.iter().zip(&facts.accounts).enumerate() {
        let amount = part.amount.positive(exchange.currency).at(&format!("/paid/{place}/amount"));
        parts.extend(findings.keep(amount).map(|amount| (account.paying(), amount)));
    }
    findings.or_refuse()?;
    let paid = Money::sum(exchange.currency, parts.iter().map(|(_, amount)| *amount))?;
    if paid != total {
        return Err(Refusal::new("/paid", PurchaseFinding::PaymentsDoNotAddUp { paid, total }));
    }
    Ok(parts)
}

/// The whole recording; without credits it is owed.
fn bought(
    pen: &mut Pen<'_>,
    facts: &PurchaseFacts,
    new: &NewPurchase,
    date: NaiveDate,
    credits: &[(Account, Money)],
) -> Result<Recording, Refusal> {
    let exchange = Exchange::of(new.currency, new.rate, pen.base())?;
    let (total, amounts) = spread::over_lines(exchange, new)?;
    let text = new.lines.first().map_or_else(String::new, |first| match new.lines.len() {
        1 => first.text.clone(),
        more => format!("{} and {} more", first.text, more - 1),
    });
    let mut recording = Recording::new(Word::Purchases, "purchase", date, text.clone());
    recording.party = new.party;
    let mut entry = pen.entry(date, text);
    let mut findings = Findings::new();
    // The entry is added last, and it is the only one.
    let place = (!total.is_zero()).then_some(0);
    for (position, (line, amount)) in new.lines.iter().zip(amounts).enumerate() {
        let booked = line::book(
            pen,
            &line::LineAsked { facts, line, position, amount, date, place, exchange },
            &mut entry,
            &mut recording,
        );
        findings.keep(booked.at(&format!("/lines/{position}")));
    }
    findings.or_refuse()?;
    credit(&mut entry, credits, total)?;
    recording.post(entry)?;
    Ok(recording)
}

fn credit(entry: &mut EntryDraft, credits: &[(Account, Money)], total: Money) -> Result<(), Refusal> {
    if credits.is_empty() {
        entry.credit(Account::Payables, total, None);
        return Ok(());
    }
    if total.is_zero() {
        return Ok(());
    }
    let weights: Vec<_> = credits.iter().map(|(_, amount)| amount.amount()).collect();
    for ((account, _), part) in credits.iter().zip(split_by_largest_remainder(total, &weights)?) {
        entry.credit(*account, part, None);
    }
    Ok(())
}

/// Whether that vehicle's actual costs may be recorded in that year.
fn check_vehicle(facts: &PurchaseFacts, vehicle: &str, date: NaiveDate) -> Result<(), Refusal> {
    let year = date.year();
    if facts.at_rate.has(vehicle, year) {
        return Err(PurchaseFinding::StandardRateTaken { vehicle: vehicle.to_owned(), year }.into());
    }
    Ok(())
}
