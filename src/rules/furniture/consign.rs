//! A piece stands in somebody's shop, which sells it for a commission.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::PartyId;
use super::super::money::Share;
use super::super::recording::{Pen, Recording, Word};
use super::super::refusal::{Explain, Findings, Refusal, Said};
use super::super::rows::{ConsignmentAct, PieceConsignment, Row};
use super::PieceFacts;

/// A piece is handed to a shop that sells it for a commission; it stays the owner's until it is sold.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewConsignment {
    pub date: NaiveDate,
    pub shop: PartyId,
    /// The shop's part of the price in percent.
    pub commission: Share,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A piece comes back from the shop unsold.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFetching {
    pub date: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What can be wrong with handing a piece over or fetching it back.
#[derive(Clone, Debug, PartialEq)]
pub enum ConsignFinding {
    InAShop { name: String, since: NaiveDate },
    InNoShop { name: String },
}

impl Explain for ConsignFinding {
    fn say(&self) -> Said {
        match self {
            Self::InAShop { name, since } => Said::conflict(
                format!("{name} stands in a shop since {since}"),
                "fetch it back first: POST /v1/furniture/{id}/consignment/return",
            ),
            Self::InNoShop { name } => {
                Said::conflict(format!("{name} stands in no shop"), "name the piece that came back")
            }
        }
    }
}

/// Hands a piece to a shop. Nothing is posted: it stays in stock. Its sale takes the shop's commission as the fee unless
/// the sale says otherwise, and the whole price, not what the shop pays out, is what it was sold for.
/// # Errors
/// [`ConsignFinding`], [`GoingFinding`](super::GoingFinding), a closed day.
/// # Source
/// IRS Publication 334 ch. 6: goods out on consignment stay in the consignor's inventory (from memory).
pub fn consign(pen: &mut Pen<'_>, facts: &PieceFacts, new: &NewConsignment) -> Result<Recording, Refusal> {
    let piece = &facts.piece;
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go(new.date, &mut findings);
    if let Some((_, at)) = &facts.consigned {
        findings.add(ConsignFinding::InAShop { name: piece.name.clone(), since: at.date });
    }
    findings.or_refuse()?;
    let commission: Decimal = new.commission.decimal();
    let (act, shop) = (ConsignmentAct::HandedOver, new.shop);
    let mut rec = of_shop(facts, new.date, "consignment", format!("{} handed to a shop", piece.name));
    rec.party = Some(shop);
    rec.notes.push(format!(
        "It stays in these books until it is sold; {} % of the price will be the shop's commission.",
        commission.normalize()
    ));
    let (piece, date) = (piece.id, new.date);
    rec.rows.push(Row::PieceConsignment(PieceConsignment { piece, date, act, shop, commission }));
    Ok(rec)
}

/// Fetches a piece back from the shop unsold.
/// # Errors
/// [`ConsignFinding`], a day before it was handed over, a closed day.
pub fn fetch_back(pen: &mut Pen<'_>, facts: &PieceFacts, new: &NewFetching) -> Result<Recording, Refusal> {
    let piece = &facts.piece;
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(facts.after_the_shop_got_it(new.date));
    if facts.consigned.is_none() {
        findings.add(ConsignFinding::InNoShop { name: piece.name.clone() });
    }
    findings.or_refuse()?;
    let mut rec = of_shop(facts, new.date, "fetched_back", format!("{} fetched back unsold", piece.name));
    if let Some((record, at)) = &facts.consigned {
        rec.party = Some(at.shop);
        rec.depends_on.push(*record);
        let (date, act) = (new.date, ConsignmentAct::FetchedBack);
        rec.rows.push(Row::PieceConsignment(PieceConsignment { date, act, ..at.clone() }));
    }
    Ok(rec)
}

fn of_shop(facts: &PieceFacts, date: NaiveDate, kind: &'static str, text: String) -> Recording {
    let mut rec = Recording::new(Word::Furniture, kind, date, text);
    rec.depends_on.push(facts.record);
    rec.depends_on.extend(facts.came_back);
    rec.about.extend(facts.piece.object);
    rec
}
