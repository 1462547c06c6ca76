//! Invoices through the door, in accrual books and on the cash basis.

use ledgerboard::rules::recording::AccountingMethod;
use serde_json::{Value, json};

use crate::world::{Caller, Kept, World, postings};

struct Desk {
    world: World,
    owner: Caller,
    bank: String,
    episode: String,
    deal: String,
}

impl Desk {
    fn keeping(method: AccountingMethod) -> Self {
        let world = World::keeping(&Kept { method, ..Kept::usual() });
        let owner = world.owner();
        let (bank, project) = (owner.has_account("bank"), owner.has_project("The reading room"));
        let episode = owner.has_episode(&project, "Shelves");
        let sponsor = owner.has_party("Quillon Tools", "sponsor");
        let deal = owner.makes(
            "/v1/deals",
            json!({
            "date": "2025-11-01", "sponsor": sponsor, "title": "Bracket shelf", "amount": "1000.00",
            "for": [{ "episode": episode }],
            "schedule": [{ "due_on": "2025-12-15", "amount": "600.00", "what": "on publishing" },
                         { "due_on": "2026-02-15", "amount": "400.00", "what": "a month later" }] }),
        );
        Self { world, owner, bank, episode, deal }
    }

    fn path(&self, what: &str) -> String {
        format!("/v1/deals/{}/{what}", self.deal)
    }

    fn invoices(&self, on: &str, amount: &str) -> Value {
        let body = json!({ "date": on, "what": "no. 7", "amount": amount });
        self.owner.records(&self.path("invoices"), body)
    }

    fn is_paid(&self, on: &str, gross: &str) -> Value {
        let body = json!({ "date": on, "gross": gross, "net": gross, "paid_into": self.bank });
        self.owner.records(&self.path("instalments"), body)
    }

    fn year(&self, year: i32) -> Value {
        self.owner.reads(&format!("/v1/tax-years/{year}/summary"))
    }

    fn earned_through(&self, day: &str) -> Value {
        self.owner.reads(&format!("/v1/episodes/{}/statement?to={day}", self.episode))["income_total"].clone()
    }
}

fn first_line(summary: &Value) -> &Value {
    let lines = summary["lines"].as_array().unwrap();
    &lines.iter().find(|one| one["line"] == "1").unwrap()["exact"]
}

fn asked(summary: &Value, topic: &str) -> Vec<String> {
    let questions = summary["questions"].as_array().unwrap().iter();
    questions
        .filter(|one| one["topic"] == topic)
        .map(|one| one["question"].as_str().unwrap().to_owned())
        .collect()
}

// Pub. 538, Accrual Method (income when the right to it is fixed), from memory; figures of our own.
#[test]
fn accrual_books_have_the_income_of_an_invoice_in_its_year_and_the_money_in_the_next() {
    let desk = Desk::keeping(AccountingMethod::Accrual);
    let due = asked(&desk.year(2025), "receivables");
    assert!(due[0].starts_with("600.00 USD of 'Bracket shelf' was due"), "{due:?}");
    let path = format!("{}?dry_run=true", desk.path("invoices"));
    let before = desk.world.rows_written();
    let shown = desk.owner.post(&path, &json!({ "date": "2025-12-16", "what": "no. 7", "amount": "600.00" }));
    assert_eq!((shown.status, desk.world.rows_written()), (200, before));
    let invoice = desk.invoices("2025-12-16", "600.00");
    assert_eq!(
        postings(&invoice["entries"][0]),
        ["sponsor_receivables 600.00", "income:sponsorship -600.00 sponsorship"]
    );
    let first = desk.is_paid("2026-01-20", "250.00");
    assert_eq!(postings(&first["entries"][0]), ["sponsor_receivables -250.00", "money 250.00"]);
    let second = desk.is_paid("2026-02-20", "450.00");
    assert_eq!(
        postings(&second["entries"][0]),
        ["income:sponsorship -100.00 sponsorship", "sponsor_receivables -350.00", "money 450.00"]
    );
    let standing = desk.owner.reads(&desk.path("standing"));
    assert_eq!((&standing["invoices"][0]["open"], &standing["open"]), (&json!("0.00"), &json!("300.00")));
    for (year, gross, received) in [(2025, "600.00", "0.00"), (2026, "100.00", "700.00")] {
        let summary = desk.year(year);
        assert_eq!(first_line(&summary), gross);
        let bridge = &summary["reconciliation"];
        assert_eq!((&bridge["agrees"], &bridge["received"]), (&json!(true), &json!(received)), "{bridge}");
        assert_eq!(bridge["in_other_ways"], "0.00");
    }
    assert!(asked(&desk.year(2025), "receivables").is_empty());
    assert_eq!(
        (desk.earned_through("2025-12-31"), desk.earned_through("2026-12-31")),
        (json!("600.00"), json!("700.00"))
    );
    // An invoice that was paid is not taken back alone, and with its payments it leaves nothing.
    let reversal = format!("/v1/records/{}/reversal", invoice["id"].as_str().unwrap());
    let refused = desk.owner.is_refused(409, &reversal, json!({ "reason": "wrong customer" }));
    assert!(refused.error_at("").contains("other records stand on this one"));
    desk.owner.records(&reversal, json!({ "reason": "wrong customer", "dependants": "take_back" }));
    assert_eq!(desk.earned_through("2026-12-31"), "0.00");
    assert_eq!(desk.owner.reads(&desk.path("standing"))["invoices"], json!([]));
}

// Pub. 538, Cash Method, from memory.
#[test]
fn on_the_cash_basis_an_invoice_is_kept_and_is_no_income_before_it_is_paid() {
    let desk = Desk::keeping(AccountingMethod::Cash);
    assert!(asked(&desk.year(2025), "receivables").is_empty());
    assert_eq!(desk.invoices("2025-12-16", "600.00")["entries"], json!([]));
    assert_eq!(first_line(&desk.year(2025)), "0.00");
    let standing = desk.owner.reads(&desk.path("standing"));
    assert_eq!(standing["invoices"][0]["open"], "600.00");
    let beyond = json!({ "date": "2025-12-17", "what": "no. 8", "amount": "400.01" });
    let before = desk.world.rows_written();
    let refused = desk.owner.is_refused(409, &desk.path("invoices"), beyond);
    assert!(refused.error_at("/amount").contains("0.01 too much"));
    assert_eq!(desk.world.rows_written(), before);
    let paid = desk.is_paid("2026-01-20", "600.00");
    assert_eq!(postings(&paid["entries"][0]), ["income:sponsorship -600.00 sponsorship", "money 600.00"]);
    assert_eq!(desk.owner.reads(&desk.path("standing"))["invoices"][0]["open"], "0.00");
    assert_eq!(first_line(&desk.year(2026)), "600.00");
    let stranger = desk.world.stranger();
    assert_eq!(
        stranger
            .post(&desk.path("invoices"), &json!({ "date": "2025-12-17", "what": "x", "amount": "1.00" }))
            .status,
        404
    );
}
