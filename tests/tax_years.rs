//! Tax years through the service: what every test of them shares.
#![cfg(test)]

mod asked;
mod choices;
mod filings;
mod followed;
mod formats;
mod gifts;
mod home_offices;
mod homes;
mod payees;
mod pieces;
mod shares;
mod side_by_side;
mod tools;

use serde_json::{Value, json};

use crate::world::{Caller, Kept, World};

/// A workshop whose books begin with 2025, with a bank account and an episode.
struct Workshop {
    world: World,
    owner: Caller,
    bank: String,
    project: String,
    episode: String,
}

impl Workshop {
    fn open() -> Self {
        Self::since("2025-01-01")
    }

    fn since(began_on: &'static str) -> Self {
        let world = World::keeping(&Kept { began_on, ..Kept::usual() });
        let owner = world.owner();
        let (bank, project) = (owner.has_account("bank"), owner.has_project("The reading room"));
        let episode = owner.has_episode(&project, "Shelves");
        Self { world, owner, bank, project, episode }
    }

    fn chooses(&self, year: i32, choice: Value) -> Value {
        self.owner.records(&format!("/v1/tax-years/{year}/elections"), choice)
    }

    /// A tool bought for the business alone; `terms` go beside it.
    fn buys_tool(&self, on: &str, cost: &str, terms: Value) -> String {
        let mut body = json!({
            "name": "band saw", "date": on, "origin": "bought", "method": "equal_share",
            "cost": cost, "paid_from": self.bank,
        });
        body.as_object_mut().unwrap().extend(terms.as_object().unwrap().clone());
        self.owner.makes("/v1/tools", body)
    }

    /// A receipt of one line for the episode.
    fn pays(&self, on: &str, amount: &str, treatment: Value) -> Value {
        let body = json!({ "date": on, "paid_from": self.bank, "total": amount, "lines": [{
            "text": "something", "amount": amount, "for": [{ "episode": self.episode }], "treatments": [treatment],
        }] });
        self.owner.records("/v1/purchases", body)
    }

    /// A chair bought for 100 and sold the same day: the difference is profit of the year.
    fn earns(&self, on: &str, gross: &str) {
        let chair = json!({
            "name": "a chair", "date": on, "acquired_on": on, "origin": "bought", "purpose": "resale",
            "basis": "100.00", "paid_from": self.bank, "gross": gross, "paid_into": self.bank,
        });
        self.owner.records("/v1/furniture/sale", chair);
    }

    /// Goods from a brand, for the episode.
    fn is_given(&self, on: &str, more: Value) -> Value {
        let brand = self.owner.has_party("Quillon Tools", "sponsor");
        let mut body = json!({ "date": on, "party": brand, "what": "belt sander", "relation": "promotion",
                               "for": [{ "episode": self.episode }] });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        self.owner.records("/v1/gifts", body)
    }

    /// A gift worth 300, kept for the business as a tool; its id is the tool's.
    fn keeps_sander(&self, on: &str) -> String {
        let kept = self.is_given(
            on,
            json!({
            "value": "300.00", "evidence": "the shop price that day", "fate": "kept_for_business",
            "kept_as": "tool", "tool": { "name": "belt sander", "method": "equal_share" } }),
        );
        let things = kept["things"].as_array().unwrap();
        things.iter().find(|thing| thing["what"] == "tools").unwrap()["id"].as_str().unwrap().to_owned()
    }

    /// All pages of a list.
    fn all(&self, path: &str) -> Vec<Value> {
        let mut items = Vec::new();
        let mut next = Some(path.to_owned());
        while let Some(path) = next {
            let page = self.owner.reads(&path);
            items.extend(page["items"].as_array().unwrap().iter().cloned());
            next = page["next"].as_str().map(str::to_owned);
        }
        items
    }

    fn year(&self, year: i32) -> Year {
        Year(self.owner.reads(&format!("/v1/tax-years/{year}/summary")))
    }
}

/// Cents of an amount as text.
fn cents(amount: &Value) -> i64 {
    amount.as_str().unwrap().replace('.', "").parse().unwrap()
}

/// A summary as JSON.
struct Year(Value);

impl Year {
    /// The exact amount of a line of the form.
    fn line(&self, number: &str) -> &str {
        let lines = self.0["lines"].as_array().unwrap();
        let line = lines.iter().find(|line| line["line"] == number).unwrap();
        line["exact"].as_str().unwrap_or_else(|| panic!("{line}"))
    }

    /// Where a figure of the form comes from.
    fn behind(&self, number: &str) -> &str {
        let lines = self.0["lines"].as_array().unwrap();
        let line = lines.iter().find(|line| line["line"] == number).unwrap();
        line["drill_down"].as_str().unwrap_or_else(|| panic!("{line}"))
    }

    fn has_lines(&self, expected: &[(&str, &str)]) {
        for (line, amount) in expected {
            assert_eq!(self.line(line), *amount, "{}, line {line}", self.0["year"]);
        }
    }

    /// A row of the list of other expenses.
    fn item(&self, label: &str) -> Option<&str> {
        let items = self.0["lines"].as_array().unwrap();
        items.iter().find(|line| line["line"] == "item" && line["label"] == label)?["exact"].as_str()
    }

    fn asked(&self, topic: &str) -> Vec<&Value> {
        let questions = self.0["questions"].as_array().unwrap();
        questions.iter().filter(|one| one["topic"] == topic).collect()
    }
}
