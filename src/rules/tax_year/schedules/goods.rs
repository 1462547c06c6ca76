//! Private things sold, and goods received.

use chrono::{Datelike, NaiveDate};
use serde::Serialize;
use utoipa::ToSchema;

use super::super::super::furniture::{Outcome, outcome};
use super::super::super::ids::{PieceId, RecordId};
use super::super::super::journal::TaxClass;
use super::super::super::money::{Money, MoneyFinding};
use super::super::super::rows::{Basis, Gift, GiftFate, GiftRelation, PieceBack, SaleCharacter};
use super::super::facts::{GiftFacts, PieceSaleFacts, RefundFacts, YearFacts, is_kept_loan};
use super::super::questions::{Questions, Topic};

/// One private thing sold. Exactly one of gain and loss is given, none where the basis is unknown.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct PersonalSale {
    pub piece: PieceId,
    pub name: String,
    pub date: NaiveDate,
    pub gross: Money,
    /// Selling fees lower the proceeds; they are no cost of the business.
    pub fees: Money,
    pub proceeds: Money,
    /// None where nobody knows it, which is not zero.
    pub basis: Option<Money>,
    /// The lower one that counts for a loss, where there are two.
    pub basis_for_loss: Option<Money>,
    /// Taxed.
    pub gain: Option<Money>,
    /// Not deducted.
    pub loss: Option<Money>,
}

/// Private things sold in the year: every gain is taxed, no loss is deducted, and they are never set off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct PersonalSales {
    /// One sale a row.
    pub rows: Vec<PersonalSale>,
    pub gains_taxed: Money,
    pub losses_not_deducted: Money,
    pub says: String,
}

/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// FS-2023-06, questions on information returns for private things sold (seen).
pub(in super::super) fn personal_sales(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<PersonalSales, MoneyFinding> {
    let base = facts.books.base;
    let mut rows = Vec::new();
    for sold in &facts.piece_sales {
        let sale = &sold.sale;
        if sale.character != SaleCharacter::PersonalProperty {
            continue;
        }
        let proceeds = sale.gross.minus(sale.fees)?;
        let basis = match sale.basis {
            Basis::Known(basis) => Some(basis),
            Basis::Unknown => None,
        };
        let (gain, loss) = match outcome(sale)? {
            Outcome::Gain(gain) => (Some(gain), None),
            Outcome::Loss(loss) => (None, Some(loss)),
            Outcome::Even => (Some(Money::zero(base)), None),
            Outcome::Unknown => (None, None),
        };
        rows.push(PersonalSale {
            piece: sold.piece,
            name: sold.name.clone(),
            date: sale.date,
            gross: sale.gross,
            fees: sale.fees,
            proceeds,
            basis,
            basis_for_loss: sale.basis_for_loss,
            gain,
            loss,
        });
    }
    rows.sort_by(|one, other| one.date.cmp(&other.date).then_with(|| one.piece.cmp(&other.piece)));
    let unknown = rows.iter().filter(|row| row.basis.is_none());
    questions.ask_about(
        Topic::UnknownBasis,
        "Nobody recorded what these private things cost. Without it, no gain or loss is worked out: is there a receipt, \
         a photograph with a date, or a price of that time?",
        unknown.map(|row| format!("/v1/furniture/{}/standing", row.piece)).collect(),
    );
    ask_two_bases(facts, questions);
    ask_refunds(facts, questions);
    Ok(PersonalSales {
        gains_taxed: Money::sum(base, rows.iter().filter_map(|row| row.gain))?,
        losses_not_deducted: Money::sum(base, rows.iter().filter_map(|row| row.loss))?,
        rows,
        says: "Each gain goes to Form 8949; no loss is deducted or set off. What an information return shows for a \
               thing sold at a loss is stated and taken out again on Schedule 1 (FS-2023-06, seen)."
            .to_owned(),
    })
}

/// Money back to buyers of what was no stock: it is no returns and allowances, and the sale may be of another year.
fn ask_refunds(facts: &YearFacts, questions: &mut Questions) {
    let those = |passes: &dyn Fn(&RefundFacts) -> bool| -> Vec<String> {
        let passing = facts.refunds.iter().filter(|one| passes(one));
        passing.map(|one| format!("/v1/furniture/{}/standing", one.refund.piece)).collect()
    };
    questions.ask_about(
        Topic::Refunds,
        "Buyers of these got money back in a later year than the sale. Was a gain taxed that is smaller now, and is a \
         return to be amended?",
        those(&|one| one.character != SaleCharacter::StockInTrade && one.sold_in != facts.year()),
    );
    questions.ask_about(
        Topic::Refunds,
        "These came back in the year they were sold in, so no sale of theirs is shown. Was anything of the price kept?",
        those(&|one| {
            one.character != SaleCharacter::StockInTrade
                && one.sold_in == facts.year()
                && one.refund.back == PieceBack::CameBack
        }),
    );
}

/// Stock that came in at a value under what it had cost before.
fn ask_two_bases(facts: &YearFacts, questions: &mut Questions) {
    let lower = |sold: &PieceSaleFacts| {
        sold.value.zip(sold.came_at).is_some_and(|(value, came_at)| value.amount() < came_at.amount())
    };
    let stock = |sold: &&PieceSaleFacts| sold.sale.character == SaleCharacter::StockInTrade && lower(sold);
    questions.ask_about(
        Topic::TwoBases,
        "These were given or owned before, and came into stock at a value under what they had cost. May the higher \
         basis be set against a gain (Pub. 551)?",
        facts
            .piece_sales
            .iter()
            .filter(stock)
            .map(|sold| format!("/v1/furniture/{}/standing", sold.piece))
            .collect(),
    );
}

/// Goods received from somebody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct GiftRow {
    /// The record that brought them: `GET /v1/gifts/{id}/standing`.
    pub gift: RecordId,
    pub received_on: NaiveDate,
    /// Who gave it.
    pub from: String,
    /// The goods.
    pub what: String,
    pub relation: GiftRelation,
    pub value: Option<Money>,
    pub evidence: Option<String>,
    pub fate: GiftFate,
    /// What that makes it for tax, in words.
    pub says: String,
}

