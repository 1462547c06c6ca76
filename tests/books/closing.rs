//! Closing and reopening through the door.

use serde_json::{Value, json};

use crate::world::{Caller, Kept, World, postings};

/// Books since 2024 with a saw of that year, its class out of the allowance, and a clamp of 60.
struct Shop {
    world: World,
    owner: Caller,
    bank: String,
    saw: String,
}

impl Shop {
    fn open() -> Self {
        let world = World::keeping(&Kept { began_on: "2024-01-01", ..Kept::usual() });
        let owner = world.owner();
        let bank = owner.has_account("bank");
        let out = json!({ "kind": "no_special_allowance", "class": "7" });
        owner.records("/v1/tax-years/2024/elections", out);
        let buys = |name: &str, cost: &str| {
            owner.makes(
                "/v1/tools",
                json!({ "name": name, "date": "2024-03-01", "origin": "bought", "cost": cost,
                "method": "equal_share", "paid_from": bank }),
            )
        };
        let saw = buys("band saw", "1000.00");
        buys("clamp", "60.00");
        Self { world, owner, bank, saw }
    }

    fn closes(&self, through: &str) -> Value {
        self.owner
            .records("/v1/books/closing", json!({ "through": through, "reason": "the return was filed" }))
    }

    fn reopens(&self, from: &str) -> Value {
        self.owner.records("/v1/books/reopening", json!({ "from": from, "reason": "a receipt turned up" }))
    }

    fn sells_saw(&self, on: &str) -> Value {
        let sale = json!({ "date": on, "kind": "sold", "proceeds": "700.00", "paid_into": self.bank });
        self.owner.records(&format!("/v1/tools/{}/disposal", self.saw), sale)
    }

    /// What stands on an account over all years, in cents.
    fn balance(&self, account: &str) -> i64 {
        let mut path = Some(format!("/v1/postings?account={account}&limit=200"));
        let mut sum = 0;
        while let Some(next) = path {
            let page = self.owner.reads(&next);
            for posting in page["items"].as_array().unwrap() {
                sum += posting["amount"].as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
            }
            path = page["next"].as_str().map(str::to_owned);
        }
        sum
    }

    fn lines(&self, year: i32, line: &str) -> Value {
        let summary = self.owner.reads(&format!("/v1/tax-years/{year}/summary"));
        let lines = summary["lines"].as_array().unwrap();
        lines.iter().find(|one| one["line"] == line).unwrap()["exact"].clone()
    }
}

// Pub. 946 Appendix A, table A-1 (seen): 14.29 % of 1,000 in the first year of seven, 24.49 % in the second.
#[test]
fn closing_a_year_posts_what_its_summary_writes_off_and_the_next_year_goes_on_from_there() {
    let shop = Shop::open();
    let before = shop.world.rows_written();
    let asked = json!({ "through": "2024-12-31", "reason": "the return was filed" });
    let shown = shop.owner.post("/v1/books/closing?dry_run=true", &asked);
    assert_eq!((shown.status, shop.world.rows_written()), (200, before));
    let closed = shop.closes("2024-12-31");
    assert_eq!(
        postings(&closed["entries"][0]),
        [
            "expense:depreciation 142.90 depreciation",
            "expense:small_tools 60.00 small_tools",
            "accumulated_depreciation -142.90",
            "tools_at_cost -60.00"
        ]
    );
    assert_eq!(
        (&closed["entries"][0]["kind"], &closed["entries"][0]["date"], &closed["entries"][1]["kind"]),
        (&json!("depreciation"), &json!("2024-12-31"), &json!("closing"))
    );
    assert_eq!(shop.balance("retained_earnings"), 20_290);
    assert_eq!(shop.balance("expense:depreciation"), 0);
    let summary = shop.owner.reads("/v1/tax-years/2024/summary");
    assert!(summary["depreciation"]["says"].as_str().unwrap().contains("posted when the year was closed"));
    assert_eq!(shop.lines(2024, "13"), "142.90");
    let second = shop.closes("2025-12-31");
    assert_eq!(postings(&second["entries"][0])[0], "expense:depreciation 244.90 depreciation");
    // Two years of the saw are on the books when it is sold: 1,000 less 387.80 against 700.
    let sold = shop.sells_saw("2026-02-03");
    assert_eq!(
        postings(&sold["entries"][0]),
        [
            "money 700.00",
            "accumulated_depreciation 387.80",
            "tools_at_cost -1000.00",
            "business_property_sales -87.80 business_property_sale"
        ]
    );
    // Closing 2026 settles the half year it was there: 17.49 % halved (Pub. 946 ch. 4, dispositions, seen).
    let third = shop.closes("2026-12-31");
    assert_eq!(
        postings(&third["entries"][1]),
        ["accumulated_depreciation 87.45", "business_property_sales -87.45 business_property_sale"]
    );
    for account in ["tools_at_cost", "accumulated_depreciation", "business_property_sales"] {
        assert_eq!(shop.balance(account), 0, "{account}");
    }
}

