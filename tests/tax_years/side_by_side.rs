//! Tools in the books and for tax, through the door.

use serde_json::{Value, json};

use super::Workshop;

fn views(shop: &Workshop, year: i32) -> Value {
    shop.owner.reads(&format!("/v1/tax-years/{year}/tools"))
}

fn agrees(shown: &Value) {
    let accounts = shown["accounts"].as_array().unwrap();
    assert!(accounts.iter().all(|account| account["agrees"] == true), "{shown:#}");
}

/// Tools at cost and accumulated depreciation, by the tools and in the ledger.
fn stands(shown: &Value) -> [[&str; 2]; 2] {
    let of = |place: usize| {
        let account = &shown["accounts"][place];
        ["by_tools", "in_ledger"].map(|name| account[name].as_str().unwrap())
    };
    [of(0), of(1)]
}

fn tool<'a>(shown: &'a Value, name: &str) -> &'a Value {
    let tools = shown["tools"].as_array().unwrap();
    tools.iter().find(|row| row["name"] == name).unwrap_or_else(|| panic!("{name}: {shown:#}"))
}

/// A saw used 30 of 300 hours, a drill that is a supply, and a lathe from before the books.
fn with_tools() -> (Workshop, String, String) {
    let shop = Workshop::open();
    shop.earns("2025-02-01", "9000.00");
    let terms = json!({ "name": "saw", "method": "per_use_hour", "hours_expected": "300", "salvage": "200.00",
                        "business_share": "80" });
    let saw = shop.buys_tool("2025-03-04", "3200.00", terms);
    let drill = shop.buys_tool("2025-04-01", "150.00", json!({ "name": "drill" }));
    shop.owner.records(
        "/v1/openings",
        json!({ "date": "2025-01-01", "what": "tool", "tool": {
        "terms": { "name": "lathe", "method": "equal_share" }, "acquired_on": "2023-05-10", "cost": "600.00",
        "depreciation_taken": "232.68", "convention": "half_year", "attributed_before": "150.00" } }),
    );
    let uses = json!({ "uses": [{ "date": "2025-03-20", "episode": shop.episode, "hours": "30" }] });
    shop.owner.records(&format!("/v1/tools/{saw}/uses"), uses);
    (shop, saw, drill)
}

fn close(shop: &Workshop, year: i32) {
    let body = json!({ "through": format!("{year}-12-31"), "reason": "looked through" });
    shop.owner.records("/v1/books/closing", body);
}

#[test]
fn both_views_of_the_tools_agree_with_the_ledger_before_and_after_closing() {
    let (shop, ..) = with_tools();
    let open = views(&shop, 2025);
    agrees(&open);
    assert_eq!(stands(&open), [["3950.00", "3950.00"], ["232.68", "232.68"]]);
    let saw = tool(&open, "saw");
    assert_eq!(
        (&saw["book"]["attributed_in_year"], &saw["book"]["left_unattributed"]),
        (&json!("300.00"), &json!("2900.00"))
    );
    // IRC 168(k) on the business share of what was acquired after 2025-01-19 (seen, Notice 2026-11)
    assert_eq!(
        (&saw["tax"]["basis"], &saw["tax"]["special_allowance"]),
        (&json!("2560.00"), &json!("2560.00"))
    );
    assert_eq!(
        (&saw["difference"]["of_year"], &saw["ledger"]["posted"]),
        (&json!("2260.00"), &json!("0.00"))
    );
    assert_eq!(tool(&open, "lathe")["book"]["attributed_before"], "150.00");
    assert!(saw["reason"].as_str().unwrap().contains("20 % of the year's use is private"));
    let links: Vec<_> =
        open["tools"].as_array().unwrap().iter().map(|row| row["link"].as_str().unwrap()).collect();
    links.iter().for_each(|link| drop(shop.owner.reads(link)));

    close(&shop, 2025);
    let closed = views(&shop, 2025);
    agrees(&closed);
    assert_eq!(tool(&closed, "saw")["ledger"]["posted"], "2560.00");
    assert_eq!(
        (&tool(&closed, "drill")["ledger"]["at_cost"], &tool(&closed, "drill")["tax"]["small_tool"]),
        (&json!("0.00"), &json!("150.00"))
    );
    assert_eq!(closed["total"]["tax"], open["total"]["tax"]);
    // Pub. 946 Appendix A, table A-1, seven years, third year: 17.49 % (seen)
    assert_eq!(tool(&closed, "lathe")["tax"]["depreciation"], "104.94");
    assert_eq!(stands(&closed), [["3800.00", "3800.00"], ["2897.62", "2897.62"]]);
}

#[test]
fn a_tool_sold_or_taken_back_later_leaves_the_year_before_as_it_was() {
    let (shop, saw, drill) = with_tools();
    close(&shop, 2025);
    let sale = json!({ "date": "2026-02-03", "kind": "sold", "proceeds": "700.00", "paid_into": shop.bank });
    shop.owner.records(&format!("/v1/tools/{saw}/disposal"), sale);
    shop.owner.records(&format!("/v1/records/{drill}/reversal"), json!({ "reason": "the neighbour's" }));
    let before = views(&shop, 2025);
    agrees(&before);
    assert_eq!(stands(&before)[0], ["3800.00", "3800.00"]);
    assert_eq!(before["tools"].as_array().unwrap().len(), 2);
    let after = views(&shop, 2026);
    agrees(&after);
    assert_eq!(stands(&after)[0], ["600.00", "600.00"]);
    let gone = tool(&after, "saw");
    assert_eq!((&gone["disposed_on"], &gone["book"]["removed"]), (&json!("2026-02-03"), &json!("2900.00")));
    assert_eq!(
        (&gone["book"]["left_unattributed"], &gone["ledger"]["at_cost"]),
        (&json!("0.00"), &json!("0.00"))
    );
    close(&shop, 2026);
    agrees(&views(&shop, 2026));
    agrees(&views(&shop, 2025));
}

#[test]
fn the_views_come_as_a_table_and_as_text_with_the_same_figures() {
    let (shop, ..) = with_tools();
    let path = "/v1/tax-years/2025/tools";
    let csv = shop.owner.get(&format!("{path}?format=csv"));
    assert!(csv.header("content-disposition").unwrap().contains("tax-year-2025-tools.csv"));
    let total = csv.text.lines().find(|line| line.starts_with("total,")).unwrap();
    assert!(total.starts_with("total,in all,,,3950.00,200.00,150.00,300.00,0.00,3500.00,,"), "{total}");
    let text = shop.owner.get_accepting(path, "text/plain").text;
    for title in ["In the books", "For tax", "Why they differ", "Tools and ledger", "agree with the ledger"] {
        assert!(text.contains(title), "{title}: {text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    assert_eq!(shop.owner.get(&format!("{path}?format=pdf")).status, 406);
    assert_eq!(shop.owner.get("/v1/tax-years/2001/tools").status, 422);
    assert_eq!(shop.world.nobody().get(path).status, 401);
    let theirs = shop.world.stranger().reads(path);
    assert_eq!((&theirs["tools"], &theirs["total"]["book"]["cost"]), (&json!([]), &json!("0.00")));
}
