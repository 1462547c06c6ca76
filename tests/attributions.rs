//! Attributions through the door: the list behind a statement, a cost that moves on, one that is given out.
#![cfg(test)]

mod joint;
mod overhead;

use serde_json::{Value, json};

use crate::world::{Caller, World};

/// A receipt of screws for the shelves and of glue that nobody has taken up yet.
struct Bench {
    world: World,
    owner: Caller,
    bank: String,
    project: String,
    shelves: String,
    lamp: String,
    receipt: String,
    screws: String,
    glue: String,
}

impl Bench {
    fn open() -> Self {
        let world = World::open();
        let owner = world.owner();
        let bank = owner.has_account("bank");
        let project = owner.has_project("The reading room");
        let (shelves, lamp) =
            (owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "The lamp"));
        let treatments = json!([{ "as": "expense", "class": "supplies" }]);
        let screws = json!({ "text": "screws", "amount": "60.00", "for": [{ "episode": shelves }],
                             "treatments": treatments });
        let glue = json!({ "text": "glue", "amount": "10.00", "treatments": treatments });
        let receipt =
            json!({ "date": "2025-03-02", "paid_from": bank, "total": "70.00", "lines": [screws, glue] });
        let receipt = owner.makes("/v1/purchases", receipt);
        let sources = owner.reads("/v1/sources");
        let of = |text: &str| {
            let found = sources["sources"].as_array().unwrap().iter().find(|one| one["text"] == text);
            found.unwrap()["source"].as_str().unwrap().to_owned()
        };
        let (screws, glue) = (of("screws"), of("glue"));
        Self { world, owner, bank, project, shelves, lamp, receipt, screws, glue }
    }

    fn moving(&self, amount: &str) -> Value {
        json!({ "date": "2025-04-01", "source": self.screws, "from_episode": self.shelves,
                "to_episode": self.lamp, "amount": amount })
    }

    fn cost(&self, episode: &str, query: &str) -> String {
        let statement = self.owner.reads(&format!("/v1/episodes/{episode}/statement{query}"));
        assert_eq!(statement["reconciles"], true);
        statement["cost_total"].as_str().unwrap().to_owned()
    }

    fn source(&self, source: &str) -> Value {
        let roll = self.owner.reads("/v1/sources");
        roll["sources"].as_array().unwrap().iter().find(|one| one["source"] == source).unwrap().clone()
    }

    fn takes_back(&self, record: &str, dependants: Option<&str>) -> Value {
        let mut body = json!({ "reason": "it was right before" });
        if let Some(dependants) = dependants {
            body["dependants"] = json!(dependants);
        }
        self.owner.records(&format!("/v1/records/{record}/reversal"), body)
    }
}

#[test]
fn a_cost_moves_on_to_another_episode_and_older_statements_stay_as_they_were() {
    let bench = Bench::open();
    let moved = bench.owner.records("/v1/attributions/moves", bench.moving("25.00"));
    assert_eq!(moved["entries"], json!([]));
    assert_eq!(
        (bench.cost(&bench.shelves, ""), bench.cost(&bench.lamp, "")),
        ("35.00".into(), "25.00".into())
    );
    let march = "?to=2025-03-31";
    assert_eq!(
        (bench.cost(&bench.shelves, march), bench.cost(&bench.lamp, march)),
        ("60.00".into(), "0.00".into())
    );
    // Without an amount all that stands there moves.
    let mut rest = bench.moving("1.00");
    rest.as_object_mut().unwrap().remove("amount");
    bench.owner.records("/v1/attributions/moves", rest.clone());
    assert_eq!(
        (bench.cost(&bench.shelves, ""), bench.cost(&bench.lamp, "")),
        ("0.00".into(), "60.00".into())
    );
    let said = bench.owner.is_refused(409, "/v1/attributions/moves", rest).error_at("/source");
    assert!(said.contains("nothing of 'screws' stands there on 2025-04-01"), "{said}");
}

#[test]
fn a_move_that_can_not_be_is_refused_at_its_field_and_nothing_is_written() {
    let bench = Bench::open();
    let before = bench.world.rows_written();
    let path = "/v1/attributions/moves";
    let said = bench.owner.is_refused(409, path, bench.moving("60.01")).error_at("/amount");
    assert!(said.contains("60.01 is to move, and 60.00 stands there from 2025-04-01 on"), "{said}");
    let mut nowhere = bench.moving("1.00");
    nowhere["to_episode"] = json!("0192a1b2-0000-7000-8000-000000000001");
    bench.owner.is_refused(422, path, nowhere).error_at("/to_episode");
    let mut unknown = bench.moving("1.00");
    unknown["source"] = json!("0192a1b2-0000-7000-8000-000000000001");
    bench.owner.is_refused(422, path, unknown).error_at("/source");
    bench.world.stranger().is_refused(422, path, bench.moving("1.00")).error_at("/source");
    let mut early = bench.moving("1.00");
    early["date"] = json!("2025-03-01");
    bench.owner.is_refused(409, path, early).error_at("/source");
    let dry = bench.owner.post(&format!("{path}?dry_run=true"), &bench.moving("1.00"));
    assert_eq!((dry.status, dry.json()["attributions"][1]["amount"].clone()), (200, json!("1.00")));
    assert_eq!(bench.world.rows_written(), before);
}

