//! What comes in from sponsors and platforms.

use serde_json::json;

use super::{Business, dollars};

impl Business {
    pub(super) fn deals_with_a_sponsor(&mut self) {
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

    pub(super) fn is_paid_out(&mut self) {
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
}
