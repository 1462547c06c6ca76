//! Money between accounts, owner and lenders, and what was there before the books.

use serde_json::{Value, json};

use super::trade::MATERIALS;
use super::{Business, dollars};

impl Business {
    /// An account, with a rate where it is not in the books' own currency.
    fn a_purse(&mut self, named: &str) -> Value {
        let mut body = json!({});
        if self.chance.one_in(3) {
            (body[named], body["rate"]) = (json!(self.travel), json!("1.0731"));
        } else if !self.further_accounts.is_empty() && self.chance.one_in(2) {
            body[named] = json!(self.chance.pick(&self.further_accounts));
        } else {
            body[named] = json!(self.bank);
        }
        body
    }

    pub(super) fn moves_money(&mut self) {
        let (date, amount) = (self.day(), dollars(self.chance.cents(9_000)));
        let (path, mut body) = match self.chance.below(9) {
            0 => {
                let body = json!({ "from": self.bank, "to": self.credit, "amount": amount, "fee": "1.25" });
                ("transfers", body)
            }
            1 => {
                let received = dollars(self.chance.cents(8_000));
                let body = json!({ "from": self.bank, "to": self.travel, "amount": amount, "fee": "2.20",
                                   "received": received });
                ("transfers", body)
            }
            2 => {
                let received = dollars(self.chance.cents(8_000));
                let body = json!({ "from": self.travel, "to": self.bank, "amount": amount, "fee": "0.90",
                                   "received": received, "note": "from abroad" });
                ("transfers", body)
            }
            3 => ("draws", self.a_purse("from")),
            4 => ("contributions", self.a_purse("into")),
            5 => ("loans", self.a_purse("into")),
            6 => {
                let mut body = self.a_purse("from");
                body["tax_year"] = json!(2025);
                ("tax-payments", body)
            }
            _ => {
                let mut body = self.a_purse("from");
                body["interest"] = json!(amount);
                if self.chance.one_in(2) {
                    body["principal"] = json!(dollars(self.chance.cents(9_000)));
                }
                ("loan-repayments", body)
            }
        };
        if path != "transfers" && path != "loan-repayments" {
            body["amount"] = json!(amount);
        }
        body["date"] = json!(date);
        self.sends(&format!("/v1/accounts/{path}"), body);
    }

    pub(super) fn states_an_opening(&mut self) {
        let mut body = json!({ "date": self.day() });
        let cost = dollars(self.chance.cents(20_000));
        match self.chance.below(8) {
            0 | 1 => {
                let material = *self.chance.pick(&MATERIALS);
                body["what"] = json!("lot");
                body["lot"] =
                    json!({ "material": material, "unit": "piece", "quantity": "12.5", "cost": cost });
            }
            2 => {
                body["what"] = json!("tool");
                body["tool"] = json!({ "terms": { "name": "an old drill", "method": "equal_share" },
                                       "acquired_on": "2024-05-01", "cost": cost });
            }
            3 => {
                body["what"] = json!("piece");
                body["piece"] = json!({ "name": "a bench", "purpose": "resale", "basis": cost });
            }
            4 => {
                (body["what"], body["balance"]) = (json!("account"), json!(cost));
                let purse = self.a_purse("account");
                body.as_object_mut().unwrap().extend(purse.as_object().unwrap().clone());
            }
            5 => {
                (body["what"], body["balance"]) = (json!("account"), json!(cost));
                let standing =
                    ["loans", "payables", "deposits_received", "deposits_paid", "platform_reserves"];
                body["standing"] = json!(*self.chance.pick(&standing));
            }
            6 => (body["what"], body["amount"]) = (json!("section_179_carry_over"), json!(cost)),
            _ => {
                body["what"] = json!("deal");
                body["deal"] = json!({ "sponsor": self.sponsor, "title": "A deal of last year",
                                       "agreed_on": "2024-10-01", "amount": "900.00", "paid_before": "150.00",
                                       "invoiced_before": "75.50", "for": self.for_whom() });
            }
        }
        self.sends("/v1/openings", body);
    }
}
