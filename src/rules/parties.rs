//! Parties: anyone money passes to or from.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::PartyId;
use super::recording::{Pen, RecordFinding, Recording, Word, words_of};
use super::refusal::{At, Refusal};
use super::revisions::{LabelledThing, Labels};
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
    #[schema(
        min_length = 3,
        max_length = 254,
        pattern = r"^[^\s@]+@[^\s@]+$",
        example = "yard@hollow-oak.example"
    )]
    pub email: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 60)]
    pub phone: Option<String>,
    /// The postal address, in as many lines as it has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500)]
    pub address: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What can change of a party: its name and how it is reached. What it is to the business does not.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartyLabels {
    #[schema(min_length = 1, max_length = 200, example = "Hollow Oak Timber")]
    pub name: String,
    #[serde(default)]
    #[schema(
        min_length = 3,
        max_length = 254,
        pattern = r"^[^\s@]+@[^\s@]+$",
        example = "yard@hollow-oak.example"
    )]
    pub email: Option<String>,
    #[serde(default)]
    #[schema(min_length = 1, max_length = 60)]
    pub phone: Option<String>,
    /// The postal address, in as many lines as it has.
    #[serde(default)]
    #[schema(min_length = 1, max_length = 500)]
    pub address: Option<String>,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for PartyLabels {
    const THING: LabelledThing = LabelledThing::Party;
    const FIELDS: &'static [&'static str] = &["name", "email", "phone", "address", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { name: words_of("name", &self.name).at("/name")?, ..self })
    }

    fn title(&self) -> &str {
        &self.name
    }
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
