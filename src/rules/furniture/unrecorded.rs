//! A piece that the books never heard of is sold: it comes and goes in one call.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PartyId, ProjectId};
use super::super::journal::{ExpenseClass, JournalFinding};
use super::super::money::{Amount, Currency, Exchange, Money, Rate};
use super::super::objects::ObjectAsked;
use super::super::recording::{MoneyAccount, Pen, Recording, Word};
use super::super::refusal::{Findings, Refusal};
use super::super::rows::{PieceOrigin, PiecePurpose};
use super::acquire::{NewPiece, bring_in, read as read_arrival};
use super::character::OnSale;
use super::going::after_it_came;
use super::sell::{NewSale, hand_over, read as read_sale};

/// The sale of a piece never recorded before: it comes and goes in one call.
#[doc(alias = "dresser")]
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPieceAndSale {
    /// What it is called, such as "old dresser".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The day of the sale.
    pub date: NaiveDate,
    /// What the buyer paid for the piece, before fees and without sales tax; above zero.
    pub gross: Amount,
    /// The money account that took what was left of it.
    pub paid_into: MoneyAccountId,
    /// Already owned where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<PieceOrigin>,
    /// Personal where it is left out: the owner's own household thing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purpose: Option<PiecePurpose>,
    /// The day the owner came to have it; of a piece that was bought, the day it was paid for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<NaiveDate>,
    /// What it cost; left out, it is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Amount>,
    /// Nobody knows what it cost: a question to the preparer, never zero.
    #[serde(default)]
    pub basis_unknown: bool,
    /// What it would have fetched as it stood when it became stock; needed with the purpose resale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// What the value rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// The money account that paid, for a piece that was bought.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    /// Of a set piece: which expense it was; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expense_class: Option<ExpenseClass>,
    /// What the marketplace kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fees: Option<Amount>,
    /// The buyer or the marketplace.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    /// The episode it counts for.
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

/// Sells a piece that was never recorded: writes the piece and its sale in one recording. Unless the request
/// says otherwise it was already owned, personal and of unknown basis.
///
/// # Errors
/// As [`sell`](super::sell()) and [`acquire`](super::acquire()), all at once.
pub fn sell_unrecorded(
    pen: &mut Pen<'_>,
    paid_from: Option<MoneyAccount>,
    paid_into: MoneyAccount,
    both: &NewPieceAndSale,
) -> Result<Recording, Refusal> {
    let (new, sale) = (both.piece(), both.sale());
    let mut findings = Findings::new();
    findings.keep(pen.open_day(both.date));
    findings.keep(after_it_came(both.date, both.acquired_on.unwrap_or(both.date)));
    let (date, first_open) = (new.date, pen.books.first_open);
    if date != both.date && date < first_open {
        findings.add(Refusal::new("/acquired_on", JournalFinding::ClosedPeriod { date, first_open }));
    }
    let object = ObjectAsked { episode: both.episode, project: both.project }.optional();
    let object = findings.keep(object).flatten();
    let exchange = findings.keep(Exchange::on(both.date, both.currency, both.rate, pen.base()));
    let both_read = exchange.and_then(|exchange| {
        let arrival = read_arrival(&new, exchange, paid_from, object, &mut findings);
        let terms = read_sale(&sale, exchange, &mut findings);
        arrival.zip(terms)
    });
    findings.or_refuse()?;
    let text = format!("{} sold", both.name.trim());
    let mut rec = Recording::new(Word::Furniture, "piece_and_sale", both.date, text);
    rec.party = both.party;
    if let Some((arrival, terms)) = both_read {
        let (piece, incurred) = bring_in(pen, &mut rec, &arrival)?;
        let zero = Money::zero(pen.base());
        let kept_at_once = piece.purpose != PiecePurpose::Resale && object.is_some();
        let attributed = if kept_at_once { incurred } else { zero };
        let on_sale = OnSale { piece: &piece, incurred, added: zero, attributed };
        let paid = [(paid_into.receiving(), terms.comes()?, None)];
        hand_over(pen, &mut rec, &on_sale, &terms, &paid, object)?;
        if both.acquired_on.is_none() {
            rec.notes.push(
                "Question: when was it acquired? Taken as the day of the sale; how long it was held can \
                 matter for tax."
                    .to_owned(),
            );
        }
    }
    Ok(rec)
}

impl NewPieceAndSale {
    fn piece(&self) -> NewPiece {
        let origin = self.origin.unwrap_or(PieceOrigin::AlreadyOwned);
        // What was paid for is dated when the money moved; what was owned before comes in to be sold.
        let paid_on = self.acquired_on.filter(|_| origin == PieceOrigin::Bought);
        NewPiece {
            name: self.name.clone(),
            date: paid_on.unwrap_or(self.date),
            origin,
            purpose: self.purpose.unwrap_or(PiecePurpose::Personal),
            acquired_on: self.acquired_on,
            basis: self.basis,
            basis_unknown: self.basis_unknown,
            value: self.value,
            evidence: self.evidence.clone(),
            paid_from: self.paid_from,
            episode: self.episode,
            project: self.project,
            expense_class: self.expense_class,
            party: None,
            currency: self.currency,
            rate: self.rate,
            note: None,
        }
    }

    fn sale(&self) -> NewSale {
        NewSale {
            date: self.date,
            gross: self.gross,
            fees: self.fees,
            paid_into: self.paid_into,
            party: self.party,
            episode: self.episode,
            project: self.project,
            sales_tax_collected: self.sales_tax_collected,
            sales_tax_by_marketplace: self.sales_tax_by_marketplace,
            currency: self.currency,
            rate: self.rate,
            note: None,
        }
    }
}
