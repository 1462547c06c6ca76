//! Pictures of receipts: each proves what it was attached to for as long as both stand, or waits in the inbox.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use super::{Business, operations};
use crate::documents::files::jpeg;

#[derive(Default)]
pub(super) struct Papers {
    /// Each with the record that brought it.
    came: BTreeMap<String, String>,
    proofs: Vec<Proof>,
}

struct Proof {
    document: String,
    of: String,
    /// The record that says so.
    by: String,
}

impl Papers {
    pub(super) fn hears(&mut self, path: &str, body: &Value, answer: &Value) {
        let record = answer["id"].as_str().unwrap().to_owned();
        let parts: Vec<&str> = path.split('/').skip(2).collect();
        match parts.as_slice() {
            ["documents"] => {
                let document = answer["things"][0]["id"].as_str().unwrap().to_owned();
                if let Some(of) = body["record"].as_str() {
                    let (document, by) = (document.clone(), record.clone());
                    self.proofs.push(Proof { document, of: of.to_owned(), by });
                }
                self.came.insert(document, record);
            }
            ["documents", document, "attachments"] => {
                let of = body["record"].as_str().unwrap().to_owned();
                self.proofs.push(Proof { document: (*document).to_owned(), of, by: record });
            }
            ["purchases"] => {
                for document in body["documents"].as_array().into_iter().flatten() {
                    let document = document.as_str().unwrap().to_owned();
                    self.proofs.push(Proof { document, of: record.clone(), by: record.clone() });
                }
            }
            _ => {}
        }
    }

    pub(super) fn any(&self) -> Vec<String> {
        self.came.keys().cloned().collect()
    }

    fn waiting(&self, stands: impl Fn(&str) -> bool) -> BTreeSet<String> {
        let proves = |document: &str| {
            let mut of_it = self.proofs.iter().filter(|proof| proof.document == document);
            of_it.any(|proof| stands(&proof.of) && stands(&proof.by))
        };
        let came = self.came.iter().filter(|(document, record)| stands(record) && !proves(document));
        came.map(|(document, _)| document.clone()).collect()
    }
}

impl Business {
    pub(super) fn keeps_a_paper(&mut self) {
        let papers = self.papers.any();
        if !papers.is_empty() && !self.records.is_empty() && self.chance.one_in(2) {
            let (paper, record) =
                (self.chance.pick(&papers).clone(), self.chance.pick(&self.records).clone());
            self.sends(&format!("/v1/documents/{paper}/attachments"), json!({ "record": record }));
            return;
        }
        let (wide, high) = (self.chance.cents(900), self.chance.cents(900));
        let picture = jpeg(u16::try_from(wide).unwrap(), u16::try_from(high).unwrap(), &[]);
        let mut body = json!({});
        let mut address = "/v1/documents".to_owned();
        if !self.records.is_empty() && self.chance.one_in(3) {
            let record = self.chance.pick(&self.records).clone();
            address = format!("{address}?record={record}");
            body["record"] = json!(record);
        }
        let reply = self.owner.sends(&address, "image/jpeg", &picture);
        match reply.status {
            201 => {
                self.tally.operations.insert(operations::named("POST", "/v1/documents"));
                self.hears("/v1/documents", "documents", &body, &reply.json());
            }
            404 | 409 | 422 => {
                *self.tally.refused.entry("a paper of what does not stand".to_owned()).or_default() += 1;
            }
            other => panic!("{other} for POST {address}: {}", reply.text),
        }
    }

    pub(super) fn papers_agree(&self) {
        if self.papers.came.is_empty() {
            return;
        }
        let stands =
            |record: &str| self.owner.reads(&format!("/v1/records/{record}"))["reversed_by"].is_null();
        let inbox = self.owner.reads("/v1/documents?standing=inbox&limit=200");
        let found = inbox["items"].as_array().unwrap().iter();
        let found: BTreeSet<String> = found.map(|one| one["id"].as_str().unwrap().to_owned()).collect();
        assert_eq!(found, self.papers.waiting(stands), "seed {}, papers that wait", self.seed);
    }
}
