//! Money between accounts, owner and lenders, and what was there before the books.

use serde_json::json;

use super::trade::MATERIALS;
use super::{Business, dollars};

impl Business {
    pub(super) fn moves_money(&mut self) {
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

    pub(super) fn states_an_opening(&mut self) {
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
}
