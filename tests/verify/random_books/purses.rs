//! What was sent, without a look at what it was answered: the money in every purse, the debts, and what came in by
//! kind, each added up from the bodies alone.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::Business;
use super::reckoning::{at_rate, cents, half_up, in_base, millionths, shared_cents};

/// Cents that a record moved in a purse, a debt or a kind of source.
struct Moved {
    record: String,
    purse: String,
    cents: i64,
}

#[derive(Default)]
pub(super) struct Purses {
    /// Money accounts; an own pocket is none of the books'.
    accounts: BTreeSet<String>,
    moves: Vec<Moved>,
    /// Which record an entry belongs to.
    records: BTreeMap<i64, String>,
    invoices: BTreeMap<String, Value>,
    accrual: bool,
}

/// Cents a mile in the years of these lives.
/// Source: the tax office's yearly notices on standard mileage rates, from memory.
fn mile_of(date: &str) -> i128 {
    match &date[..4] {
        "2024" => 670_000,
        "2025" => 700_000,
        "2026" => 725_000,
        year => panic!("give the rate of {year}"),
    }
}

/// Miles at the rate, kilometres by the international mile of 1.609344 km, rounded once.
fn drive(body: &Value) -> i64 {
    let over = millionths(&body["distance"]) * mile_of(body["date"].as_str().unwrap()) * 100;
    match body["unit"] == "kilometre" {
        true => half_up(over, 1_000_000 * 1_609_344),
        false => half_up(over, 1_000_000 * 1_000_000),
    }
}

fn of_kind(kind: &str) -> String {
    format!("came in: {kind}")
}

impl Purses {
    pub(super) fn of(accounts: &[&String], accrual: bool) -> Self {
        let accounts = accounts.iter().map(|one| (*one).clone()).collect();
        Self { accounts, accrual, ..Self::default() }
    }

    pub(super) fn watches(&mut self, account: &str) {
        self.accounts.insert(account.to_owned());
    }

    fn sum(&self, purse: &str) -> i64 {
        self.moves.iter().filter(|one| one.purse == purse).map(|one| one.cents).sum()
    }

    pub(super) fn hears(&mut self, path: &str, body: &Value, answer: &Value) {
        let record = answer["id"].as_str().unwrap().to_owned();
        for entry in answer["entries"].as_array().into_iter().flatten() {
            match entry["reverses"].as_i64() {
                Some(number) => {
                    let undone = self.records.get(&number).cloned();
                    self.moves.retain(|one| undone.as_ref() != Some(&one.record));
                }
                None => {
                    self.records.insert(entry["number"].as_i64().unwrap(), record.clone());
                }
            }
        }
        for (purse, cents) in self.moved_by(path, body, answer) {
            self.moves.push(Moved { record: record.clone(), purse, cents });
        }
    }

    fn moved_by(&mut self, path: &str, body: &Value, answer: &Value) -> Vec<(String, i64)> {
        let parts: Vec<&str> = path.split('/').skip(2).collect();
        let out = |name: &str, cents: i64| (body[name].as_str().unwrap_or_default().to_owned(), -cents);
        let into = |name: &str, cents: i64| (body[name].as_str().unwrap_or_default().to_owned(), cents);
        match parts.as_slice() {
            ["purchases"] => self.is_bought(body, answer),
            ["purchases", invoice, "payment"] => self.is_paid(invoice, body),
            ["purchases", _, "returns"] => {
                let lines = body["lines"].as_array().unwrap().iter();
                vec![into("refunded_to", lines.map(|line| cents(&line["amount"])).sum())]
            }
            ["tools"] | ["tools", _, "improvements"] => vec![out("paid_from", in_base(body, "cost"))],
            ["tools", _, "disposal"] => vec![into("paid_into", in_base(body, "proceeds"))],
            ["labour"] => {
                let paid = in_base(body, "paid");
                // On a piece it is a cost of the piece.
                let kind = if body["piece"].is_null() { "paid_labour" } else { "piece" };
                vec![out("paid_from", paid), (of_kind(kind), paid)]
            }
            ["trips"] => vec![(of_kind("trip"), drive(body))],
            ["payouts"] => paid_out(body),
            ["openings"] => opened(body),
            ["deals", _, "instalments"] => self.comes_in(body),
            ["deals", _, "clawbacks"] => vec![out("paid_from", in_base(body, "amount"))],
            ["accounts", act] => moved_money(act, body),
            ["furniture", rest @ ..] => self.furniture(rest, body),
            _ => Vec::new(),
        }
    }

