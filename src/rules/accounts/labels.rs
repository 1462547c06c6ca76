//! What a money account is called; its kind and its currency stay.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rules::recording::words_of;
use crate::rules::refusal::{At, Refusal};
use crate::rules::revisions::{LabelledThing, Labels};

/// What can change of a money account: what it is called, and a note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountLabels {
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for AccountLabels {
    const THING: LabelledThing = LabelledThing::Account;
    const FIELDS: &'static [&'static str] = &["name", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { name: words_of("name", &self.name).at("/name")?, ..self })
    }

    fn title(&self) -> &str {
        &self.name
    }
}
