//! Goods received for nothing: what brought them, what they are worth, and what became of them.
//!
//! Goods that came for being shown are income at their value on the day they came, and a cost where they are kept for
//! the business. A loan and a private present are neither.

mod book;
mod decide;
mod receive;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{DealId, PartyId, RecordId};
use super::journal::{Posting, Stream};
use super::money::{Amount, Currency, Rate};
use super::named::named;
use super::objects::ObjectShare;
use super::recording::{Attribution, CostObject, Movement};
use super::refusal::{Explain, Said};
use super::rows::{Gift, GiftFate, GiftRelation, PiecePurpose};
use super::tool_terms::ToolAsked;

pub use decide::decide;
pub use receive::receive;

named! {
    /// What goods kept for the business become there.
    pub enum KeptAs {
        /// A durable thing used on many episodes; needs `tool`.
        Tool => "tool",
        /// Used up on the episodes named in `for`.
        Supplies => "supplies",
        /// A piece of furniture; needs `piece_purpose`.
        Piece => "piece",
    }
}

/// Goods that came for nothing.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewGift {
    /// The day they were received: what is income is income of that day.
    pub date: NaiveDate,
    /// The brand or person they came from.
    pub party: PartyId,
    /// The goods, as a person would name them.
    #[schema(min_length = 1, max_length = 200)]
    pub what: String,
    pub relation: GiftRelation,
    /// The deal they came under, where they are part of one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deal: Option<DealId>,
    /// Fair value on that day. Left out while nobody knows: nothing is posted before it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// What shows the value, such as the price in a shop that day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// What became of them; `undecided` where it is left out, and then nothing is posted yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fate: Option<GiftFate>,
    /// With `kept_for_business`: what they are there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_as: Option<KeptAs>,
    /// With `kept_as` tool.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tool: Option<ToolAsked>,
    /// With `kept_as` piece: what it is called; `what` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200)]
    pub piece_name: Option<String>,
    /// With `kept_as` piece: resale or set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece_purpose: Option<PiecePurpose>,
    /// The episodes and projects they are shown in: their income in kind, and their cost where they are used up.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub shown_in: Vec<ObjectShare>,
    /// The stream the income in kind is shown under; sponsorship where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stream: Option<Stream>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A later decision about goods received: what became of them, or what they are worth.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFate {
    /// The day it was decided, or the goods went back.
    pub date: NaiveDate,
    pub fate: GiftFate,
    /// Fair value, where it was not given before; for a loan that is kept, its value on this day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// What shows the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// With `kept_for_business`: what they are there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_as: Option<KeptAs>,
    /// With `kept_as` tool.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tool: Option<ToolAsked>,
    /// With `kept_as` piece: what it is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200)]
    pub piece_name: Option<String>,
    /// With `kept_as` piece: resale or set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece_purpose: Option<PiecePurpose>,
    /// The episodes and projects they are shown in; those of the gift, equally, where it is left out.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub shown_in: Vec<ObjectShare>,
    /// The stream the income in kind is shown under; sponsorship where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stream: Option<Stream>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What the rules must know of goods that are decided about later.
#[derive(Clone, Debug)]
pub struct GiftFacts {
    /// As it stands after the decisions so far.
    pub gift: Gift,
    /// The record of the goods.
    pub record: RecordId,
    /// The record of the last decision, where there was one.
    pub decided: Option<RecordId>,
    /// The objects the goods were recorded for (the record's `about`).
    pub shown_in: Vec<CostObject>,
    /// What was posted for them; none while nothing was.
    pub posted: Option<PostedGift>,
}

/// The entry of goods that were taken into income, and what hangs on it.
#[derive(Clone, Debug)]
pub struct PostedGift {
    /// The number of the entry.
    pub number: i64,
    pub postings: Vec<Posting>,
    /// The movements that name the entry, of the income source and of the cost source.
    pub movements: Vec<Movement>,
    /// What is attributed of both sources so far, corrections counted.
    pub attributions: Vec<Attribution>,
    /// What the goods became.
    pub became: GiftBecame,
}

named! {
    /// What was written down for goods that were taken in.
    pub enum GiftBecame {
        Tool => "tool",
        Piece => "piece",
        /// Used up, taken home or given away: nothing that lives on in the books.
        Spent => "spent",
    }
}

/// Goods as they are asked to be kept, whichever request says it.
struct Keeping<'a> {
    fate: GiftFate,
    kept_as: Option<KeptAs>,
    tool: Option<&'a ToolAsked>,
    piece_name: Option<&'a str>,
    piece_purpose: Option<PiecePurpose>,
    shown_in: &'a [ObjectShare],
    stream: Stream,
}

