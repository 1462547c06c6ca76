//! What a business does: each kind of record with figures at random.

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
const MATERIALS: [&str; 3] = ["plywood", "wall paint", "screws"];

/// Something is left of it, and mostly it is no thing with a way of its own.
fn is_open_to_all(source: &Value) -> bool {
    source["closing"] != "0.00" && !["lot", "tool"].contains(&source["kind"].as_str().unwrap())
}

impl Business {
    pub(super) fn does_something(&mut self) {
        match self.chance.below(46) {
            0..=4 => self.buys(),
            5..=7 | 30..=31 => self.moves_stock(),
            8 => self.gets_a_tool(),
            9..=11 => self.works_with_a_tool(),
            12 => self.gets_a_piece(),
            13 => self.sells_a_piece(),
            14..=15 => self.works(),
            16 => self.drives(),
            17 => self.is_given_something(),
            18..=20 => self.deals_with_a_sponsor(),
            21..=22 => self.is_paid_out(),
            23 => self.moves_money(),
            24..=25 => self.puts_right(),
            26 | 32 => self.gives_back(),
            27 => self.states_an_opening(),
            42..=45 => self.does_something_with_a_piece(),
            28 | 34 if self.chance.one_in(4) => self.closes_or_reopens(),
            36 => self.states_something_of_a_year(),
            _ => self.takes_something_back(),
        }
    }

    fn buys(&mut self) {
        let (date, lines) = (self.day(), self.chance.below(3) + 1);
        let (mut sum, mut written) = (0, Vec::new());
        for _ in 0..lines {
            let cents = self.chance.cents(20_000);
            sum += cents;
            written.push(self.line(cents));
        }
        let (tax, discount) = (self.chance.cents(900), self.chance.cents(100).min(sum - 1));
        let mut body = json!({ "date": date, "paid_from": self.bank, "tax": dollars(tax), "lines": written,
                               "discount": dollars(discount), "total": dollars(sum + tax - discount) });
        match self.chance.below(6) {
            0 => body["paid_from"] = json!(self.pocket),
            1 => {
                body.as_object_mut().unwrap().remove("paid_from");
                body["payment"] = json!("later");
            }
            _ => {}
        }
        let later = body.get("payment").is_some();
        let Some(answer) = self.sends("/v1/purchases", body) else { return };
        let id = answer["id"].as_str().unwrap().to_owned();
        if later && !self.chance.one_in(3) {
            let body = json!({ "date": self.today.to_string(), "paid_from": self.bank });
            self.sends(&format!("/v1/purchases/{id}/payment"), body);
        }
        self.purchases.push(id);
    }

    fn line(&mut self, cents: i64) -> Value {
        let mut line = json!({ "text": "something for the room", "amount": dollars(cents) });
        let expense = json!([{ "as": "expense", "class": "supplies" }]);
        match self.chance.below(8) {
            0 | 1 => {
                let quantity = dollars(self.chance.cents(4_000));
                let material = *self.chance.pick(&MATERIALS);
                line["stock"] = json!({ "material": material, "unit": "piece", "quantity": quantity });
                if self.chance.one_in(3) {
                    line["stock"]["unit"] = json!("box");
                    line["stock"]["kept_in"] = json!({ "unit": "piece", "factor": "12" });
                }
            }
            2 if self.chance.one_in(3) => {
                let tools = [60, 40].map(|worth| (dollars(worth), self.tool_terms(cents / 5)));
                line["tools"] =
                    tools.map(|(value, tool)| json!({ "fair_value": value, "tool": tool })).into();
            }
            2 => line["tool"] = self.tool_terms(cents),
            3 => {
                let purpose = *self.chance.pick(&["resale", "set", "personal"]);
                line["new_piece"] = json!({ "name": "a cabinet", "purpose": purpose });
                if !self.chance.one_in(3) {
                    line["for"] = json!([{ "episode": self.episode() }]);
                }
            }
            4 if !self.pieces.is_empty() => line["piece"] = json!(self.chance.pick(&self.pieces)),
            5 => {
                let share = self.chance.cents(9_900);
                line["for"] = self.for_whom();
                line["treatments"] = json!([
                    { "as": "home_improvement", "share": dollars(share) },
                    { "as": "expense", "class": "supplies", "share": dollars(10_000 - share) }
                ]);
            }
            6 if !self.tools.is_empty() => {
                line["repairs"] = json!(self.chance.pick(&self.tools));
                let repairs = json!([{ "as": "expense", "class": "repairs" }]);
                (line["for"], line["treatments"]) = (self.for_whom(), repairs);
            }
            6 => (line["for"], line["treatments"]) = (self.for_whom(), json!([{ "as": "personal" }])),
            _ => (line["for"], line["treatments"]) = (self.for_whom(), expense),
        }
        line
    }

