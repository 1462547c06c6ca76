//! Which operations of the published document a business has driven.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use serde_json::Value;

const DOCUMENT: &str = include_str!("../../../openapi/ledgerboard.json");

/// What records nothing in the books of the person who asks.
const EXCEPTIONS: [(&str, &str); 2] = [
    ("POST /v1/tokens", "a token opens books and is no record of them; tests/tokens.rs"),
    ("POST /v1/tokens/{id}/replacement", "as above"),
];

/// Every operation by which the document says that something is recorded (201) or that labels change, but for the
/// exceptions.
pub fn that_record() -> &'static BTreeSet<String> {
    static THOSE: LazyLock<BTreeSet<String>> = LazyLock::new(read);
    &THOSE
}

fn read() -> BTreeSet<String> {
    let document: Value = serde_json::from_str(DOCUMENT).unwrap();
    let mut found = BTreeSet::new();
    for (path, operations) in document["paths"].as_object().unwrap() {
        if operations["post"]["responses"]["201"].is_object() {
            found.insert(format!("POST {path}"));
        }
        for changes in ["patch", "put", "delete"] {
            if operations[changes].is_object() {
                found.insert(format!("{} {path}", changes.to_uppercase()));
            }
        }
    }
    for (operation, why) in EXCEPTIONS {
        assert!(
            found.remove(operation),
            "{operation} is excepted ({why}), and the document has no such thing"
        );
    }
    found
}

/// The document's own name of an operation: ids stand where it has a word in braces, and nowhere else.
pub fn named(method: &str, address: &str) -> String {
    let asked = format!("{method} {address}");
    let fits = |path: &str| {
        let (ours, its): (Vec<&str>, Vec<&str>) = (asked.split('/').collect(), path.split('/').collect());
        ours.len() == its.len()
            && ours.iter().zip(&its).all(|(our, one)| {
                let id = our.starts_with(|sign: char| sign.is_ascii_digit());
                our == one || (one.starts_with('{') && id)
            })
    };
    that_record().iter().find(|path| fits(path)).cloned().unwrap_or_else(|| panic!("no operation is {asked}"))
}

/// Operations that record something and were driven by no step.
pub fn not_driven(driven: &BTreeSet<String>) -> Vec<String> {
    that_record().difference(driven).cloned().collect()
}
