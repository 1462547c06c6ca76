//! What a business does with tools and with what it is given.

use chrono::Datelike;
use serde_json::{Value, json};

use super::{Business, dollars};

/// Percentages have uses of their own kind, so that most of them are refused.
const METHODS: [&str; 7] = [
    "per_use_hour",
    "per_use_hour",
    "straight_line",
    "straight_line",
    "equal_share",
    "percentages",
    "expense_now",
];

impl Business {
    pub(super) fn tool_terms(&mut self, cents: i64) -> Value {
        let salvage = dollars(if self.chance.one_in(3) { cents / 10 } else { 0 });
        let mut terms = json!({ "name": "a saw", "salvage": salvage });
        let method = *self.chance.pick(&METHODS);
        terms["method"] = json!(method);
        match method {
            "per_use_hour" => terms["hours_expected"] = json!("40"),
            "straight_line" => terms["months"] = json!(12),
            _ => {}
        }
        match self.chance.below(7) {
            0 => terms["choice"] = json!("capitalise"),
            1 => (terms["choice"], terms["section_179"]) = (json!("section_179"), json!(dollars(cents / 2))),
            2 => (terms["choice"], terms["class"]) = (json!("straight_line"), json!("7")),
            3 => (terms["property"], terms["business_share"]) = (json!("listed"), json!("60")),
            _ => {}
        }
        terms
    }

    pub(super) fn gets_a_tool(&mut self) {
        let (date, cents) = (self.day(), self.chance.cents(60_000));
        let mut body = self.tool_terms(cents);
        body["date"] = json!(date);
        match self.chance.below(6) {
            0 => self.for_nothing(&mut body, "personal_gift"),
            1 => self.for_nothing(&mut body, "loan"),
            2 => {
                let value = self.chance.cents(60_000).max(cents / 5);
                (body["origin"], body["cost"]) = (json!("converted_from_personal"), json!(dollars(cents)));
                body["value"] = json!(dollars(value));
            }
            _ => {
                (body["origin"], body["cost"]) = (json!("bought"), json!(dollars(cents)));
                body["paid_from"] = json!(self.bank);
                body = self.abroad(body);
            }
        }
        self.sends("/v1/tools", body);
    }

    /// Such a tool has no basis, so no salvage and nothing to write off.
    pub(super) fn for_nothing(&self, body: &mut Value, origin: &str) {
        (body["origin"], body["salvage"]) = (json!(origin), json!("0.00"));
        let terms = body.as_object_mut().unwrap();
        terms.retain(|name, _| !["choice", "section_179", "class"].contains(&name.as_str()));
    }

    pub(super) fn works_with_a_tool(&mut self) {
        if self.tools.is_empty() {
            return self.gets_a_tool();
        }
        let tool = self.chance.pick(&self.tools).clone();
        match self.chance.below(14) {
            13 => {
                let cents = self.chance.cents(9_000);
                let body = json!({ "name": "part", "date": self.today.to_string(), "cost": dollars(cents),
                                   "method": "equal_share", "paid_from": self.bank });
                let body = self.abroad(body);
                self.sends(&format!("/v1/tools/{tool}/improvements"), body);
            }
            12 => {
                let share = (self.chance.below(11) * 10).to_string();
                let body = json!({ "tax_year": self.today.year(), "share": share });
                self.sends(&format!("/v1/tools/{tool}/business-shares"), body);
            }
            0 => {
                let kind = *self.chance.pick(&["sold", "sold", "scrapped", "stolen", "personal_use"]);
                let mut body = json!({ "date": self.today.to_string(), "kind": kind });
                if kind == "sold" || (kind == "stolen" && self.chance.one_in(2)) {
                    (body["proceeds"], body["paid_into"]) = (json!("55.00"), json!(self.bank));
                    body = self.abroad(body);
                }
                self.sends(&format!("/v1/tools/{tool}/disposal"), body);
            }
            1 | 2 => {
                let body = json!({ "date": self.today.to_string(), "hours_expected": "60" });
                self.sends(&format!("/v1/tools/{tool}/estimates"), body);
            }
            _ => {
                let uses = self.some_uses();
                self.sends(&format!("/v1/tools/{tool}/uses"), json!({ "uses": uses }));
            }
        }
    }

    pub(super) fn some_uses(&mut self) -> Vec<Value> {
        let by_share = self.chance.one_in(5);
        let count = self.chance.below(3) + 1;
        (0..count)
            .map(|_| {
                let mut one = json!({ "date": self.day(), "episode": self.episode() });
                if by_share {
                    one["share"] = json!(dollars(self.chance.cents(3_000)));
                } else {
                    one["hours"] = json!(dollars(self.chance.cents(600)));
                }
                one
            })
            .collect()
    }

    /// What becomes of what came for nothing.
    fn decides_about(&mut self, body: &mut Value) {
        let kept_as = match self.chance.below(7) {
            0 => "supplies",
            1 | 2 => {
                let mut terms = self.tool_terms(9_000);
                self.for_nothing(&mut terms, "");
                terms.as_object_mut().unwrap().remove("origin");
                body["tool"] = terms;
                "tool"
            }
            3 => {
                body["piece_purpose"] = json!(*self.chance.pick(&["resale", "set"]));
                "piece"
            }
            _ => {
                body["fate"] = json!(*self.chance.pick(&["returned", "kept_personally", "given_away"]));
                return;
            }
        };
        (body["fate"], body["kept_as"], body["for"]) =
            (json!("kept_for_business"), json!(kept_as), self.for_whom());
    }

    pub(super) fn is_given_something(&mut self) {
        if !self.gifts.is_empty() && self.chance.one_in(3) {
            let gift = self.chance.pick(&self.gifts).clone();
            let mut body = json!({ "date": self.today.to_string() });
            self.decides_about(&mut body);
            self.sends(&format!("/v1/gifts/{gift}/fate"), body);
            return;
        }
        let relation = *self.chance.pick(&["promotion", "unsolicited_brand_goods", "personal_gift", "loan"]);
        let mut body = json!({ "date": self.day(), "party": self.sponsor, "what": "a sander", "relation": relation,
                               "value": dollars(self.chance.cents(30_000)), "evidence": "the shop's price" });
        if self.chance.one_in(2) {
            self.decides_about(&mut body);
        }
        let body = self.abroad(body);
        if let Some(answer) = self.sends("/v1/gifts", body) {
            self.gifts.push(answer["id"].as_str().unwrap().to_owned());
        }
    }
}
