//! The ledger through the door: what stands on the accounts, and that an entry is part of the chain.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Caller, Kept, World};

struct Workshop {
    world: World,
    owner: Caller,
    bank: String,
}

impl Workshop {
    fn open() -> Self {
        let world = World::keeping(&Kept { began_on: "2025-01-01", ..Kept::usual() });
        let owner = world.owner();
        let bank = owner.has_account("bank");
        let shop = Self { world, owner, bank };
        shop.owner.records(
            "/v1/accounts/contributions",
            json!({ "date": "2025-01-02", "into": shop.bank, "amount": "500.00" }),
        );
        shop.pays("2025-02-03", "80.00");
        shop.pays("2025-03-04", "20.00");
        shop
    }

    fn pays(&self, on: &str, amount: &str) -> Value {
        let body = json!({ "date": on, "paid_from": self.bank, "total": amount, "lines": [{
            "text": "paper", "amount": amount, "for": [], "treatments": [{ "as": "expense", "class": "office" }] }] });
        self.owner.records("/v1/purchases", body)
    }

    fn reads(&self, path: &str) -> Value {
        self.owner.reads(path)
    }
}

// Principles of Financial Accounting, 2.2, 2.3 and 3.6, from memory; figures of our own.
#[test]
fn the_trial_balance_the_income_statement_and_the_balance_sheet_agree_on_any_day_before_and_after_closing() {
    let shop = Workshop::open();
    let trial = shop.reads("/v1/ledger/trial-balance?on=2025-02-28");
    assert_eq!((&trial["balances"], &trial["debit_total"]), (&json!(true), &json!("500.00")));
    let earned = |days: &str| shop.reads(&format!("/v1/ledger/income-statement?{days}"))["result"].clone();
    assert_eq!(earned("to=2025-02-28"), "-80.00");
    assert_eq!(earned("from=2025-03-01&to=2025-12-31"), "-20.00");
    let sheet = || shop.reads("/v1/ledger/balance-sheet?on=2025-12-31");
    let open = sheet();
    assert_eq!((&open["asset_total"], &open["result_not_closed"]), (&json!("400.00"), &json!("-100.00")));
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let closed = sheet();
    assert_eq!((&closed["balances"], &closed["result_not_closed"]), (&json!(true), &json!("0.00")));
    assert_eq!((&closed["equity_total"], &open["equity_total"]), (&json!("400.00"), &json!("400.00")));
    assert_eq!(
        earned("from=2025-01-01&to=2025-12-31"),
        "-100.00",
        "a closed year still shows what it earned"
    );
    shop.owner.records("/v1/books/reopening", json!({ "from": "2025-12-31", "reason": "one more receipt" }));
    assert_eq!(sheet(), open);
    let table = shop.owner.get("/v1/ledger/balance-sheet?format=csv");
    assert!(table.text.starts_with("section,account,name,currency,amount\r\n"), "{}", table.text);
    assert!(shop.owner.get("/v1/ledger/trial-balance?format=text").text.starts_with("Trial balance"));
}