#[test]
fn a_receipt_goes_back_only_with_the_move_that_stands_on_it() {
    let bench = Bench::open();
    let moved = bench.owner.records("/v1/attributions/moves", bench.moving("25.00"));
    let path = format!("/v1/records/{}/reversal", bench.receipt);
    let said = bench.owner.is_refused(409, &path, json!({ "reason": "twice" })).error_at("");
    assert!(said.contains("moved on: screws"), "{said}");
    bench.takes_back(moved["id"].as_str().unwrap(), None);
    assert_eq!(
        (bench.cost(&bench.shelves, ""), bench.cost(&bench.lamp, "")),
        ("60.00".into(), "0.00".into())
    );
    bench.owner.records("/v1/attributions/moves", bench.moving("30.00"));
    bench.takes_back(&bench.receipt, Some("take_back"));
    assert_eq!((bench.cost(&bench.shelves, ""), bench.cost(&bench.lamp, "")), ("0.00".into(), "0.00".into()));
}

#[test]
fn what_goes_back_to_the_vendor_stands_on_what_gave_it_to_the_episode() {
    let bench = Bench::open();
    let given = bench.owner.makes(
        "/v1/attributions",
        json!({ "date": "2025-03-05", "source": bench.glue, "for": [{ "episode": bench.lamp }] }),
    );
    let back = json!({ "date": "2025-03-09", "refunded_to": bench.bank, "lines": [{ "line": 1, "amount": "10.00" }] });
    bench.owner.records(&format!("/v1/purchases/{}/returns", bench.receipt), back);
    assert_eq!(bench.cost(&bench.lamp, ""), "0.00");
    let path = format!("/v1/records/{given}/reversal");
    let said = bench.owner.is_refused(409, &path, json!({ "reason": "twice" })).error_at("");
    assert!(said.contains("given back"), "{said}");
}

/// Derived: a third of 10.00 is 3.34, 3.33 and 3.33 by the largest remainder.
#[test]
fn a_cost_left_over_is_given_out_by_shares_and_has_its_own_line() {
    let bench = Bench::open();
    assert_eq!(bench.source(&bench.glue)["closing"], "10.00");
    let whom = json!([{ "episode": bench.shelves }, { "episode": bench.lamp }, { "project": bench.project }]);
    let body = json!({ "date": "2025-04-01", "source": bench.glue, "for": whom });
    let given = bench.owner.records("/v1/attributions", body.clone());
    let amounts: Vec<&Value> =
        given["attributions"].as_array().unwrap().iter().map(|one| &one["amount"]).collect();
    assert_eq!(amounts, ["3.34", "3.33", "3.33"]);
    let lamp = bench.owner.reads(&format!("/v1/episodes/{}/statement", bench.lamp));
    assert_eq!((&lamp["costs"][0]["category"], &lamp["cost_total"]), (&json!("overhead"), &json!("3.33")));
    assert_eq!(bench.source(&bench.glue)["closing"], "0.00");
    let said = bench.owner.is_refused(409, "/v1/attributions", body).error_at("/source");
    assert!(said.contains("nothing of 'glue' is left"), "{said}");
}

#[test]
fn stock_tools_and_pieces_are_not_given_out_by_hand() {
    let bench = Bench::open();
    let line = |text: &str, of: &str, what: Value| {
        let mut line = json!({ "text": text, "amount": "30.00" });
        line[of] = what;
        line
    };
    let stock = json!({ "material": "plywood", "unit": "piece", "quantity": "3" });
    let lines = [
        line("plywood", "stock", stock),
        line("a saw", "tool", json!({ "name": "a saw", "method": "equal_share" })),
        line("a bench", "new_piece", json!({ "name": "a bench", "purpose": "resale" })),
    ];
    let receipt = json!({ "date": "2025-03-03", "paid_from": bench.bank, "total": "90.00", "lines": lines });
    bench.owner.records("/v1/purchases", receipt);
    let before = bench.world.rows_written();
    for (kind, way) in [("lot", "/v1/materials/"), ("tool", "/v1/tools/"), ("piece", "/v1/furniture/")] {
        let roll = bench.owner.reads("/v1/sources");
        let source = roll["sources"].as_array().unwrap().iter().find(|one| one["kind"] == kind).unwrap();
        let body =
            json!({ "date": "2025-04-01", "source": source["source"], "for": [{ "episode": bench.lamp }] });
        let said = bench.owner.is_refused(409, "/v1/attributions", body).error_at("/source");
        assert!(said.contains(way), "{said}");
        let mut moving = bench.moving("1.00");
        moving["source"] = source["source"].clone();
        bench.owner.is_refused(409, "/v1/attributions/moves", moving).error_at("/source");
    }
    assert_eq!(bench.world.rows_written(), before);
}

