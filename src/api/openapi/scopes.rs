//! How far a token must reach for each operation. The door itself asks for what a handler declares
//! (`src/api/door.rs`); `tests/door.rs` knocks at every operation with every lesser token and finds that both agree.

use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::path::Operation;

use crate::rules::tokens::Scope;

/// Operations that ask for more than to read, or to record.
const FARTHER: [(&str, Scope); 7] = [
    ("close_period", Scope::Close),
    ("reopen_period", Scope::Close),
    ("open_books", Scope::Admin),
    ("make_token", Scope::Admin),
    ("list_tokens", Scope::Admin),
    ("revoke_token", Scope::Admin),
    ("replace_token", Scope::Admin),
];

/// Writes the scope into the operation, for scripts as `x-scope` and for people in its description.
pub fn tell(operation: &mut Operation) {
    let scope = scope_of(operation);
    let said = format!("Needs a token of the scope `{scope}` or farther.");
    operation.description = Some(match operation.description.take() {
        Some(more) => format!("{more}\n\n{said}"),
        None => said,
    });
    operation.extensions.get_or_insert_default().merge(Extensions::from_iter([("x-scope", scope.as_str())]));
}

fn scope_of(operation: &Operation) -> Scope {
    let id = operation.operation_id.as_deref().unwrap_or_default();
    let farther = FARTHER.iter().find(|(name, _)| *name == id).map(|(_, scope)| *scope);
    // What is only worked out, such as a price that pays, makes nothing.
    let writes = ["201", "428"].iter().any(|status| operation.responses.responses.contains_key(*status));
    farther.unwrap_or(if writes { Scope::Record } else { Scope::Read })
}