    fn moves_stock(&mut self) {
        let (date, quantity) = (self.day(), dollars(self.chance.cents(1_500)));
        let mut body = json!({ "date": date, "quantity": quantity });
        match self.chance.below(5) {
            0 if !self.pieces.is_empty() => body["piece"] = json!(self.chance.pick(&self.pieces)),
            1 => body["to"] = self.for_whom(),
            2 => {}
            _ => body["episode"] = json!(self.episode()),
        }
        if self.chance.one_in(6) {
            body["unit"] = json!("box");
        }
        let kind = self.chance.below(7);
        if kind < 2 || self.lots.is_empty() {
            body["material"] = json!(self.chance.pick(&MATERIALS));
            self.sends("/v1/materials/issues", body);
            return;
        }
        let lot = self.chance.pick(&self.lots).clone();
        let mut object =
            json!({ "date": body["date"], "quantity": body["quantity"], "episode": self.episode() });
        if self.chance.one_in(6) {
            object["unit"] = json!("box");
        }
        match kind {
            2 | 3 => self.sends(&format!("/v1/materials/{lot}/issues"), body),
            4 => self.sends(&format!("/v1/materials/{lot}/returns"), object),
            5 => self.sends(&format!("/v1/materials/{lot}/waste"), object),
            _ => {
                let counted = json!({ "date": self.today.to_string(), "counted": object["quantity"] });
                self.sends(&format!("/v1/materials/{lot}/counts"), counted)
            }
        };
    }

    fn tool_terms(&mut self, cents: i64) -> Value {
        let salvage = dollars(if self.chance.one_in(3) { cents / 10 } else { 0 });
        let mut terms = json!({ "name": "a saw", "salvage": salvage });
        let method = *self.chance.pick(&METHODS);
        terms["method"] = json!(method);
        match method {
            "per_use_hour" => terms["hours_expected"] = json!("40"),
            "straight_line" => terms["months"] = json!(12),
            _ => {}
        }
        terms
    }

    fn gets_a_tool(&mut self) {
        let (date, cents) = (self.day(), self.chance.cents(60_000));
        let mut body = self.tool_terms(cents);
        body["date"] = json!(date);
        if self.chance.one_in(4) {
            (body["origin"], body["salvage"]) = (json!("personal_gift"), json!("0.00"));
        } else if self.chance.one_in(4) {
            let value = self.chance.cents(60_000).max(cents / 5);
            (body["origin"], body["cost"]) = (json!("converted_from_personal"), json!(dollars(cents)));
            body["value"] = json!(dollars(value));
        } else {
            (body["origin"], body["cost"]) = (json!("bought"), json!(dollars(cents)));
            body["paid_from"] = json!(self.bank);
        }
        self.sends("/v1/tools", body);
    }

