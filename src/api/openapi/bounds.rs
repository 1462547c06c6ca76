//! Bounds: every text, list and whole number of the document says how long or how large it gets. What is sent is
//! checked against the same bounds (`src/api/checked.rs`), so that the document promises nothing by itself.

use serde_json::{Map, Value, json};

/// Which way a shape goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// In a request: a longer one is refused.
    Sent,
    /// In an answer only: wider, for it may gather much of what was sent.
    Told,
}

impl Way {
    /// Characters of a text that says no length of its own.
    const fn text(self) -> u64 {
        match self {
            Self::Sent => 1_000,
            Self::Told => 20_000,
        }
    }

    /// Items of a list that says no number of its own.
    const fn items(self) -> u64 {
        match self {
            Self::Sent => 1_000,
            Self::Told => 1_000_000,
        }
    }
}

/// Text without control characters, but for tabs and ends of lines, and without Unicode's `Bidi_Control` characters,
/// which make a text read otherwise than it is stored. The joiners U+200C and U+200D stay: several scripts need them.
pub const PRINTABLE: &str =
    r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]*$";

/// Whether the character changes the direction of writing (the property `Bidi_Control` of Unicode, PropList.txt).
pub const fn is_bidi_control(sign: char) -> bool {
    matches!(sign, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A day of the years that books are kept for (`checked::in_our_years`).
pub const DAY: &str = "^(19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}$";

/// Characters of books that are written out as a table or to be printed: a million lines of them.
const FILE: u64 = 200_000_000;

/// Whole numbers that every reader of JSON keeps (RFC 8259, section 6).
const EXACT: i64 = 9_007_199_254_740_991;

/// Gives each text, list and whole number of the shape the bounds that it does not state itself.
pub fn bound(shape: &mut Value, way: Way) {
    match shape {
        Value::Array(several) => several.iter_mut().for_each(|one| bound(one, way)),
        Value::Object(fields) => {
            if is_a(fields, "string") {
                bound_text(fields, way);
            }
            for media in ["text/csv", "text/plain"] {
                let file = fields.get_mut(media).and_then(|file| file.get_mut("schema"));
                if let Some(shape) = file.and_then(Value::as_object_mut) {
                    shape.entry("maxLength").or_insert(json!(FILE));
                }
            }
            if is_a(fields, "array") {
                fields.entry("maxItems").or_insert(json!(way.items()));
            }
            if is_a(fields, "integer") {
                bound_number(fields);
            }
            let inner = fields.iter_mut().filter(|(name, _)| !SAID_AS_IT_IS.contains(&name.as_str()));
            inner.for_each(|(_, one)| bound(one, way));
        }
        _ => {}
    }
}

/// Values of the trade, not shapes.
const SAID_AS_IT_IS: [&str; 5] = ["example", "examples", "default", "enum", "required"];

/// Whether the shape is of that type, or of that type or null. A field that is called `type` is a shape itself.
fn is_a(fields: &Map<String, Value>, wanted: &str) -> bool {
    match fields.get("type") {
        Some(Value::String(one)) => one == wanted,
        Some(Value::Array(several)) => several.iter().any(|one| one == wanted),
        _ => false,
    }
}

fn bound_text(fields: &mut Map<String, Value>, way: Way) {
    if fields.contains_key("enum") || fields.contains_key("const") {
        return;
    }
    let format = fields.get("format").and_then(Value::as_str).unwrap_or_default().to_owned();
    let (longest, example) = match format.as_str() {
        "date" => (10, Some("2025-03-14")),
        "date-time" => (40, Some("2025-03-14T15:09:26Z")),
        "uuid" => (36, None),
        _ => (way.text(), None),
    };
    fields.entry("maxLength").or_insert(json!(longest));
    if let Some(example) = example {
        fields.entry("example").or_insert(json!(example));
    }
    let pattern = match format.as_str() {
        "" => PRINTABLE,
        "date" => DAY,
        _ => return,
    };
    fields.entry("pattern").or_insert(json!(pattern));
}

fn bound_number(fields: &mut Map<String, Value>) {
    let format = fields.entry("format").or_insert(json!("int64"));
    let (least, most) = match format.as_str() {
        Some("int32") => (i64::from(i32::MIN), i64::from(i32::MAX)),
        _ => (-EXACT, EXACT),
    };
    fields.entry("minimum").or_insert(json!(least));
    fields.entry("maximum").or_insert(json!(most));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_states_no_bound_gets_one_and_what_states_one_keeps_it() {
        let mut shape = json!({
            "type": "object",
            "properties": {
                "type": { "type": ["string", "null"] },
                "day": { "type": "string", "format": "date" },
                "word": { "type": "string", "enum": ["a", "b"] },
                "short": { "type": "string", "maxLength": 3, "pattern": "^a$" },
                "many": { "type": "array", "items": { "type": "integer", "format": "int32", "minimum": 1 } }
            }
        });
        bound(&mut shape, Way::Sent);
        assert_eq!(
            shape["properties"],
            json!({
                "type": { "type": ["string", "null"], "maxLength": 1000, "pattern": PRINTABLE },
                "day": {
                    "type": "string", "format": "date", "maxLength": 10, "pattern": DAY, "example": "2025-03-14"
                },
                "word": { "type": "string", "enum": ["a", "b"] },
                "short": { "type": "string", "maxLength": 3, "pattern": "^a$" },
                "many": {
                    "type": "array",
                    "items": { "type": "integer", "format": "int32", "minimum": 1, "maximum": 2_147_483_647 },
                    "maxItems": 1000
                }
            })
        );
    }

    /// A rule would refuse an empty one, but after the other fields have been told.
    #[test]
    fn a_text_that_is_asked_for_is_not_empty() {
        let document = crate::api::document().unwrap();
        let sent = super::super::reach::follow(&document).sent;
        let mut asked_for = 0;
        for name in sent {
            let shape = &document["components"]["schemas"][&name];
            for field in shape["required"].as_array().into_iter().flatten() {
                let text = &shape["properties"][field.as_str().unwrap()];
                if text["type"] == "string" && text["pattern"] == PRINTABLE {
                    asked_for += 1;
                    assert!(text["minLength"].as_u64() > Some(0), "{name}.{field}");
                }
            }
        }
        assert!(asked_for > 25, "{asked_for}");
    }

    #[test]
    fn what_the_pattern_refuses_is_what_cannot_be_printed_or_turns_the_writing() {
        let schema = json!({ "type": "string", "pattern": PRINTABLE });
        let pattern = jsonschema::options().build(&schema).unwrap();
        for sign in '\0'..='\u{2100}' {
            let refused = is_bidi_control(sign) || (sign.is_control() && !"\t\n\r".contains(sign));
            assert_eq!(
                pattern.is_valid(&json!(format!("a{sign}b"))),
                !refused,
                "{:?}",
                sign.escape_unicode()
            );
        }
        assert!(pattern.is_valid(&json!("\u{0645}\u{06cc}\u{200c}\u{062e}")), "Persian needs the non-joiner");
        assert!(pattern.is_valid(&json!("\u{1f469}\u{200d}\u{1f527}")), "a mechanic is three characters");
    }

    #[test]
    fn an_example_is_left_as_it_is() {
        let mut shape = json!({ "type": "object", "example": { "type": "string" } });
        let before = shape.clone();
        bound(&mut shape, Way::Told);
        assert_eq!(shape, before);
    }
}
