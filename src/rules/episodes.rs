//! Episodes: one published or planned piece about a project; the cost object.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, ProjectId};
use super::recording::{CostObject, Pen, RecordFinding, Recording, Word, words_of};
use super::refusal::{At, Refusal};
use super::revisions::{LabelledThing, Labels};
use super::rows::{Episode, Row};

/// One published or planned piece about a project.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewEpisode {
    /// What it is called.
    #[schema(min_length = 1, max_length = 200, example = "Shelves from floor to ceiling")]
    pub title: String,
    pub project: ProjectId,
    /// The day from which the books have it. Left out: the day it is planned for, or was published on, else their first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// The day it is planned to be published on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned_on: Option<NaiveDate>,
    /// The day it was published on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub published_on: Option<NaiveDate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What can change of an episode; its project stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EpisodeLabels {
    #[schema(min_length = 1, max_length = 200, example = "Shelves from floor to ceiling")]
    pub title: String,
    #[serde(default)]
    pub planned_on: Option<NaiveDate>,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for EpisodeLabels {
    const THING: LabelledThing = LabelledThing::Episode;
    const FIELDS: &'static [&'static str] = &["title", "planned_on", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { title: words_of("title", &self.title).at("/title")?, ..self })
    }

    fn title(&self) -> &str {
        &self.title
    }

    fn planned_on(&self) -> Option<NaiveDate> {
        self.planned_on
    }
}

/// # Errors
/// An empty title.
pub fn plan(pen: &mut Pen<'_>, new: &NewEpisode) -> Result<Recording, Refusal> {
    if new.title.trim().is_empty() {
        return Err(Refusal::new("/title", RecordFinding::NeedsText { what: "title" }));
    }
    let id = EpisodeId(pen.ids.next());
    let date = new.date.or(new.planned_on).or(new.published_on).unwrap_or(pen.books.began_on);
    let mut recording = Recording::new(Word::Episodes, "episode", date, &new.title);
    recording.rows.push(Row::Episode(Episode {
        id,
        project: new.project,
        title: new.title.clone(),
        planned_on: new.planned_on,
        published_on: new.published_on,
    }));
    recording.about.push(CostObject::Episode(id));
    recording.about.push(CostObject::Project(new.project));
    Ok(recording)
}

#[cfg(test)]
mod tests;
