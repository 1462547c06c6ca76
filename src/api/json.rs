//! JSON as it is read from a request: one pass, and no key twice in one object.
//!
//! RFC 8259, section 4, leaves open what a repeated name means, and readers differ: some take the first value, some the
//! last. For money that is not a matter of taste, so a repeated name is refused, however it is written (`"amount"` and
//! `"\u0061mount"` are one name).

use std::cell::RefCell;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use super::problem::{Problem, ProblemKind, escaped};

/// Reads JSON text.
/// # Errors
/// The problem to answer with: the text is not JSON, or a name comes twice in one object.
pub fn read_json(bytes: &[u8]) -> Result<Value, Problem> {
    let repeated = RefCell::new(None);
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = Strict { repeated: &repeated }.deserialize(&mut reader);
    read.and_then(|value| reader.end().map(|()| value)).map_err(|error| {
        let problem = Problem::new(ProblemKind::MalformedRequest);
        match repeated.into_inner() {
            Some(Repeated { key, pointer }) => problem.at(
                &pointer.iter().rev().map(String::as_str).collect::<String>(),
                format!("the field {key} comes twice in one object"),
                format!("send {key} once"),
            ),
            None => problem.at(
                "",
                format!("the body is not JSON: {error}"),
                "send one JSON object; check quotes, commas and brackets at the place named",
            ),
        }
    })
}

/// A name that came twice, and where: the last step of the pointer first.
struct Repeated {
    key: String,
    pointer: Vec<String>,
}

/// Reads one value, and notes the first repeated name in it.
#[derive(Clone, Copy)]
struct Strict<'r> {
    repeated: &'r RefCell<Option<Repeated>>,
}

impl Strict<'_> {
    /// Adds the step that led to a repeated name, while the error makes its way out.
    fn under(self, step: impl FnOnce() -> String) {
        if let Some(repeated) = self.repeated.borrow_mut().as_mut() {
            repeated.pointer.push(step());
        }
    }
}

impl<'de> DeserializeSeed<'de> for Strict<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Value, D::Error> {
        from.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict<'_> {
    type Value = Value;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    #[expect(clippy::disallowed_types, reason = "serde hands fractions over so; no field of ours takes one")]
    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(Number::from_f64(value).map_or(Value::Null, Value::Number))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        loop {
            match from.next_element_seed(self) {
                Ok(Some(item)) => items.push(item),
                Ok(None) => return Ok(Value::Array(items)),
                Err(error) => {
                    self.under(|| format!("/{}", items.len()));
                    return Err(error);
                }
            }
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Value, A::Error> {
        let mut fields = Map::new();
        while let Some(key) = from.next_key::<String>()? {
            if fields.contains_key(&key) {
                let pointer = vec![format!("/{}", escaped(&key))];
                self.repeated.replace(Some(Repeated { key, pointer }));
                return Err(A::Error::custom("a repeated name"));
            }
            match from.next_value_seed(self) {
                Ok(value) => {
                    fields.insert(key, value);
                }
                Err(error) => {
                    self.under(|| format!("/{}", escaped(&key)));
                    return Err(error);
                }
            }
        }
        Ok(Value::Object(fields))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> String {
        let problem = read_json(text.as_bytes()).unwrap_err();
        assert_eq!(problem.status, 400);
        let [error] = problem.errors.as_slice() else { panic!("{problem:?}") };
        format!("{} {}", error.pointer, error.detail)
    }

    #[test]
    fn a_name_that_comes_twice_is_refused_at_every_depth_with_its_place() {
        for (text, wanted) in [
            (r#"{"amount":"1","amount":"2"}"#, "/amount the field amount comes twice in one object"),
            (r#"{"amount":"1","\u0061mount":"2"}"#, "/amount the field amount comes twice in one object"),
            (r#"{"items":[{"a":1},{"b":{"c":1,"d":2,"c":1}}]}"#, "/items/1/b/c the field c comes twice"),
            (r#"{"a/b":{"~":1,"~":1}}"#, "/a~1b/~0 the field ~ comes twice"),
            (r#"{"":{"":1,"":1}}"#, "// the field  comes twice"),
        ] {
            assert!(refused(text).starts_with(wanted), "{text}: {}", refused(text));
        }
    }

    /// The control: the same name in two objects is fine, and every kind of value comes through as it was sent.
    #[test]
    fn what_is_read_is_what_the_library_reads_where_no_name_comes_twice() {
        for text in [
            r#"{"items":[{"a":1},{"a":2}],"a":{"a":{"a":null}}}"#,
            r#"[true,false,null,"text",-1,18446744073709551615,1.5,1e3,"\u0061\ud83d\ude00",[],{}]"#,
            "\"alone\"",
        ] {
            let plain: Value = serde_json::from_str(text).unwrap();
            assert_eq!(read_json(text.as_bytes()).unwrap(), plain);
        }
    }

    #[test]
    fn what_is_no_json_is_refused_as_a_whole() {
        for text in ["", "{", "{} {}", r#"{"a":1,}"#, "{\"a\":\"\u{1}\"}", "\u{feff}{}"] {
            assert!(refused(text).starts_with(" the body is not JSON"), "{text:?}: {}", refused(text));
        }
        let deep = format!("{}{}", "[".repeat(200), "]".repeat(200));
        assert!(refused(&deep).contains("recursion limit"));
    }
}
