//! What the answers said, kept in memory: the books must come to the same when they are asked.

use std::collections::BTreeMap;

use serde_json::Value;

use super::reckoning::cents;
use super::{Business, dollars};

/// Sums in cents of all that was answered.
#[derive(Default)]
pub(super) struct Mirror {
    accounts: BTreeMap<String, i64>,
    /// Without closings and what takes them back.
    result: i64,
    /// By source and by episode or project.
    attributed: BTreeMap<(String, String), i64>,
    kinds: BTreeMap<i64, bool>,
}

impl Mirror {
    pub(super) fn hears(&mut self, answer: &Value) {
        for entry in answer["entries"].as_array().into_iter().flatten() {
            let closes = entry["kind"] == "closing"
                || entry["reverses"].as_i64().is_some_and(|number| self.kinds.get(&number) == Some(&true));
            self.kinds.insert(entry["number"].as_i64().unwrap(), closes);
            for posting in entry["postings"].as_array().unwrap() {
                let account = posting["account"].as_str().unwrap();
                *self.accounts.entry(account.to_owned()).or_default() += cents(&posting["amount"]);
                let of_the_result = ["income:", "expense:"].iter().any(|kind| account.starts_with(kind))
                    || [
                        "goods_for_promotion",
                        "returns_allowances",
                        "business_property_sales",
                        "cost_of_pieces_sold",
                    ]
                    .contains(&account);
                if of_the_result && !closes {
                    self.result -= cents(&posting["amount"]);
                }
            }
        }
        for one in answer["attributions"].as_array().into_iter().flatten() {
            let object = one["episode"].as_str().or(one["project"].as_str()).unwrap().to_owned();
            let source = one["source"].as_str().unwrap().to_owned();
            *self.attributed.entry((source, object)).or_default() += cents(&one["amount"]);
        }
    }
}

impl Business {
    /// The books say what their answers said: every account, the result, every source, every episode.
    pub fn says_what_it_answered(&self) {
        let mirror = &self.mirror;
        let trial = self.owner.reads("/v1/ledger/trial-balance");
        let mut standing: BTreeMap<&str, i64> = BTreeMap::new();
        for line in trial["lines"].as_array().unwrap() {
            standing
                .insert(line["account"].as_str().unwrap(), cents(&line["debit"]) - cents(&line["credit"]));
        }
        let heard: BTreeMap<&str, i64> = mirror
            .accounts
            .iter()
            .filter(|(_, sum)| **sum != 0)
            .map(|(account, sum)| (account.as_str(), *sum))
            .collect();
        assert_eq!(standing, heard, "seed {}", self.seed);
        assert!(self.lots_apart().is_empty(), "seed {}: {:#?}", self.seed, self.lots_apart());
        let statement = self.owner.reads("/v1/ledger/income-statement");
        assert_eq!(cents(&statement["result"]), mirror.result, "seed {}", self.seed);
        assert_eq!(self.owner.reads("/v1/ledger/balance-sheet")["balances"], true);
        let roll = self.owner.reads("/v1/sources");
        let mut by_object: BTreeMap<(&str, &str), i64> = BTreeMap::new();
        for source in roll["sources"].as_array().unwrap() {
            let (id, side) = (source["source"].as_str().unwrap(), source["side"].as_str().unwrap());
            let of_source = mirror.attributed.iter().filter(|((source, _), _)| source == id);
            let heard: i64 = of_source.clone().map(|(_, sum)| *sum).sum();
            assert_eq!(source["attributed"], dollars(heard), "seed {}, {source}", self.seed);
            for ((_, object), sum) in of_source {
                *by_object.entry((object, side)).or_default() += sum;
            }
        }
        self.purses_agree(&standing, &roll);
        self.names_agree();
        self.papers_agree();
        every_source_rolls_forward(&roll);
        for episode in &self.episodes {
            let statement = self.owner.reads(&format!("/v1/episodes/{episode}/statement"));
            let of = |side| by_object.get(&(episode.as_str(), side)).copied().unwrap_or_default();
            let income = of("income") + of("in_kind");
            for (figure, heard) in [
                ("cost_total", of("cost")),
                ("recovered_total", of("recovery")),
                ("income_total", income),
                ("income_fees", of("fee")),
                ("result", income - of("fee") - of("cost") + of("recovery")),
            ] {
                assert_eq!(statement[figure], dollars(heard), "seed {}, {figure}: {statement}", self.seed);
            }
        }
    }
}

/// Opening and what came in, less what went back, left and was given to episodes and projects, is what is left.
fn every_source_rolls_forward(roll: &Value) {
    for source in roll["sources"].as_array().unwrap() {
        let of = |name: &str| cents(&source[name]);
        let closing = of("opening") + of("incurred") - of("returned") - of("removed") - of("attributed");
        assert_eq!(closing, of("closing"), "{source}");
        assert_eq!(source["rolls_forward"], true, "{source}");
    }
}