/// Goods received in the year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct GiftSchedule {
    /// One gift a row.
    pub rows: Vec<GiftRow>,
    /// What the journal took into income for goods.
    pub in_income: Money,
}

/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(in super::super) fn gifts(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<GiftSchedule, MoneyFinding> {
    let mut rows: Vec<GiftRow> = facts
        .gifts
        .iter()
        .map(|GiftFacts { record, gift, from }| GiftRow {
            gift: *record,
            received_on: gift.received_on,
            from: from.clone(),
            what: gift.what.clone(),
            relation: gift.relation,
            value: gift.value,
            evidence: gift.evidence.clone(),
            fate: gift.fate,
            says: what_it_is(gift).to_owned(),
        })
        .collect();
    rows.sort_by(|one, other| {
        one.received_on.cmp(&other.received_on).then_with(|| one.what.cmp(&other.what))
    });
    ask_goods(facts, questions);
    Ok(GiftSchedule { rows, in_income: facts.of_classes(&[TaxClass::GoodsForPromotion])?.negated() })
}

/// # Source
/// Product sent for promotion is compensation at its value (seen); a loan that goes back is no income (from memory).
const fn what_it_is(gift: &Gift) -> &'static str {
    if is_kept_loan(gift) {
        return "lent first and kept later: income at its value on the day it was kept";
    }
    match (gift.relation, gift.fate) {
        (GiftRelation::Loan, _) => "lent: not income",
        (GiftRelation::PersonalGift, _) => "a personal gift: not income",
        (_, GiftFate::Returned) => "went back: not income if in the same year",
        (_, GiftFate::KeptPersonally) => "income at its value, and the owner's own: nothing to deduct",
        (_, GiftFate::KeptForBusiness) => "income at its value, which is also its cost",
        (_, GiftFate::GivenAway) => {
            "income at its value; whether giving it away is a cost is for the preparer"
        }
        (_, GiftFate::Undecided) => "income at its value unless it goes back",
    }
}

fn ask_goods(facts: &YearFacts, questions: &mut Questions) {
    let those = |passes: &dyn Fn(&Gift) -> bool| -> Vec<String> {
        let passing = facts.gifts.iter().filter(|one| passes(&one.gift));
        passing.map(|one| format!("{}, from {}, {}", one.gift.what, one.from, one.gift.received_on)).collect()
    };
    let may_be_income = |gift: &Gift| {
        matches!(gift.relation, GiftRelation::Promotion | GiftRelation::UnsolicitedBrandGoods)
            || is_kept_loan(gift)
    };
    questions.ask_about(
        Topic::UnvaluedGifts,
        "Nobody has valued these goods, so they are not in income yet. What were they worth on the day they came?",
        those(&|gift| may_be_income(gift) && gift.value.is_none() && gift.fate != GiftFate::Returned),
    );
    questions.ask_about(
        Topic::UnvaluedGifts,
        "These values have no evidence: is there a price list, an invoice or an offer of that day?",
        those(&|gift| may_be_income(gift) && gift.value.is_some() && gift.evidence.is_none()),
    );
    questions.ask_about(
        Topic::UnsolicitedGoods,
        "A brand sent these without being asked. They are treated like goods for promotion: was anything expected or \
         given in return?",
        those(&|gift| gift.relation == GiftRelation::UnsolicitedBrandGoods),
    );
    questions.ask_about(
        Topic::PersonalGoods,
        "These goods were for promotion and stayed with the owner. Their value is income and nothing is deducted: is \
         that what happened?",
        those(&|gift| may_be_income(gift) && gift.fate == GiftFate::KeptPersonally),
    );
    questions.ask_about(
        Topic::UndecidedGoods,
        "It is not said what became of these goods. Were they kept, returned or given away?",
        those(&|gift| gift.fate == GiftFate::Undecided),
    );
    questions.ask_about(
        Topic::UndecidedGoods,
        "These goods went back in a later year than they came. Were they income in the year they came?",
        those(&|gift| {
            may_be_income(gift)
                && gift.fate == GiftFate::Returned
                && gift.fate_on.is_some_and(|day| day.year() != gift.received_on.year())
        }),
    );
}