    fn is_bought(&mut self, body: &Value, answer: &Value) -> Vec<(String, i64)> {
        if body["payment"] == "later" {
            self.invoices.insert(answer["id"].as_str().unwrap().to_owned(), body.clone());
            let debt = if self.accrual { in_base(body, "total") } else { 0 };
            return vec![("payables".to_owned(), -debt)];
        }
        let total = in_base(body, "total");
        if let Some(account) = body["paid_from"].as_str() {
            return vec![(account.to_owned(), -total)];
        }
        let paid = body["paid"].as_array().unwrap();
        let weights: Vec<i64> = paid.iter().map(|one| cents(&one["amount"])).collect();
        let parts = paid.iter().zip(shared_cents(total, &weights));
        parts.map(|(one, part)| (one["account"].as_str().unwrap().to_owned(), -part)).collect()
    }

    /// The account pays at the rate of the day. In cash books the payment is the purchase; in accrual books the debt goes
    /// as it was booked.
    fn is_paid(&self, invoice: &str, body: &Value) -> Vec<(String, i64)> {
        let receipt = &self.invoices[invoice];
        let rate = if body["rate"].is_null() { &receipt["rate"] } else { &body["rate"] };
        let total = at_rate(cents(&receipt["total"]), rate);
        let debt = if self.accrual { in_base(receipt, "total") } else { 0 };
        vec![(body["paid_from"].as_str().unwrap().to_owned(), -total), ("payables".to_owned(), debt)]
    }

    fn comes_in(&self, body: &Value) -> Vec<(String, i64)> {
        let kept = ["kept_by_agency", "kept_by_bank", "tax_withheld"].map(|name| in_base(body, name));
        let gross = in_base(body, "gross");
        let mut moved =
            vec![(body["paid_into"].as_str().unwrap().to_owned(), gross - kept.iter().sum::<i64>())];
        if !self.accrual {
            moved.push((of_kind("instalment"), gross));
        }
        moved
    }

    /// A buyer's deposit is part of the price when the piece is sold.
    fn furniture(&self, rest: &[&str], body: &Value) -> Vec<(String, i64)> {
        let of = |name: &str| body[name].as_str().unwrap_or_default().to_owned();
        let tax = in_base(body, "sales_tax_collected");
        let price = in_base(body, "gross") - in_base(body, "fees") + tax;
        match rest {
            [] if body["origin"] == "bought" => vec![(of("paid_from"), -in_base(body, "basis"))],
            ["lots"] => vec![(of("paid_from"), -in_base(body, "price"))],
            ["sale"] => vec![(of("paid_into"), price), ("sales_tax_collected".to_owned(), -tax)],
            [piece, "sale"] => {
                let deposit = format!("deposit: {piece}");
                let held = self.sum(&deposit);
                let tax = ("sales_tax_collected".to_owned(), -tax);
                vec![(of("paid_into"), price - held), (deposit, -held), tax]
            }
            [_, "refund"] => {
                let back =
                    in_base(body, "amount") + in_base(body, "sales_tax_back") - in_base(body, "fees_back");
                vec![(of("paid_from"), -back)]
            }
            [piece, "deposits"] => {
                let amount = in_base(body, "amount");
                vec![(of("paid_into"), amount), (format!("deposit: {piece}"), amount)]
            }
            [piece, "deposits", "settlement"] => {
                let deposit = format!("deposit: {piece}");
                let amount =
                    if body["amount"].is_null() { self.sum(&deposit) } else { cents(&body["amount"]) };
                let paid = if body["how"] == "kept" { 0 } else { amount };
                vec![(of("paid_from"), -paid), (deposit, -amount)]
            }
            [_, "swap"] => {
                vec![(of("money_account"), cents(&body["money_received"]) - cents(&body["money_paid"]))]
            }
            _ => Vec::new(),
        }
    }
}

