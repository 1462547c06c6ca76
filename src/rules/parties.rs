//! Parties: anyone money passes to or from.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::PartyId;
use super::recording::{Pen, RecordFinding, Recording, Word};
use super::refusal::Refusal;
use super::rows::{Party, PartyRole, Row};

/// A vendor, sponsor, platform, helper, buyer or agency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewParty {
    #[schema(min_length = 1, max_length = 200, example = "Hollow Oak Timber")]
    pub name: String,
    pub role: PartyRole,
    /// The day it became known; the day the books begin where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// # Errors
/// An empty name.
pub fn add(pen: &mut Pen<'_>, new: &NewParty) -> Result<Recording, Refusal> {
    if new.name.trim().is_empty() {
        return Err(Refusal::new("/name", RecordFinding::NeedsText { what: "name" }));
    }
    let id = PartyId(pen.ids.next());
    let date = new.date.unwrap_or(pen.books.began_on);
    let mut recording = Recording::new(Word::Parties, "party", date, &new.name);
    recording.rows.push(Row::Party(Party { id, name: new.name.clone(), role: new.role }));
    Ok(recording)
}

#[cfg(test)]
mod tests;