#[test]
fn attributions_are_listed_by_what_they_are_page_by_page() {
    let bench = Bench::open();
    for amount in ["1.00", "2.00", "3.00"] {
        bench.owner.records("/v1/attributions/moves", bench.moving(amount));
    }
    let count = |query: &str| {
        let page = bench.owner.reads(&format!("/v1/attributions?{query}"));
        page["items"].as_array().unwrap().len()
    };
    assert_eq!(count(""), 7);
    assert_eq!(count(&format!("episode={}", bench.lamp)), 3);
    assert_eq!(count(&format!("project={}", bench.project)), 0);
    assert_eq!(count(&format!("source={}&side=cost&category=materials", bench.screws)), 7);
    assert_eq!((count("side=income"), count("label=materials"), count("label=tips")), (0, 7, 0));
    assert_eq!((count("from=2025-03-03"), count("to=2025-03-31")), (6, 1));
    let (mut seen, mut next) = (Vec::new(), Some("/v1/attributions?limit=2&category=materials".to_owned()));
    while let Some(path) = next {
        let page = bench.owner.reads(&path);
        let items = page["items"].as_array().unwrap();
        assert!(items.len() <= 2);
        seen.extend(items.iter().map(|one| one["amount"].as_str().unwrap().to_owned()));
        next = page["next"].as_str().map(str::to_owned);
    }
    assert_eq!(seen, ["60.00", "-1.00", "1.00", "-2.00", "2.00", "-3.00", "3.00"]);
    assert_eq!(bench.owner.get("/v1/attributions?category=nonsense").status, 400);
}

// Principles of Managerial Accounting, ch. 4 (applied overhead), from memory; figures of our own.
#[test]
fn the_studios_rent_is_spread_by_own_hours_and_stands_as_overhead_on_each_statement() {
    let world = World::open();
    let owner = world.owner();
    let (bank, project) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let (shelves, floor) = (owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "Floor"));
    let pays = |amount: &str, treatment: Value| {
        owner.records(
            "/v1/purchases",
            json!({ "date": "2025-03-01", "paid_from": bank, "total": amount, "lines": [{ "text": "rent",
                "amount": amount, "for": [], "treatments": [treatment] }] }),
        )
    };
    pays("300.00", json!({ "as": "expense", "class": "rent_property" }));
    pays("80.00", json!({ "as": "personal" }));
    for (episode, hours) in [(&shelves, "6"), (&floor, "3")] {
        owner.records(
            "/v1/labour",
            json!({ "date": "2025-03-10", "person": "Orla", "standing": "own", "hours": hours, "episode": episode }),
        );
    }
    let body = json!({ "date": "2025-03-31", "from": "2025-03-01", "to": "2025-03-31", "by": "own_hours" });
    let before = world.rows_written();
    let shown = owner.post("/v1/attributions/overhead?dry_run=true", &body);
    assert_eq!((shown.status, world.rows_written()), (200, before));
    let spread = owner.records("/v1/attributions/overhead", body.clone());
    assert_eq!(
        (&spread["entries"], spread["notes"][0].as_str()),
        (&json!([]), Some("300.00 of 300.00 is spread; the ledger is not touched."))
    );
    let overhead = |episode: &str| {
        let statement = owner.reads(&format!("/v1/episodes/{episode}/statement"));
        let lines = statement["costs"].as_array().unwrap().clone();
        lines.iter().find(|line| line["category"] == "overhead").map(|line| line["amount"].clone())
    };
    assert_eq!((overhead(&shelves), overhead(&floor)), (Some(json!("200.00")), Some(json!("100.00"))));
    // The owner's own rent is no overhead, and nothing else is left.
    let again = owner.is_refused(409, "/v1/attributions/overhead", body);
    assert!(again.error_at("/date").starts_with("no cost of the business is left"));
    let reversal = format!("/v1/records/{}/reversal", spread["id"].as_str().unwrap());
    owner.records(&reversal, json!({ "reason": "by income, after all" }));
    assert_eq!(overhead(&shelves), None);
    let by_income = json!({ "date": "2025-03-31", "from": "2025-03-01", "to": "2025-03-31", "by": "income" });
    let refused = owner.is_refused(409, "/v1/attributions/overhead", by_income);
    assert!(refused.error_at("/by").contains("no episode has any income"));
}
