//! What a business does with furniture.

use serde_json::json;

use super::{Business, dollars};

impl Business {
    pub(super) fn gets_a_piece(&mut self) {
        let (date, cents) = (self.day(), self.chance.cents(30_000));
        let purpose = *self.chance.pick(&["resale", "set", "personal"]);
        let mut body = json!({ "name": "a dresser", "date": date, "purpose": purpose });
        match self.chance.below(8) {
            0 | 1 => body["origin"] = json!(*self.chance.pick(&["built", "found"])),
            2 => {
                (body["origin"], body["basis"]) = (json!("gifted"), json!(dollars(cents)));
                body["value"] = json!(dollars(self.chance.cents(30_000)));
            }
            3 => {
                (body["origin"], body["basis_unknown"]) = (json!("already_owned"), json!(true));
                body["value"] = json!(dollars(self.chance.cents(30_000)));
            }
            _ => {
                (body["origin"], body["basis"]) = (json!("bought"), json!(dollars(cents)));
                body["paid_from"] = json!(self.bank);
                body = self.abroad(body);
            }
        }
        if !self.chance.one_in(3) {
            body["episode"] = json!(self.episode());
        }
        self.sends("/v1/furniture", body);
    }

    pub(super) fn sells_a_piece(&mut self) {
        let (gross, fees) = (self.chance.cents(40_000) + 1_000, self.chance.cents(900));
        let mut body = json!({ "date": self.today.to_string(), "gross": dollars(gross), "fees": dollars(fees),
                               "paid_into": self.bank });
        if self.chance.one_in(3) {
            body["sales_tax_collected"] = json!(dollars(self.chance.cents(700)));
        }
        body = self.abroad(body);
        if self.pieces.is_empty() || self.chance.one_in(3) {
            (body["name"], body["episode"]) = (json!("the old chair"), json!(self.episode()));
            (body["origin"], body["basis_unknown"]) = (json!("already_owned"), json!(true));
            self.sends("/v1/furniture/sale", body);
            return;
        }
        let piece = self.chance.pick(&self.pieces).clone();
        if self.sends(&format!("/v1/furniture/{piece}/sale"), body).is_some() {
            self.sold.push(piece);
        }
    }

    pub(super) fn pays_a_buyer_back(&mut self) {
        if self.sold.is_empty() {
            return self.sells_a_piece();
        }
        let piece = self.chance.pick(&self.sold).clone();
        let back = *self.chance.pick(&["came_back", "kept_by_buyer"]);
        let mut body = json!({ "date": self.day(), "amount": dollars(self.chance.cents(9_000)),
                               "paid_from": self.bank, "piece": back });
        if self.chance.one_in(2) {
            body["fees_back"] = json!(dollars(self.chance.cents(400)));
        }
        self.sends(&format!("/v1/furniture/{piece}/refund"), body);
    }

    pub(super) fn does_something_with_a_piece(&mut self) {
        if self.pieces.is_empty() || self.chance.one_in(6) {
            return self.buys_a_lot();
        }
        let piece = self.chance.pick(&self.pieces).clone();
        let (day, amount) = (self.today.to_string(), dollars(self.chance.cents(6_000)));
        let (verb, body) = match self.chance.below(13) {
            0 => {
                let value = dollars(self.chance.cents(9_000));
                let parts = json!([{ "name": "the chairs", "value": value }, { "name": "the table", "value": amount }]);
                ("parts", json!({ "date": day, "parts": parts }))
            }
            1 => {
                let how = *self.chance.pick(&["given_away", "donated", "dumped", "lost", "taken_home"]);
                ("leaving", json!({ "date": day, "how": how }))
            }
            2 => {
                let purpose = *self.chance.pick(&["resale", "set", "personal"]);
                let received = json!({ "name": "a desk", "purpose": purpose, "value": "75.00",
                                       "episode": self.episode() });
                let body = json!({ "date": day, "received": received, "money_paid": amount,
                                   "money_account": self.bank });
                ("swap", body)
            }
            3 | 4 => return self.brings_it_to_a_shop(&piece, &day),
            5 | 6 => return self.takes_a_deposit(&piece, &day, &amount),
            7 | 8 => {
                let purpose = *self.chance.pick(&["resale", "set"]);
                ("conversion", json!({ "date": day, "purpose": purpose, "value": amount }))
            }
            _ => return self.pays_a_buyer_back(),
        };
        self.sends(&format!("/v1/furniture/{piece}/{verb}"), body);
    }

    /// At times nobody wants it there.
    fn brings_it_to_a_shop(&mut self, piece: &str, day: &str) {
        let body = json!({ "date": day, "shop": self.agency, "commission": "33.3" });
        let there = self.sends(&format!("/v1/furniture/{piece}/consignment"), body).is_some();
        if !there || self.chance.one_in(2) {
            self.sends(&format!("/v1/furniture/{piece}/consignment/return"), json!({ "date": day }));
        }
    }

    /// At times the buyer thinks better of it, and gets it back or does not.
    fn takes_a_deposit(&mut self, piece: &str, day: &str, amount: &str) {
        let body = json!({ "date": day, "amount": amount, "paid_into": self.bank });
        let taken = self.sends(&format!("/v1/furniture/{piece}/deposits"), body).is_some();
        if taken && self.chance.one_in(2) {
            return;
        }
        let body = if self.chance.one_in(2) {
            json!({ "date": day, "how": "kept" })
        } else {
            json!({ "date": day, "how": "paid_back", "amount": amount, "paid_from": self.bank })
        };
        self.sends(&format!("/v1/furniture/{piece}/deposits/settlement"), body);
    }

    fn buys_a_lot(&mut self) {
        let pieces = json!([
            { "name": "a chest", "purpose": "resale", "value": "120.00", "episode": self.episode() },
            { "name": "a lamp", "purpose": "set", "value": dollars(self.chance.cents(9_000)), "project": self.project },
            { "name": "a mirror", "purpose": "personal", "value": "10.00" }
        ]);
        let price = dollars(self.chance.cents(30_000));
        let body = json!({ "date": self.day(), "price": price, "paid_from": self.bank, "pieces": pieces });
        self.sends("/v1/furniture/lots", body);
    }
}
