//! What comes in from sponsors and platforms.

use serde_json::{Value, json};

use super::{Business, dollars};

impl Business {
    pub(super) fn deals_with_a_sponsor(&mut self) {
        if self.deals.is_empty() || self.chance.one_in(5) {
            return self.agrees_a_deal();
        }
        let deal = self.chance.pick(&self.deals).clone();
        let date = self.day();
        if !self.promises.is_empty() && self.chance.one_in(6) {
            // Its deal may be gone by now, or the promise kept: then it is refused.
            let (deal, promise) = self.chance.pick(&self.promises).clone();
            self.sends(&format!("/v1/deals/{deal}/promises/{promise}/kept"), json!({ "date": date }));
            return;
        }
        let (verb, mut body) = match self.chance.below(6) {
            0 | 1 => {
                let amount = dollars(self.chance.cents(60_000));
                ("invoices", json!({ "what": "a part of it", "amount": amount }))
            }
            _ => ("instalments", self.an_instalment()),
        };
        body["date"] = json!(date);
        if let Some(rate) = self.rates.get(&deal) {
            body["rate"] = rate.clone();
        }
        let (date, rate) = (body["date"].clone(), body.get("rate").cloned());
        let came_in =
            self.sends(&format!("/v1/deals/{deal}/{verb}"), body).is_some() && verb == "instalments";
        // A sponsor wants back what came in, and at times what never did.
        if came_in && self.chance.one_in(3) || self.chance.one_in(12) {
            let amount = dollars(self.chance.cents(if came_in { 2_000 } else { 30_000 }));
            let mut body = json!({ "date": date, "amount": amount, "paid_from": self.bank });
            if let Some(rate) = rate {
                body["rate"] = rate;
            }
            self.sends(&format!("/v1/deals/{deal}/clawbacks"), body);
        }
    }

    fn agrees_a_deal(&mut self) {
        let mut body = json!({ "date": self.day(), "sponsor": self.sponsor, "title": "Paint for a room",
                               "amount": "2400.00", "for": self.for_whom() });
        if self.chance.one_in(2) {
            body["agency"] = json!(self.agency);
        }
        body["promises"] = json!([{ "what": "a minute on the paint", "due_on": self.day() }]);
        let abroad = self.chance.one_in(3);
        if abroad {
            body["currency"] = json!("EUR");
        }
        let Some(answer) = self.sends("/v1/deals", body) else { return };
        let made = answer["things"].as_array().unwrap().iter().filter(|thing| thing["what"] == "deals");
        for deal in made.filter(|_| abroad) {
            let rate = *self.chance.pick(&["1.0731", "1.1095"]);
            self.rates.insert(deal["id"].as_str().unwrap().to_owned(), json!(rate));
        }
    }

    /// What agency, bank and tax office kept of it.
    fn an_instalment(&mut self) -> Value {
        let (gross, bank) = (self.chance.cents(60_000) + 2_000, self.chance.cents(500));
        let agency = if self.chance.one_in(3) { self.chance.cents(900) } else { 0 };
        let withheld = if self.chance.one_in(4) { self.chance.cents(500) } else { 0 };
        let mut body = json!({ "gross": dollars(gross), "kept_by_bank": dollars(bank), "paid_into": self.bank,
                               "kept_by_agency": dollars(agency), "tax_withheld": dollars(withheld),
                               "net": dollars(gross - bank - agency - withheld) });
        if agency > 0 && self.chance.one_in(2) {
            let earlier = self.today - chrono::Days::new(26);
            (body["received_from"], body["income_on"]) = (json!("agency"), json!(earlier.to_string()));
        }
        if self.chance.one_in(3) {
            body["for"] = self.for_whom();
        }
        body
    }

    pub(super) fn is_paid_out(&mut self) {
        let (advertising, tips) = (self.chance.cents(40_000) + 3_000, self.chance.cents(5_000));
        let (fees, adjustments) = (self.chance.cents(2_000), self.chance.cents(800) - 500);
        let mut at_times = |most: usize| if self.chance.one_in(3) { self.chance.cents(most) } else { 0 };
        let (withheld, held, released) = (at_times(300), at_times(500), at_times(500));
        let net = advertising + tips - fees + adjustments - withheld - held + released;
        let mut body = json!({ "date": self.day(), "platform": self.platform, "paid_into": self.bank,
            "lines": [{ "stream": "advertising", "gross": dollars(advertising) },
                      { "stream": "tips", "gross": dollars(tips) }],
            "fees": dollars(fees), "adjustments": dollars(adjustments), "tax_withheld": dollars(withheld),
            "reserve_held": dollars(held), "reserve_released": dollars(released), "net": dollars(net) });
        if self.chance.one_in(3) {
            // The day it was earned may be closed by now: then accrual books refuse it.
            body["earned_on"] = json!((self.today - chrono::Days::new(40)).to_string());
        }
        if self.chance.one_in(2) {
            body["for"] = json!([{ "episode": self.episodes[0], "weight": "3" },
                                 { "episode": self.episodes[3], "weight": "1.5" }]);
        }
        let body = self.abroad(body);
        self.sends("/v1/payouts", body);
    }
}