// Common practice, no source.
#[test]
fn a_year_that_is_open_again_has_its_end_taken_back_and_can_be_closed_anew() {
    let shop = Shop::open();
    shop.closes("2025-03-31");
    let opened = shop.reopens("2025-02-01");
    assert_eq!(opened["entries"], json!([]), "the end of 2024 stays closed");
    let opened = shop.reopens("2024-11-01");
    let reversed: Vec<_> = opened["entries"].as_array().unwrap().iter().map(|entry| &entry["kind"]).collect();
    assert_eq!(reversed, ["reversal", "reversal"]);
    for account in ["retained_earnings", "accumulated_depreciation", "expense:depreciation"] {
        assert_eq!(shop.balance(account), 0, "{account}");
    }
    assert_eq!(shop.lines(2024, "13"), "142.90");
    shop.sells_saw("2024-12-20");
    let closed = shop.closes("2024-12-31");
    // It came and went within the year: nothing to write off but the clamp.
    assert_eq!(
        postings(&closed["entries"][0]),
        ["expense:small_tools 60.00 small_tools", "tools_at_cost -60.00"]
    );
    let again = shop.owner.is_refused(
        409,
        "/v1/books/closing",
        json!({ "through": "2024-12-31", "reason": "again" }),
    );
    assert!(again.error_at("/through").contains("closed already"));
    let two = json!({ "through": "2026-12-31", "reason": "both" });
    let said = shop.owner.is_refused(409, "/v1/books/closing", two).error_at("/through");
    assert!(said.contains("close through 2025-12-31 first"), "{said}");
}

// Common practice, no source: a correction of a closed year is dated on an open day and counts for its year.
#[test]
fn a_tool_taken_back_after_its_year_was_closed_takes_its_write_off_along() {
    let shop = Shop::open();
    let sold = shop.sells_saw("2025-05-05");
    shop.closes("2024-12-31");
    // The sale came before the closing: its comparison was made up for on its own day.
    assert_eq!(shop.balance("accumulated_depreciation"), 0);
    let reversal = format!("/v1/records/{}/reversal", sold["id"].as_str().unwrap());
    let back = shop.owner.records(&reversal, json!({ "reason": "the buyer never came" }));
    assert_eq!(
        postings(&back["entries"][1]),
        ["accumulated_depreciation -142.90", "business_property_sales 142.90 business_property_sale"]
    );
    assert_eq!(shop.balance("accumulated_depreciation"), -14_290);
    let standing = shop.owner.reads(&format!("/v1/tools/{}/standing", shop.saw));
    let reversal = format!("/v1/records/{}/reversal", standing["record"].as_str().unwrap());
    let taken = shop.owner.records(&reversal, json!({ "reason": "entered twice" }));
    let entries = taken["entries"].as_array().unwrap();
    let last = entries.last().unwrap();
    assert_eq!(
        postings(last),
        ["expense:depreciation -142.90 depreciation", "accumulated_depreciation 142.90"]
    );
    assert_eq!((&last["date"], &last["postings"][0]["tax_year"]), (&json!("2025-05-05"), &json!(2024)));
    assert_eq!((shop.balance("tools_at_cost"), shop.balance("accumulated_depreciation")), (0, 0));
    // Open again, all of it goes back, and nothing goes back twice.
    shop.reopens("2024-01-01");
    for account in ["tools_at_cost", "accumulated_depreciation", "retained_earnings"] {
        assert_eq!(shop.balance(account), if account == "tools_at_cost" { 6000 } else { 0 }, "{account}");
    }
}
