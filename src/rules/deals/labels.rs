//! What a deal is called; what was agreed stays as it was.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rules::recording::words_of;
use crate::rules::refusal::{At, Refusal};
use crate::rules::revisions::{LabelledThing, Labels};

/// What can change of a deal: what it is called, and a note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DealLabels {
    #[schema(min_length = 1, max_length = 200)]
    pub title: String,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for DealLabels {
    const THING: LabelledThing = LabelledThing::Deal;
    const FIELDS: &'static [&'static str] = &["title", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { title: words_of("title", &self.title).at("/title")?, ..self })
    }

    fn title(&self) -> &str {
        &self.title
    }
}
