//! What is done at the desk: setting up, budgets, elections and overhead.

use chrono::Datelike;
use serde_json::{Value, json};

use super::{Business, dollars};

/// The classes that pools of these lives take; what is bought here is mostly of the first two.
const CLASSES: [&str; 4] = ["supplies", "repairs", "bank_fees", "interest"];

impl Business {
    pub(super) fn sets_something_up(&mut self) {
        let number = self.records.len();
        let (path, mut body) = match self.chance.below(4) {
            0 => {
                let kind = *self.chance.pick(&["bank", "card", "cash"]);
                ("/v1/accounts", json!({ "name": format!("purse {number}"), "kind": kind }))
            }
            1 => {
                let role = *self.chance.pick(&["vendor", "sponsor", "buyer", "helper"]);
                ("/v1/parties", json!({ "name": format!("neighbour {number}"), "role": role }))
            }
            2 => {
                let place = *self.chance.pick(&["own_home", "rented_studio", "somebody_elses"]);
                let budget = json!([{ "category": "materials", "amount": "400.00" }]);
                (
                    "/v1/projects",
                    json!({ "name": format!("room {number}"), "place": place, "budget": budget }),
                )
            }
            _ => ("/v1/episodes", json!({ "title": format!("part {number}"), "project": self.project })),
        };
        if self.chance.one_in(2) {
            body["date"] = json!(self.day());
        }
        self.sends(path, body);
    }

    pub(super) fn plans_or_elects(&mut self) {
        if self.chance.one_in(2) {
            let category = *self.chance.pick(&["materials", "tools", "paid_labour"]);
            let (whole, part) = (dollars(self.chance.cents(90_000)), dollars(self.chance.cents(9_000)));
            let budget = json!([{ "category": category, "amount": whole },
                                { "category": category, "amount": part, "episode": self.episode() }]);
            let body = json!({ "date": self.day(), "budget": budget });
            self.sends(&format!("/v1/projects/{}/budget", self.project), body);
            return;
        }
        let kind = *self.chance.pick(&[
            "de_minimis",
            "de_minimis_with_statement",
            "no_special_allowance",
            "straight_line",
            "inventory_as_materials",
        ]);
        let mut body = json!({ "kind": kind });
        if ["no_special_allowance", "straight_line"].contains(&kind) {
            body["class"] = json!("7");
        }
        let year = self.today.year() - i32::from(self.chance.one_in(3));
        self.sends(&format!("/v1/tax-years/{year}/elections"), body);
    }

    /// By hours, costs or income, or by a pool at the rate that was estimated for it or at what it came to.
    pub(super) fn spreads_overhead(&mut self) {
        if self.pools.is_empty() || self.chance.one_in(3) {
            return self.states_a_pool();
        }
        let date = self.today.to_string();
        let mut body = json!({ "date": date, "from": "2024-12-01", "to": date });
        if self.chance.one_in(3) {
            (body["by"], body["episodes"]) = (json!("equally"), json!(self.episodes));
            self.sends("/v1/attributions/overhead", body);
            return;
        }
        body["by"] = json!(*self.chance.pick(&["own_hours", "own_hours", "costs", "income"]));
        body["pool"] = json!(self.chance.pick(&self.pools));
        if self.chance.one_in(2) {
            body["rate"] = json!("actual");
        }
        self.sends("/v1/attributions/overhead", body);
    }

    fn states_a_pool(&mut self) {
        let mut body = json!({ "name": "the studio", "from": "2024-12-01", "to": "2025-12-31" });
        match self.chance.below(4) {
            0 => {}
            1 if !self.purchases.is_empty() => {
                body["records"] = json!([self.chance.pick(&self.purchases)]);
            }
            _ => body["classes"] = json!([*self.chance.pick(&CLASSES)]),
        }
        if self.chance.one_in(2) {
            body["estimated_cost"] = json!(dollars(self.chance.cents(90_000)));
            body["estimated_hours"] = json!("60");
        }
        if let Some(answer) = self.sends("/v1/attributions/pools", body) {
            let made = |thing: &Value| thing["id"].as_str().unwrap().to_owned();
            self.pools.extend(answer["things"].as_array().unwrap().iter().map(made));
        }
    }
}