// Common practice, no source.
#[test]
fn the_ledger_of_an_account_runs_by_day_page_by_page_and_ends_at_its_balance() {
    let shop = Workshop::open();
    shop.pays("2025-02-01", "7.00");
    let address = format!("/v1/ledger/accounts/money:{}", shop.bank);
    let whole = shop.reads(&address);
    let balances = |page: &Value| -> Vec<String> {
        page["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["balance"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(balances(&whole), ["500.00", "493.00", "413.00", "393.00"]);
    let first = shop.reads(&format!("{address}?from=2025-02-01&limit=2"));
    assert_eq!(
        (&first["before"], balances(&first)),
        (&json!("500.00"), vec!["493.00".into(), "413.00".into()])
    );
    let second = shop.reads(first["next"].as_str().unwrap());
    assert_eq!((&second["before"], balances(&second)), (&json!("413.00"), vec!["393.00".into()]));
    assert_eq!(second["next"], Value::Null);
    assert_eq!(balances(&shop.reads(&format!("{address}?to=2025-02-01"))), ["500.00", "493.00"]);
    for (path, status, words) in
        [("cellar", 404, "there is no account 'cellar'"), ("loans?cursor=1.2", 400, "not one of ours")]
    {
        let refused = shop.owner.get(&format!("/v1/ledger/accounts/{path}"));
        assert_eq!(refused.status, status);
        assert!(refused.text.contains(words), "{}", refused.text);
    }
    for path in [
        format!("{address}?from=-9999-01-01"),
        "/v1/entries?from=-9999-01-01".to_owned(),
        "/v1/ledger/trial-balance?on=-262143-01-01".to_owned(),
        "/v1/purchases?to=%2B262142-12-31".to_owned(),
    ] {
        let answer = shop.owner.get(&path);
        assert!(answer.status < 500, "{path}: {}", answer.text);
    }
    assert_eq!(shop.world.stranger().reads(&address)["items"], json!([]));
}

// FIPS 180-4 through the sha2 crate: whoever has the canonical form and a SHA-256 comes to the same hash.
#[test]
fn an_entry_is_proven_by_its_canonical_form_and_the_hash_before_it() {
    use sha2::{Digest, Sha256};
    let shop = Workshop::open();
    let head = shop.reads("/v1/books");
    let mut before = None;
    for number in 1..=3 {
        let proof = shop.reads(&format!("/v1/entries/{number}/proof"));
        let digest = Sha256::digest(proof["canonical"].as_str().unwrap());
        let digest: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!((&proof["hash"], &proof["holds"]), (&json!(digest), &json!(true)));
        assert!(proof["canonical"].as_str().unwrap().contains(proof["hash_before"].as_str().unwrap()));
        if let Some(before) = before {
            assert_eq!(proof["hash_before"], before);
        }
        assert_eq!(proof["head"]["hash"], head["head_hash"]);
        before = Some(proof["hash"].clone());
    }
    assert_eq!(before.unwrap(), head["head_hash"]);
    assert_eq!(shop.owner.get("/v1/entries/4/proof").status, 404);
}

// A tax year is kept between 1900 and 2200, and the database knows fewer days than the calendar does.
#[test]
fn a_day_that_no_books_are_kept_for_is_refused_in_words_wherever_it_is_given() {
    let shop = Workshop::open();
    let before = shop.world.rows_written();
    for day in ["1899-12-31", "2200-01-01", "0001-01-01", "9999-12-31", "+12025-01-01", "-0044-03-15"] {
        let body = json!({ "date": day, "into": shop.bank, "amount": "1.00" });
        let said = shop.owner.is_refused(422, "/v1/accounts/contributions", body).error_at("/date");
        assert!(said.contains("1900 to 2199"), "{day}: {said}");
        let day = day.replace('+', "%2B");
        for path in
            ["/v1/entries?from=", "/v1/ledger/trial-balance?on=", "/v1/purchases?to=", "/v1/tools?to="]
        {
            let answer = shop.owner.get(&format!("{path}{day}"));
            assert_eq!(answer.status, 400, "{path}{day}: {}", answer.text);
        }
    }
    assert_eq!(shop.world.rows_written(), before);
    for day in ["1900-01-01", "2199-12-31"] {
        assert_eq!(shop.owner.get(&format!("/v1/ledger/trial-balance?on={day}")).status, 200);
    }
}

#[test]
fn a_period_that_ends_before_it_begins_is_refused_and_not_answered_with_nothing() {
    let shop = Workshop::open();
    for path in ["/v1/ledger/income-statement", "/v1/entries", "/v1/purchases"] {
        let days = |from: &str, to: &str| shop.owner.get(&format!("{path}?from={from}&to={to}"));
        let answer = days("2025-02-02", "2025-02-01");
        assert_eq!(answer.status, 400, "{path}: {}", answer.text);
        assert!(
            answer.json()["detail"].as_str().unwrap().contains("from=2025-02-02 lies after to=2025-02-01")
        );
        assert_eq!(days("2025-02-02", "2025-02-02").status, 200, "{path}");
    }
}
