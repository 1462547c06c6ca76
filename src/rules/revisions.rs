//! Revisions: what can change of a thing with no effect on money or tax. Names, notes, planned dates and contact data
//! change in place, one version at a time; everything else changes by a dated event or a reversal.
//!
//! A thing has one name: statements and summaries show the one it has now, those of closed years too. What was written
//! at the time keeps its words: the texts of entries and sources, and the record as it was stated.

use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

use super::named::named;
use super::recording::Word;
use super::refusal::{Explain, Refusal, Said};

/// Fields by their name, as a merge patch has them and as they are kept.
pub type Fields = Map<String, Value>;

named! {
    /// Things with labels that can change, by their word.
    pub enum LabelledThing {
        Party => "parties",
        Project => "projects",
        Episode => "episodes",
        Account => "accounts",
        Tool => "tools",
        Piece => "furniture",
        Deal => "deals",
    }
}

impl LabelledThing {
    /// What one of them is called, which is the kind of the record that makes it.
    pub const fn one(self) -> &'static str {
        match self {
            Self::Party => "party",
            Self::Project => "project",
            Self::Episode => "episode",
            Self::Account => "account",
            Self::Tool => "tool",
            Self::Piece => "piece",
            Self::Deal => "deal",
        }
    }

    /// What it is called, among its labels.
    pub fn title_among(self, labels: &Fields) -> Option<&str> {
        let field = match self {
            Self::Episode | Self::Deal => "title",
            Self::Party | Self::Project | Self::Account | Self::Tool | Self::Piece => "name",
        };
        labels.get(field).and_then(Value::as_str)
    }

    /// The text of the record that made a thing of that name, where the thing is shown as its record.
    pub fn made_in_words(self, title: &str) -> String {
        match self {
            Self::Account => format!("account opened: {title}"),
            _ => title.to_owned(),
        }
    }

    /// The things that are shown as the record that made them. Tools, pieces and deals also come by records of other
    /// words, and are shown apart from them.
    pub const fn shown_as_record(word: Word) -> Option<Self> {
        match word {
            Word::Parties => Some(Self::Party),
            Word::Projects => Some(Self::Project),
            Word::Episodes => Some(Self::Episode),
            Word::Accounts => Some(Self::Account),
            _ => None,
        }
    }
}

/// How often the labels of a thing were set, from 1: when it was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(transparent)]
#[schema(value_type = i32, minimum = 1, example = 1)]
pub struct Version(pub i32);

impl std::fmt::Display for Version {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(out)
    }
}

/// The labels of one kind of thing, all of its fields; none of them has an effect on money or tax.
pub trait Labels: Clone + Serialize + DeserializeOwned + Send + Sync + 'static {
    const THING: LabelledThing;
    /// The names of its fields on the wire. The first is what the thing is called by, and is never taken away.
    const FIELDS: &'static [&'static str];

    /// The labels without the space around them.
    /// # Errors
    /// A name with nothing in it.
    fn tidied(self) -> Result<Self, Refusal>;

    /// What the thing is called.
    fn title(&self) -> &str;

    /// The day it is planned for, where it has one.
    fn planned_on(&self) -> Option<NaiveDate> {
        None
    }
}

/// A thing's labels as they stand.
#[derive(Clone, Debug)]
pub struct Labelled<L> {
    pub version: Version,
    pub labels: L,
}

/// A change of labels: from one version to the next.
#[derive(Clone, Debug)]
pub struct Revision<L> {
    pub version: Version,
    pub labels: L,
    /// The fields that are different, as they are now and as they were; null where there is nothing.
    pub changed: Fields,
    pub before: Fields,
}

/// Why labels do not change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RevisionFinding {
    Stale { thing: LabelledThing, version: Version },
    LastVersion,
    DoesNotFit { why: String },
}

impl Explain for RevisionFinding {
    fn say(&self) -> Said {
        match self {
            Self::Stale { thing, version } => Said::stale(
                format!(
                    "the {} has changed since you read it: it is at version {version} now, which If-Match does not name",
                    thing.one()
                ),
                "read it again, see what somebody else changed, and send your change with the new ETag in If-Match",
            ),
            Self::LastVersion => {
                Said::conflict("this was changed as often as it can be", "take it back and record it anew")
            }
            Self::DoesNotFit { why } => Said::invalid(
                format!("the labels would not fit: {why}"),
                "give them as the API's document shows (/openapi.json)",
            ),
        }
    }
}

/// A merge patch (RFC 7396) over labels, which have no objects inside: null takes a field away, else it is set.
pub fn merged(fields: &Fields, patch: &Fields) -> Fields {
    let mut merged = fields.clone();
    for (name, value) in patch {
        if value.is_null() {
            merged.remove(name);
        } else {
            merged.insert(name.clone(), value.clone());
        }
    }
    merged
}

/// Labels as fields, with null where there is nothing.
/// # Errors
/// [`RevisionFinding::DoesNotFit`]; never for labels of ours.
pub fn fields_of<L: Labels>(labels: &L) -> Result<Fields, RevisionFinding> {
    match serde_json::to_value(labels) {
        Ok(Value::Object(fields)) => Ok(fields),
        Ok(_) => Err(RevisionFinding::DoesNotFit { why: "they are no object".to_owned() }),
        Err(error) => Err(RevisionFinding::DoesNotFit { why: error.to_string() }),
    }
}

/// Changes labels that the caller has seen in one of these versions; none where nothing would be different.
/// # Errors
/// [`RevisionFinding::Stale`] where the version that stands is not among those seen; a name with nothing in it.
pub fn revise<L: Labels>(
    now: &Labelled<L>,
    seen: &[Version],
    patch: &Fields,
) -> Result<Option<Revision<L>>, Refusal> {
    if !seen.contains(&now.version) {
        return Err(RevisionFinding::Stale { thing: L::THING, version: now.version }.into());
    }
    let old = fields_of(&now.labels)?;
    let labels: L = serde_json::from_value(Value::Object(merged(&old, patch)))
        .map_err(|error| RevisionFinding::DoesNotFit { why: error.to_string() })?;
    let labels = labels.tidied()?;
    let new = fields_of(&labels)?;
    let differs = |name: &&String| new.get(*name) != old.get(*name);
    let taken = |from: &Fields| {
        let names = new.keys().filter(differs);
        names.map(|name| (name.clone(), from.get(name).cloned().unwrap_or_default())).collect::<Fields>()
    };
    let (changed, before) = (taken(&new), taken(&old));
    if changed.is_empty() {
        return Ok(None);
    }
    let version = now.version.0.checked_add(1).map(Version).ok_or(RevisionFinding::LastVersion)?;
    Ok(Some(Revision { version, labels, changed, before }))
}

#[cfg(test)]
mod tests;
