//! Enums whose variants have one name on the wire, in the database and in a person's sentence.

/// Declares such an enum with `as_str`, `named` and `ALL`.
macro_rules! named {
    ($(#[$meta:meta])* $vis:vis enum $name:ident { $($(#[$note:meta])* $variant:ident => $text:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[derive(serde::Serialize, serde::Deserialize)]
        $vis enum $name { $($(#[$note])* #[serde(rename = $text)] $variant),+ }

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

#[cfg(test)]
mod tests;
