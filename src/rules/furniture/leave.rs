//! A piece leaves without a sale: given away, donated, dumped, lost or taken home.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, PartyId, ProjectId};
use super::super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::super::money::{Amount, Money};
use super::super::named::named;
use super::super::objects::ObjectAsked;
use super::super::recording::{Category, CostObject, Label, Pen, Recording, Word};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{LeavingKind, PieceLeaving, PiecePurpose, Row};
use super::PieceFacts;
use super::character::OnSale;
use super::going::left_in_words;

named! {
    /// How a piece leaves without a sale.
    pub enum LeavingAsked {
        /// To viewers, as a prize or for the showing.
        GivenAway => "given_away",
        /// To a charity.
        Donated => "donated",
        Dumped => "dumped",
        /// Stolen, burnt, broken.
        Lost => "lost",
        /// Kept by the owner, or given to family and friends.
        TakenHome => "taken_home",
    }
}

impl LeavingAsked {
    const fn kind(self) -> LeavingKind {
        match self {
            Self::GivenAway => LeavingKind::GivenAway,
            Self::Donated => LeavingKind::Donated,
            Self::Dumped => LeavingKind::Dumped,
            Self::Lost => LeavingKind::Lost,
            Self::TakenHome => LeavingKind::TakenHome,
        }
    }
}

/// A piece that leaves without a sale.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLeaving {
    pub date: NaiveDate,
    pub how: LeavingAsked,
    /// Who has it now, such as the charity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    /// What it would have fetched that day, in the books' currency: noted for the preparer, never posted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// The episode its cost counts for; the piece's own where neither episode nor project is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Lets a piece go. Stock leaves at what it cost: dumped and lost it is a cost of goods sold, given to viewers it is
/// advertising, donated or taken home it is the owner's draw and less of the year's purchases. A set piece was deducted
/// as it came, and the owner's own never is: neither posts anything.
/// # Errors
/// [`GoingFinding`](super::GoingFinding), a negative value, a closed day, all at once.
/// # Source
/// IRS Publication 334 ch. 6, personal withdrawals lower purchases (seen) and what is lost leaves through the closing
/// inventory (from memory); Publication 526, donated inventory is no cost of goods sold (from memory). Goods given to
/// viewers as advertising: common practice, no source.
pub fn leave(pen: &mut Pen<'_>, facts: &PieceFacts, new: &NewLeaving) -> Result<Recording, Refusal> {
    let (piece, base) = (&facts.piece, pen.base());
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go_unsold(new.date, &mut findings);
    let named = ObjectAsked { episode: new.episode, project: new.project }.optional();
    let named = findings.keep(named).flatten();
    let value = new.value.map(|value| value.not_negative(base)).transpose();
    let value = findings.keep(value.at("/value")).flatten();
    findings.or_refuse()?;
    let how = new.how.kind();
    let text = format!("{} {}", piece.name, left_in_words(how));
    let mut rec = Recording::new(Word::Furniture, "leaving", new.date, text);
    rec.party = new.party;
    rec.depends_on = facts.records();
    let incurred = facts.incurred(base)?;
    let stock = piece.purpose == PiecePurpose::Resale;
    let cost = if stock { incurred } else { Money::zero(base) };
    if stock {
        stock_left(pen, &mut rec, facts, new.how, cost, named.or(piece.object))?;
    }
    let on_sale = OnSale { piece, incurred, added: facts.added(base)?, attributed: facts.attributed };
    rec.notes.push(match piece.purpose {
        PiecePurpose::Resale => stock_in_words(new.how, cost),
        PiecePurpose::Set => match on_sale.deducted() {
            Some(cost) => format!("Its cost of {cost} was deducted as it came: nothing more is."),
            None => "It stood on the set, and nothing of it was deducted. Question: may what is left of its basis \
                     be deducted now?"
                .to_owned(),
        },
        PiecePurpose::Personal => "The owner's own: nothing is deducted, and nothing is posted.".to_owned(),
    });
    rec.notes.extend(question(piece.purpose, new.how, value));
    rec.rows.push(Row::PieceLeaving(PieceLeaving { piece: piece.id, date: new.date, how, cost }));
    rec.about.extend(named);
    Ok(rec)
}

fn stock_left(
    pen: &Pen<'_>,
    rec: &mut Recording,
    facts: &PieceFacts,
    how: LeavingAsked,
    cost: Money,
    object: Option<CostObject>,
) -> Result<(), Refusal> {
    let advertising = ExpenseClass::Advertising;
    // The credit carries the class of purchases where it lowers them; what goes through the closing stock carries none.
    let (account, class, purchases) = match how {
        LeavingAsked::Dumped | LeavingAsked::Lost => (Account::CostOfPiecesSold, None, None),
        LeavingAsked::GivenAway => {
            (Account::Expense(advertising), Some(advertising.tax_class()), Some(TaxClass::ResalePurchases))
        }
        LeavingAsked::Donated | LeavingAsked::TakenHome => {
            (Account::Draw(Draw::PersonalItems), Some(TaxClass::Personal), Some(TaxClass::ResalePurchases))
        }
    };
    let mut entry = pen.entry(rec.date, rec.text.clone());
    entry.debit(account, cost, class);
    entry.credit(Account::PiecesForResale, cost, purchases);
    rec.post(entry)?;
    let sold = account == Account::CostOfPiecesSold;
    let category = if sold { Category::PiecesSold } else { Category::Furniture };
    let left = cost.minus(facts.attributed)?;
    if let Some(object) = object.filter(|_| left.is_positive()) {
        rec.attribute(facts.piece.source, rec.date, object, Label::Category(category), left);
    }
    Ok(())
}

fn stock_in_words(how: LeavingAsked, cost: Money) -> String {
    match how {
        LeavingAsked::Dumped | LeavingAsked::Lost => {
            format!(
                "Stock that is gone: its cost of {cost} is a cost of goods sold now, with nothing for it."
            )
        }
        LeavingAsked::GivenAway => format!(
            "Stock given to viewers: its cost of {cost} is advertising, and no purchase for resale any more."
        ),
        LeavingAsked::Donated => format!(
            "Stock donated: its cost of {cost} leaves the business as a draw, and is no cost of goods sold."
        ),
        LeavingAsked::TakenHome => format!(
            "Stock taken home: its cost of {cost} is the owner's draw, less of the purchases, and never deducted."
        ),
    }
}

fn question(purpose: PiecePurpose, how: LeavingAsked, value: Option<Money>) -> Option<String> {
    match (how, purpose) {
        (LeavingAsked::Donated, _) => {
            let worth = value.map_or_else(|| "not stated".to_owned(), |value| value.to_string());
            Some(format!(
                "Question to the preparer: a donation is the owner's own deduction, if any, never the business's. Its \
                 value that day: {worth}. Is there a receipt of the charity?"
            ))
        }
        (LeavingAsked::Lost, PiecePurpose::Resale | PiecePurpose::Set) => {
            Some("Question to the preparer: is an insurance payment still to come?".to_owned())
        }
        (LeavingAsked::TakenHome, PiecePurpose::Set) => Some(
            "Question to the preparer: it was deducted and is the owner's own now. Does something come back into income?"
                .to_owned(),
        ),
        (LeavingAsked::GivenAway, PiecePurpose::Resale) => Some(
            "Question to the preparer: goods given to viewers as advertising are common practice, not a published rule."
                .to_owned(),
        ),
        _ => None,
    }
}
