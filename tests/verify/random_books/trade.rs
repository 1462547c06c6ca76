//! What a business does: each kind of record with figures at random.

use serde_json::{Value, json};

use super::{Business, dollars};

pub(super) const MATERIALS: [&str; 3] = ["plywood", "wall paint", "screws"];

/// Something is left of it, and mostly it is no thing with a way of its own.
fn is_open_to_all(source: &Value) -> bool {
    source["closing"] != "0.00" && !["lot", "tool"].contains(&source["kind"].as_str().unwrap())
}

impl Business {
    pub(super) fn does_something(&mut self) {
        match self.chance.below(56) {
            0..=4 => self.buys(),
            5..=7 | 30..=31 => self.moves_stock(),
            8 | 53 => self.gets_a_tool(),
            9..=11 => self.works_with_a_tool(),
            12 => self.gets_a_piece(),
            13 => self.sells_a_piece(),
            33 => self.pays_a_buyer_back(),
            14..=15 => self.works(),
            16 => self.drives(),
            17 | 52 => self.is_given_something(),
            18..=20 => self.deals_with_a_sponsor(),
            21..=22 => self.is_paid_out(),
            23 | 50..=51 => self.moves_money(),
            24..=25 | 29 => self.puts_right(),
            26 | 32 => self.gives_back(),
            27 | 54 => self.states_an_opening(),
            42..=45 => self.does_something_with_a_piece(),
            46..=47 => self.sets_something_up(),
            48 => self.plans_or_elects(),
            49 => self.spreads_overhead(),
            55 => self.renames_something(),
            37 => self.keeps_a_paper(),
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
        let delivery = if self.chance.one_in(3) { self.chance.cents(2_500) } else { 0 };
        let mut body = json!({ "date": date, "paid_from": self.bank, "tax": dollars(tax), "lines": written,
                               "discount": dollars(discount), "delivery": dollars(delivery),
                               "total": dollars(sum + tax + delivery - discount) });
        match self.chance.below(7) {
            0 => body["paid_from"] = json!(self.pocket),
            1 => {
                body.as_object_mut().unwrap().remove("paid_from");
                body["payment"] = json!("later");
            }
            2 => {
                body.as_object_mut().unwrap().remove("paid_from");
                let (whole, part) = (sum + tax + delivery - discount, self.chance.cents(100));
                let part = part.min(whole - 1).max(0);
                body["paid"] = json!([{ "account": self.credit, "amount": dollars(part) },
                                      { "account": self.bank, "amount": dollars(whole - part) }]);
            }
            _ => {}
        }
        let papers = self.papers.any();
        if !papers.is_empty() && self.chance.one_in(3) {
            body["documents"] = json!([self.chance.pick(&papers)]);
        }
        let body = self.abroad(body);
        let later = body.get("payment").is_some();
        let Some(answer) = self.sends("/v1/purchases", body.clone()) else { return };
        let id = answer["id"].as_str().unwrap().to_owned();
        if later && !self.chance.one_in(3) {
            let mut payment = json!({ "date": self.today.to_string(), "paid_from": self.bank });
            if body.get("rate").is_some() && self.chance.one_in(2) {
                payment["rate"] = json!("1.1095");
            }
            self.sends(&format!("/v1/purchases/{id}/payment"), payment);
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
            2 | 3 => self.issues_from(&lot, body),
            4 => self.sends(&format!("/v1/materials/{lot}/returns"), object),
            5 => self.sends(&format!("/v1/materials/{lot}/waste"), object),
            _ => {
                let counted = json!({ "date": self.today.to_string(), "counted": object["quantity"] });
                self.sends(&format!("/v1/materials/{lot}/counts"), counted)
            }
        };
    }

    /// At times some of it comes back.
    fn issues_from(&mut self, lot: &str, body: Value) -> Option<Value> {
        let answer = self.sends(&format!("/v1/materials/{lot}/issues"), body.clone());
        if answer.is_some() && !body["episode"].is_null() && self.chance.one_in(2) {
            let mut back = json!({ "date": self.today.to_string(), "episode": body["episode"] });
            back["quantity"] = if self.chance.one_in(3) {
                body["quantity"].clone()
            } else {
                json!(dollars(self.chance.cents(300)))
            };
            return self.sends(&format!("/v1/materials/{lot}/returns"), back);
        }
        answer
    }

    fn works(&mut self) {
        let hours = dollars(self.chance.cents(800));
        let mut body = json!({ "date": self.day(), "person": "Mira", "standing": "own", "hours": hours });
        if self.chance.one_in(2) {
            (body["standing"], body["paid_from"]) = (json!("paid"), json!(self.bank));
            body["paid"] = json!(dollars(self.chance.cents(20_000)));
            body = self.abroad(body);
        } else if self.chance.one_in(3) {
            (body["person"], body["standing"]) = (json!("Ilse"), json!("volunteered"));
        }
        match self.chance.below(3) {
            0 if !self.pieces.is_empty() => body["piece"] = json!(self.chance.pick(&self.pieces)),
            1 => body["episode"] = json!(self.episode()),
            _ => {}
        }
        self.sends("/v1/labour", body);
    }

    fn drives(&mut self) {
        let unit = *self.chance.pick(&["mile", "kilometre"]);
        let body = json!({ "date": self.day(), "distance": dollars(self.chance.cents(9_000)), "unit": unit,
                           "purpose": "timber", "vehicle": "the van", "for": self.for_whom() });
        self.sends("/v1/trips", body);
    }

    /// Moves an attribution on, or gives out what is left of a source.
    fn puts_right(&mut self) {
        let date = self.day();
        let from = self.episode();
        if self.chance.one_in(3) {
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
        if self.chance.one_in(4) {
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
            body["amount"] = json!(dollars(self.chance.cents(900)));
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
        if line["goods"] == "kept"
            && self.shelf.as_ref().is_some_and(|shelf| !shelf.knows_years(&purchase, &line))
        {
            return;
        }
        // A rebate is never dated before what was issued last.
        let date = if line.get("goods").is_some() { self.today.to_string() } else { self.day() };
        let body = json!({ "date": date, "refunded_to": self.bank, "lines": [line] });
        self.sends(&format!("/v1/purchases/{purchase}/returns"), body);
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
        let (path, record) = match self.chance.below(2) {
            0 if !self.entries.is_empty() => {
                let (number, record) = self.chance.pick(&self.entries).clone();
                (format!("/v1/entries/{number}/reversal"), record)
            }
            _ => (format!("/v1/records/{record}/reversal"), record),
        };
        let dependants = body["dependants"].clone();
        if self.sends(&path, body).is_some() {
            self.tally.taken_back += 1;
            self.forgets_what_was_taken_back(&record, &dependants);
        }
    }
}
