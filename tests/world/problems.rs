//! Every type of problem that any test sees is followed once to its page.

use std::collections::BTreeSet;
use std::sync::{Mutex, PoisonError};

use serde_json::Value;

use super::{AGENT, Reply};

/// Types seen and not followed yet, and those that were.
static SEEN: Mutex<(BTreeSet<String>, BTreeSet<String>)> = Mutex::new((BTreeSet::new(), BTreeSet::new()));

pub fn note(reply: &Reply) {
    if reply.header("content-type") != Some("application/problem+json") {
        return;
    }
    let problem: Value = serde_json::from_str(&reply.text).unwrap();
    let named = problem["type"].as_str().unwrap_or_else(|| panic!("no type: {problem}")).to_owned();
    let mut seen = SEEN.lock().unwrap_or_else(PoisonError::into_inner);
    if !seen.1.contains(&named) {
        seen.0.insert(named);
    }
}

/// Asks that service for the pages of the types that were seen since.
pub fn follow(address: &str) {
    let new = {
        let mut seen = SEEN.lock().unwrap_or_else(PoisonError::into_inner);
        let new = std::mem::take(&mut seen.0);
        seen.1.extend(new.iter().cloned());
        new
    };
    for named in new {
        let mut page = AGENT.get(format!("{address}{named}")).call().unwrap();
        let text = page.body_mut().read_to_string().unwrap();
        assert_eq!(page.status().as_u16(), 200, "the page of {named}: {text}");
        for part in ["What it means", "How to mend it"] {
            assert!(text.contains(part), "the page of {named} does not say {part}: {text}");
        }
    }
}