    fn works_with_a_tool(&mut self) {
        if self.tools.is_empty() {
            return self.gets_a_tool();
        }
        let tool = self.chance.pick(&self.tools).clone();
        match self.chance.below(14) {
            13 => {
                let cents = self.chance.cents(9_000);
                let body = json!({ "name": "part", "date": self.today.to_string(), "cost": dollars(cents),
                                   "method": "equal_share", "paid_from": self.bank });
                self.sends(&format!("/v1/tools/{tool}/improvements"), body);
            }
            12 => {
                let share = (self.chance.below(11) * 10).to_string();
                let body = json!({ "tax_year": self.today.year(), "share": share });
                self.sends(&format!("/v1/tools/{tool}/business-shares"), body);
            }
            0 => {
                let body = json!({ "date": self.today.to_string(), "kind": "sold", "proceeds": "55.00",
                                   "paid_into": self.bank });
                self.sends(&format!("/v1/tools/{tool}/disposal"), body);
            }
            1 => {
                let body = json!({ "date": self.today.to_string(), "hours_expected": "60" });
                self.sends(&format!("/v1/tools/{tool}/estimates"), body);
            }
            _ => {
                let uses = self.some_uses();
                self.sends(&format!("/v1/tools/{tool}/uses"), json!({ "uses": uses }));
            }
        }
    }

