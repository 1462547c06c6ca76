//! A home office by the simplified method, through the door.

use serde_json::{Value, json};

use super::Workshop;

/// IRS Publication 587, simplified method, example of part-year use and a changed area (seen).
fn grown_in_august() -> Value {
    json!({ "areas": [
        { "from": "2025-04-20", "until": "2025-08-04", "square_feet": "100" },
        { "from": "2025-08-05", "square_feet": "330" },
    ], "note": "the back room" })
}

const PATH: &str = "/v1/tax-years/2025/home-office";

#[test]
fn a_home_office_goes_to_line_30_and_is_followed_back_to_its_record() {
    let shop = Workshop::open();
    shop.earns("2025-03-01", "5100.00");
    let before = shop.world.rows_written();
    let dry = shop.owner.post(&format!("{PATH}?dry_run=true"), &grown_in_august());
    assert_eq!((dry.status, dry.json()["recorded"].as_bool()), (200, Some(false)));
    assert!(dry.json()["notes"][0].as_str().unwrap().contains("750.00"), "{}", dry.json());
    assert_eq!(shop.world.rows_written(), before);

    let made = shop.owner.records(PATH, grown_in_august());
    assert_eq!((&made["entries"], made["record"]["note"].as_str()), (&json!([]), Some("the back room")));
    let year = shop.year(2025);
    year.has_lines(&[("29", "5000.00"), ("30", "750.00"), ("31", "4250.00")]);
    assert_eq!(year.behind("30"), "/v1/tax-years/2025/summary#home_office");
    let office = &year.0["home_office"];
    assert_eq!((&office["square_feet"], &office["months"][7]["in_use"]), (&json!("150"), &json!("330")));
    let record = shop.owner.reads(office["drill_down"].as_str().unwrap());
    assert_eq!(record["id"], made["id"]);
    for format in ["csv", "text"] {
        let page = shop.owner.get(&format!("/v1/tax-years/2025/summary?format={format}"));
        let page = page.text;
        assert!(page.contains("square feet on average"), "{page}");
    }
    // Another year has none of it.
    assert_eq!(shop.year(2026).0["home_office"], json!(null));
}

#[test]
fn a_home_office_is_stated_once_a_year_and_anew_after_it_was_taken_back() {
    let shop = Workshop::open();
    let made = shop.owner.records(PATH, grown_in_august());
    let said = shop.owner.is_refused(409, PATH, grown_in_august()).error_at("");
    assert!(said.contains(made["id"].as_str().unwrap()), "{said}");
    shop.owner.records(
        &format!("/v1/records/{}/reversal", made["id"].as_str().unwrap()),
        json!({ "reason": "measured again" }),
    );
    assert_eq!(shop.year(2025).0["home_office"], json!(null));
    let smaller = json!({ "areas": [{ "from": "2025-01-01", "square_feet": "96.5" }] });
    shop.owner.records(PATH, smaller);
    assert_eq!(shop.year(2025).0["home_office"]["allowable"], "482.50");
    // The database says it once more, by itself.
    let twice = shop.world.try_as_superuser(
        "INSERT INTO home_offices (books_id, record_id, tax_year) \
         SELECT h.books_id, r.id, 2025 FROM home_offices h JOIN records r ON r.books_id = h.books_id \
         WHERE r.word = 'projects' LIMIT 1",
    );
    assert!(twice.unwrap_err().as_db_error().unwrap().message().contains("stated already"));
}

#[test]
fn actual_costs_and_the_simplified_method_do_not_go_together() {
    let shop = Workshop::open();
    shop.earns("2025-03-01", "5100.00");
    let actual = json!({ "as": "expense", "class": "home_office" });
    let heating = shop.pays("2025-02-01", "210.00", actual.clone());
    let said = shop.owner.is_refused(409, PATH, grown_in_august()).error_at("");
    assert!(said.contains("210.00 of actual costs"), "{said}");
    let id = heating["id"].as_str().unwrap();
    shop.owner.records(&format!("/v1/records/{id}/reversal"), json!({ "reason": "the household's" }));
    shop.owner.records(PATH, grown_in_august());
    shop.pays("2025-11-01", "80.00", actual);
    let year = shop.year(2025);
    year.has_lines(&[("30", "750.00")]);
    let asked = year.0["questions"].as_array().unwrap();
    assert!(asked.iter().any(|one| one["question"].as_str().unwrap().contains("80.00 of actual costs")));
}

#[test]
fn a_closed_year_takes_no_home_office_and_wrong_areas_are_all_named() {
    let shop = Workshop::open();
    let wrong = json!({ "areas": [
        { "from": "2025-05-01", "until": "2025-04-01", "square_feet": "10" }, { "from": "2026-01-01", "square_feet": "0" },
    ] });
    let reply = shop.owner.is_refused(422, PATH, wrong);
    reply.error_at("/areas/0/until");
    reply.error_at("/areas/1/square_feet");
    shop.owner.is_refused(422, PATH, json!({ "areas": [] })).error_at("/areas");
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let said = shop.owner.is_refused(409, PATH, grown_in_august()).error_at("");
    assert!(said.contains("POST /v1/books/reopening"), "{said}");
}