/// Each figure is converted by itself; the net is what the converted ones come to.
fn paid_out(body: &Value) -> Vec<(String, i64)> {
    let lines = body["lines"].as_array().unwrap().iter();
    let gross: i64 = lines.map(|line| at_rate(cents(&line["gross"]), &body["rate"])).sum();
    let of = |name: &str| in_base(body, name);
    let (held, released, adjusted) =
        (of("reserve_held"), of("reserve_released"), of("adjustments").max(-gross));
    let net = gross - of("fees") + adjusted - of("tax_withheld") - held + released;
    vec![
        (body["paid_into"].as_str().unwrap().to_owned(), net),
        ("platform_reserves".to_owned(), held - released),
        (of_kind("payout"), gross + adjusted.max(0)),
    ]
}

fn opened(body: &Value) -> Vec<(String, i64)> {
    let balance = in_base(body, "balance");
    let standing = body["standing"].as_str();
    let signed = match standing {
        Some("loans" | "payables" | "deposits_received") => -balance,
        _ => balance,
    };
    standing.or(body["account"].as_str()).map(|account| (account.to_owned(), signed)).into_iter().collect()
}

fn moved_money(act: &str, body: &Value) -> Vec<(String, i64)> {
    let of = |name: &str| body[name].as_str().unwrap_or_default().to_owned();
    let amount = in_base(body, "amount");
    match act {
        "contributions" => vec![(of("into"), amount)],
        "draws" | "tax-payments" => vec![(of("from"), -amount)],
        "loans" => vec![(of("into"), amount), ("loans".to_owned(), -amount)],
        "loan-repayments" => {
            let (principal, interest) = (in_base(body, "principal"), in_base(body, "interest"));
            vec![
                (of("from"), -principal - interest),
                ("loans".to_owned(), principal),
                (of_kind("account_charge"), interest),
            ]
        }
        "transfers" => {
            let (moved, fee) = transferred(body);
            vec![(of("from"), -moved - fee), (of("to"), moved), (of_kind("account_charge"), fee)]
        }
        _ => Vec::new(),
    }
}

/// Between two currencies the side that is in the books' currency says what it was worth. Only the foreign account's
/// own currency is sent with `received` and no rate.
fn transferred(body: &Value) -> (i64, i64) {
    let (out, fee) = (cents(&body["amount"]), cents(&body["fee"]));
    match (body["received"].as_str(), body["note"] == "from abroad") {
        (None, _) => (in_base(body, "amount"), in_base(body, "fee")),
        (Some(_), false) => (out, fee),
        (Some(_), true) => {
            let received = cents(&body["received"]);
            (received, half_up(i128::from(received) * i128::from(fee), i128::from(out)))
        }
    }
}

impl Business {
    /// Purses, debts and deposits stand in the ledger as the bodies made them, and so did what came in by kind.
    pub(super) fn purses_agree(&self, standing: &BTreeMap<&str, i64>, roll: &Value) {
        let purses = &self.purses;
        let in_ledger = |account: &str| standing.get(account).copied().unwrap_or_default();
        for account in &purses.accounts {
            let named = format!("money:{account}");
            assert_eq!(in_ledger(&named), purses.sum(account), "seed {}, {named}", self.seed);
        }
        for account in ["loans", "payables", "deposits_paid", "platform_reserves", "sales_tax_collected"] {
            assert_eq!(in_ledger(account), purses.sum(account), "seed {}, {account}", self.seed);
        }
        let deposits: i64 =
            purses.moves.iter().filter(|one| one.purse.starts_with("deposit: ")).map(|one| one.cents).sum();
        let stated = purses.sum("deposits_received");
        assert_eq!(in_ledger("deposits_received"), stated - deposits, "seed {}", self.seed);
        for kind in ["paid_labour", "trip", "account_charge", "payout", "instalment"] {
            if kind != "instalment" || !purses.accrual {
                assert_eq!(came_in(roll, kind), purses.sum(&of_kind(kind)), "seed {}, {kind}", self.seed);
            }
        }
        if let Some(shelf) = &self.shelf {
            assert_eq!(came_in(roll, "lot"), shelf.came_at(), "seed {}, lots", self.seed);
        }
    }
}

/// Costs and income of that kind, as they came; fees are apart.
fn came_in(roll: &Value, kind: &str) -> i64 {
    let sources = roll["sources"].as_array().unwrap().iter();
    let of_kind =
        sources.filter(|one| one["kind"] == kind && (one["side"] == "cost" || one["side"] == "income"));
    of_kind.map(|one| cents(&one["opening"]) + cents(&one["incurred"])).sum()
}
