//! What is closed, opened again and stated of years.

use chrono::Datelike;
use serde_json::json;

use super::{Business, dollars};

impl Business {
    pub(super) fn closes_or_reopens(&mut self) {
        let month_ago = self.today - chrono::Days::new(31);
        if month_ago > self.first_open {
            let body = json!({ "through": month_ago.to_string(), "reason": "done with it" });
            if self.sends("/v1/books/closing", body).is_some() {
                self.first_open = month_ago.succ_opt().unwrap();
            }
        }
        if month_ago < self.first_open && self.chance.one_in(2) {
            let from = self.first_open - chrono::Days::new(20);
            let body = json!({ "from": from.to_string(), "reason": "a receipt turned up" });
            if self.sends("/v1/books/reopening", body).is_some() {
                self.first_open = from;
            }
        }
    }

    /// A return is filed of a year that is closed.
    fn closes_the_last_year(&mut self) {
        let first = chrono::NaiveDate::from_ymd_opt(self.today.year(), 1, 1).unwrap();
        if self.first_open < first && self.chance.one_in(2) {
            let body =
                json!({ "through": first.pred_opt().unwrap().to_string(), "reason": "the year is over" });
            if self.sends("/v1/books/closing", body).is_some() {
                self.first_open = first;
            }
        }
    }

    pub(super) fn states_something_of_a_year(&mut self) {
        let year = self.today.year();
        if self.chance.one_in(2) {
            self.closes_the_last_year();
            let body = json!({ "date": self.today.to_string() });
            self.sends(&format!("/v1/tax-years/{}/filing", year - 1), body);
            return;
        }
        let area = json!({ "from": self.day(), "square_feet": dollars(self.chance.cents(40_000)) });
        self.sends(&format!("/v1/tax-years/{year}/home-office"), json!({ "areas": [area] }));
    }
}
