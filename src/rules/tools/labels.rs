//! What a tool is called; its cost, its life and its class change by records of their own.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rules::recording::words_of;
use crate::rules::refusal::{At, Refusal};
use crate::rules::revisions::{LabelledThing, Labels};

/// What can change of a tool: what it is called, and a note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolLabels {
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for ToolLabels {
    const THING: LabelledThing = LabelledThing::Tool;
    const FIELDS: &'static [&'static str] = &["name", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { name: words_of("name", &self.name).at("/name")?, ..self })
    }

    fn title(&self) -> &str {
        &self.name
    }
}