    fn some_uses(&mut self) -> Vec<Value> {
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

    fn works(&mut self) {
        let hours = dollars(self.chance.cents(800));
        let mut body = json!({ "date": self.day(), "person": "Mira", "standing": "own", "hours": hours });
        if self.chance.one_in(2) {
            (body["standing"], body["paid_from"]) = (json!("paid"), json!(self.bank));
            body["paid"] = json!(dollars(self.chance.cents(20_000)));
        }
        match self.chance.below(3) {
            0 if !self.pieces.is_empty() => body["piece"] = json!(self.chance.pick(&self.pieces)),
            1 => body["episode"] = json!(self.episode()),
            _ => {}
        }
        self.sends("/v1/labour", body);
    }

    fn drives(&mut self) {
        let body = json!({ "date": self.day(), "distance": dollars(self.chance.cents(9_000)), "unit": "mile",
                           "purpose": "timber", "vehicle": "the van", "for": self.for_whom() });
        self.sends("/v1/trips", body);
    }

    fn is_given_something(&mut self) {
        if !self.gifts.is_empty() && self.chance.one_in(3) {
            let gift = self.chance.pick(&self.gifts).clone();
            let fate = *self.chance.pick(&["returned", "kept_personally", "given_away"]);
            let body = json!({ "date": self.today.to_string(), "fate": fate });
            self.sends(&format!("/v1/gifts/{gift}/fate"), body);
            return;
        }
        let relation = *self.chance.pick(&["promotion", "unsolicited_brand_goods", "personal_gift", "loan"]);
        let mut body = json!({ "date": self.day(), "party": self.sponsor, "what": "a sander", "relation": relation,
                               "value": dollars(self.chance.cents(30_000)), "evidence": "the shop's price" });
        match self.chance.below(3) {
            0 => body["fate"] = json!("kept_personally"),
            1 => {
                (body["fate"], body["kept_as"]) = (json!("kept_for_business"), json!("supplies"));
                body["for"] = self.for_whom();
            }
            _ => {}
        }
        if let Some(answer) = self.sends("/v1/gifts", body) {
            self.gifts.push(answer["id"].as_str().unwrap().to_owned());
        }
    }

    fn deals_with_a_sponsor(&mut self) {
        if self.deals.is_empty() || self.chance.one_in(5) {
            let mut body = json!({ "date": self.day(), "sponsor": self.sponsor, "title": "Paint for a room",
                                   "amount": "2400.00", "for": self.for_whom() });
            if self.chance.one_in(2) {
                body["agency"] = json!(self.agency);
            }
            body["promises"] = json!([{ "what": "a minute on the paint", "due_on": self.day() }]);
            self.sends("/v1/deals", body);
            return;
        }
        let deal = self.chance.pick(&self.deals).clone();
        let date = self.day();
        if !self.promises.is_empty() && self.chance.one_in(6) {
            // Its deal may be gone by now, or the promise kept: then it is refused.
            let (deal, promise) = self.chance.pick(&self.promises).clone();
            self.sends(&format!("/v1/deals/{deal}/promises/{promise}/kept"), json!({ "date": date }));
            return;
        }
        if self.chance.one_in(4) {
            let amount = dollars(self.chance.cents(30_000));
            let body = json!({ "date": date, "amount": amount, "paid_from": self.bank });
            self.sends(&format!("/v1/deals/{deal}/clawbacks"), body);
            return;
        }
        if self.chance.one_in(4) {
            let body =
                json!({ "date": date, "what": "a part of it", "amount": dollars(self.chance.cents(60_000)) });
            self.sends(&format!("/v1/deals/{deal}/invoices"), body);
            return;
        }
        let (gross, bank) = (self.chance.cents(60_000) + 2_000, self.chance.cents(500));
        let mut body = json!({ "date": date, "gross": dollars(gross), "kept_by_bank": dollars(bank),
                               "net": dollars(gross - bank), "paid_into": self.bank });
        if self.chance.one_in(3) {
            body["for"] = self.for_whom();
        }
        self.sends(&format!("/v1/deals/{deal}/instalments"), body);
    }

    fn is_paid_out(&mut self) {
        let (advertising, tips) = (self.chance.cents(40_000) + 3_000, self.chance.cents(5_000));
        let (fees, adjustments) = (self.chance.cents(2_000), self.chance.cents(800) - 500);
        let net = advertising + tips - fees + adjustments;
        let mut body = json!({ "date": self.day(), "platform": self.platform, "paid_into": self.bank,
            "lines": [{ "stream": "advertising", "gross": dollars(advertising) },
                      { "stream": "tips", "gross": dollars(tips) }],
            "fees": dollars(fees), "adjustments": dollars(adjustments), "net": dollars(net) });
        if self.chance.one_in(3) {
            // The day it was earned may be closed by now: then accrual books refuse it.
            body["earned_on"] = json!((self.today - chrono::Days::new(40)).to_string());
        }
        if self.chance.one_in(2) {
            body["for"] = json!([{ "episode": self.episodes[0], "weight": "3" },
                                 { "episode": self.episodes[3], "weight": "1.5" }]);
        }
        self.sends("/v1/payouts", body);
    }

    fn moves_money(&mut self) {
        let (date, amount) = (self.day(), dollars(self.chance.cents(9_000)));
        let (path, body) = match self.chance.below(5) {
            0 => {
                let body = json!({ "from": self.bank, "to": self.credit, "amount": amount, "fee": "1.25" });
                ("transfers", body)
            }
            1 => ("draws", json!({ "from": self.bank, "amount": amount })),
            2 => ("contributions", json!({ "into": self.bank, "amount": amount })),
            3 => ("tax-payments", json!({ "from": self.bank, "amount": amount, "tax_year": 2025 })),
            _ => ("loan-repayments", json!({ "from": self.bank, "interest": amount })),
        };
        let mut body = body;
        body["date"] = json!(date);
        self.sends(&format!("/v1/accounts/{path}"), body);
    }

    /// Moves an attribution on, or gives out what is left of a source.
    fn puts_right(&mut self) {
        let date = self.day();
        let from = self.episode();
        if self.chance.one_in(2) {
            let listed = self.owner.reads(&format!("/v1/attributions?episode={from}&limit=200"));
            let listed = listed["items"].as_array().unwrap();
            if listed.is_empty() {
                return;
            }
            let source = &self.chance.pick(listed)["source"];
            let mut body =
                json!({ "date": date, "source": source, "from_episode": from, "to_episode": self.episode() });
            if self.chance.one_in(2) {
                body["amount"] = json!(dollars(self.chance.cents(2_000)));
            }
            self.sends("/v1/attributions/moves", body);
            return;
        }
        let sources = self.owner.reads("/v1/sources");
        let left: Vec<&Value> =
            sources["sources"].as_array().unwrap().iter().filter(|one| is_open_to_all(one)).collect();
        if left.is_empty() {
            return;
        }
        let source = *self.chance.pick(&left);
        if self.chance.one_in(3) {
            let other = *self.chance.pick(&left);
            let over =
                json!([{ "episode": from, "weight": "4" }, { "project": self.project, "weight": "1.5" }]);
            let sources = json!([source["source"], other["source"]]);
            self.sends("/v1/attributions/joint", json!({ "date": date, "sources": sources, "over": over }));
            return;
        }
        if self.chance.one_in(3) {
            let by = *self.chance.pick(&["own_hours", "costs", "income"]);
            let mut body = json!({ "date": date, "from": "2025-01-01", "to": date, "by": by });
            if by == "own_hours" && self.chance.one_in(2) {
                body["rate_per_hour"] = json!(dollars(self.chance.cents(2_000)));
            }
            self.sends("/v1/attributions/overhead", body);
            return;
        }
        let whom = json!([{ "episode": from }, { "project": self.project }]);
        let mut body = json!({ "date": date, "source": source["source"], "for": whom });
        if source["kind"] == "payout" {
            let tips = source["text"].as_str().unwrap().ends_with("tips");
            body["category"] = json!(if tips { "tips" } else { "advertising" });
        }
        if self.chance.one_in(2) {
            body["amount"] = json!(dollars(self.chance.cents(3_000)));
        }
        self.sends("/v1/attributions", body);
    }

    /// A line goes back to the vendor.
    fn gives_back(&mut self) {
        if self.purchases.is_empty() {
            return;
        }
        let purchase = self.chance.pick(&self.purchases).clone();
        let mut line = json!({ "line": self.chance.below(2), "amount": dollars(self.chance.cents(4_000)) });
        match self.chance.below(6) {
            0..=1 => line["quantity"] = json!(dollars(self.chance.cents(500))),
            2 => line["goods"] = json!("kept"),
            3 => {
                line["goods"] = json!("kept");
                line["episode"] = json!(self.episode());
            }
            _ => {}
        }
        // A rebate is never dated before what was issued last.
        let date = if line.get("goods").is_some() { self.today.to_string() } else { self.day() };
        let body = json!({ "date": date, "refunded_to": self.bank, "lines": [line] });
        self.sends(&format!("/v1/purchases/{purchase}/returns"), body);
    }

    fn states_an_opening(&mut self) {
        let mut body = json!({ "date": self.day() });
        let cost = dollars(self.chance.cents(20_000));
        match self.chance.below(3) {
            0 => {
                let material = *self.chance.pick(&MATERIALS);
                body["what"] = json!("lot");
                body["lot"] =
                    json!({ "material": material, "unit": "piece", "quantity": "12.5", "cost": cost });
            }
            1 => {
                body["what"] = json!("tool");
                body["tool"] = json!({ "terms": { "name": "an old drill", "method": "equal_share" },
                                       "acquired_on": "2024-05-01", "cost": cost });
            }
            _ => {
                body["what"] = json!("piece");
                body["piece"] = json!({ "name": "a bench", "purpose": "resale", "basis": cost });
            }
        }
        self.sends("/v1/openings", body);
    }

    fn takes_something_back(&mut self) {
        if self.records.is_empty() {
            return;
        }
        let record = self.chance.pick(&self.records).clone();
        let mut body = json!({ "reason": "it was written down wrongly" });
        if self.chance.one_in(3) {
            body["dependants"] = json!("take_back");
        }
        if self.chance.one_in(4) {
            body["date"] = json!(self.today.to_string());
        }
        if self.sends(&format!("/v1/records/{record}/reversal"), body).is_some() {
            self.tally.taken_back += 1;
            self.forgets_what_was_taken_back();
        }
    }
}
