//! Which operations of the published document a business has driven.

use std::collections::BTreeSet;

use serde_json::Value;

const DOCUMENT: &str = include_str!("../../../openapi/ledgerboard.json");

/// What records nothing in the books, or nothing that a random business could be held against.
const EXCEPTIONS: [(&str, &str); 3] = [
    ("/v1/tokens", "a token opens books and is no record of them; tests/tokens.rs"),
    ("/v1/tokens/{id}/replacement", "as above"),
    ("/v1/tokens/{id}/revocation", "as above"),
];

/// Every address at which the document says that something is recorded (201), but for the exceptions.
pub fn that_record() -> BTreeSet<String> {
    let document: Value = serde_json::from_str(DOCUMENT).unwrap();
    let records = |operations: &Value| operations["post"]["responses"]["201"].is_object();
    let all = document["paths"].as_object().unwrap().iter().filter(|(_, operations)| records(operations));
    let mut paths: BTreeSet<String> = all.map(|(path, _)| path.clone()).collect();
    for (path, why) in EXCEPTIONS {
        assert!(paths.remove(path), "{path} is excepted ({why}), and the document has no such operation");
    }
    paths
}

/// The document's own name of an address: ids stand where it has a word in braces, and nowhere else.
pub fn named(address: &str) -> String {
    let fits = |path: &str| {
        let (ours, its): (Vec<&str>, Vec<&str>) = (address.split('/').collect(), path.split('/').collect());
        ours.len() == its.len()
            && ours.iter().zip(&its).all(|(our, one)| {
                let id = our.starts_with(|sign: char| sign.is_ascii_digit());
                our == one || (one.starts_with('{') && id)
            })
    };
    that_record()
        .into_iter()
        .find(|path| fits(path))
        .unwrap_or_else(|| panic!("no operation is at {address}"))
}

/// Operations that record something and were driven by no step.
pub fn not_driven(driven: &BTreeSet<String>) -> Vec<String> {
    that_record().difference(driven).cloned().collect()
}