impl<'a> From<&'a NewGift> for Keeping<'a> {
    fn from(asked: &'a NewGift) -> Self {
        Self {
            fate: asked.fate.unwrap_or(GiftFate::Undecided),
            kept_as: asked.kept_as,
            tool: asked.tool.as_ref(),
            piece_name: asked.piece_name.as_deref(),
            piece_purpose: asked.piece_purpose,
            shown_in: &asked.shown_in,
            stream: asked.stream.unwrap_or(Stream::Sponsorship),
        }
    }
}

/// Why goods received are refused.
#[derive(Clone, Debug, PartialEq)]
pub enum GiftFinding {
    KeptAsMissing,
    NotWithThisFate { field: &'static str, fate: GiftFate },
    NotKeptAsThat { field: &'static str, kept_as: KeptAs },
    ToolMissing,
    PurposeMissing,
    PieceForPersonalUse,
    LoanIsNotKept { fate: GiftFate },
    LoanOnlyAsTool,
    NotOfTheDeal,
    StillUndecided,
    AlreadyGone { fate: GiftFate, since: NaiveDate },
    AlreadyDecided { fate: GiftFate, since: NaiveDate },
    ValuedAlready,
    LoanIsATool,
    ReturnOfWhatLivesOn { became: GiftBecame },
    ReturnedInALaterYear { received_on: NaiveDate, date: NaiveDate },
}

impl Explain for GiftFinding {
    fn say(&self) -> Said {
        match self {
            Self::KeptAsMissing => Said::invalid(
                "the goods are kept for the business, and nothing says as what",
                "give kept_as: tool, supplies or piece",
            ),
            Self::NotWithThisFate { field, fate } => Said::invalid(
                format!("{field} is given, but the fate is {fate}"),
                format!("leave {field} out, or say \"fate\": \"kept_for_business\""),
            ),
            Self::NotKeptAsThat { field, kept_as } => Said::invalid(
                format!("{field} is given, but the goods are kept as {kept_as}"),
                format!("leave {field} out, or correct kept_as"),
            ),
            Self::ToolMissing => Said::invalid(
                "the goods are kept as a tool, and its terms are missing",
                "give tool with its name and method",
            ),
            Self::PurposeMissing => Said::invalid(
                "the goods are kept as a piece, and its purpose is missing",
                "give piece_purpose: resale or set",
            ),
            Self::PieceForPersonalUse => Said::invalid(
                "a piece for personal use is not kept for the business",
                "say \"fate\": \"kept_personally\", or give the purpose resale or set",
            ),
            Self::LoanIsNotKept { fate } => Said::invalid(
                format!("the goods are a loan, and their fate is {fate}"),
                "give the relation promotion where they need not go back; a loan that is kept later is a decision \
                 of that day (POST /v1/gifts/{id}/fate)",
            ),
            Self::LoanOnlyAsTool => Said::invalid(
                "goods on loan can be used as a tool; they are neither used up nor owned as a piece",
                "give kept_as tool, or leave the fate undecided until they go back",
            ),
            Self::NotOfTheDeal => Said::invalid(
                "the goods come from somebody who is neither the sponsor nor the agency of that deal",
                "correct party or deal",
            ),
            Self::StillUndecided => {
                Said::invalid("an undecided fate decides nothing", "give the fate that was decided on")
            }
            _ => self.say_of_state(),
        }
    }
}

impl GiftFinding {
    fn say_of_state(&self) -> Said {
        match self {
            Self::AlreadyGone { fate, since } => Said::conflict(
                format!("the goods were {fate} on {since}"),
                "reverse that record (POST /v1/entries/{number}/reversal) if it is wrong, and record it anew",
            ),
            Self::AlreadyDecided { fate, since } => Said::conflict(
                format!("the goods are {fate} since {since}, and their value is posted so"),
                "reverse that record (POST /v1/entries/{number}/reversal) and record it anew; a tool or a piece that \
                 is taken home, sold or scrapped later is an event of the tool or the piece",
            ),
            Self::ValuedAlready => Said::conflict(
                "the goods were valued before, at another sum",
                "leave value out, or reverse the record of the goods and record them anew",
            ),
            Self::LoanIsATool => Said::conflict(
                "the goods on loan are on the books as a tool of no basis, and a tool's cost does not change",
                "record the tool's disposal, and the goods anew with the relation promotion and the day they became \
                 yours",
            ),
            Self::ReturnOfWhatLivesOn { became } => Said::conflict(
                format!("the goods were taken in as a {became}, which would stay on the books without them"),
                "reverse the record of the goods with what hangs on it (POST /v1/entries/{number}/reversal), then \
                 record them anew with the fate returned, which posts nothing",
            ),
            Self::ReturnedInALaterYear { received_on, date } => Said::conflict(
                format!(
                    "the goods of {received_on} were income of that year and go back on {date}: whether that is a \
                     deduction now or an amended year can not be told from here"
                ),
                "ask the preparer; for an amended year, reopen it and reverse the record of the goods, and for a \
                 deduction now record it as a purchase line of the class the preparer names",
            ),
            _ => Said::invalid("the goods can not be recorded like this", "correct fate or relation"),
        }
    }
}
