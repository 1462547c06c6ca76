//! Enums whose variants have one name on the wire, in the database and in a person's sentence.

/// Declares such an enum with `as_str`, `named` and `ALL`. What is said of the enum and of its variants is said in the
/// API's document, too.
macro_rules! named {
    ($(#[doc = $doc:literal])* $vis:vis enum $name:ident {
        $($(#[doc = $note:literal])* $variant:ident => $text:literal),+ $(,)?
    }) => {
        $(#[doc = $doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[derive(serde::Serialize, serde::Deserialize)]
        $vis enum $name { $($(#[doc = $note])* #[serde(rename = $text)] $variant),+ }

        impl $name {
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }

            /// The variant of that name.
            pub fn named(text: &str) -> Option<Self> {
                match text { $($text => Some(Self::$variant),)+ _ => None }
            }
        }

        // Written out: the derive does not see a name that comes through a macro.
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::schema::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::SchemaType::new(utoipa::openapi::schema::Type::String))
                    .description($crate::rules::named::description(
                        &[$($doc),*],
                        &[$(($text, { const NOTE: &[&str] = &[$($note),*]; NOTE })),+],
                    ))
                    .enum_values(Some([$($text),+]))
                    .build()
                    .into()
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                out.write_str(self.as_str())
            }
        }
    };
}

pub(crate) use named;

/// What the API's document says of an enum: its own lines, then those of each name that has any, as a list.
pub(crate) fn description(own: &[&str], names: &[(&str, &[&str])]) -> Option<String> {
    let sentence = |lines: &[&str]| lines.iter().map(|line| line.trim()).collect::<Vec<_>>().join(" ");
    let mut said = sentence(own);
    for (name, lines) in names.iter().filter(|(_, lines)| !lines.is_empty()) {
        said.push_str(&format!("\n- `{name}`: {}", sentence(lines)));
    }
    (!said.is_empty()).then_some(said)
}

#[cfg(test)]
mod tests;
