//! The summary's forms, and the years there are.

use serde_json::{Value, json};

use super::Workshop;

/// Section, line, label, exact, whole, drill-down of every row.
fn rows(bytes: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_reader(bytes.as_bytes()).records().map(|row| row.unwrap()).collect()
}

#[test]
fn the_comma_separated_summary_has_the_figures_of_the_json() {
    let shop = Workshop::open();
    shop.pays("2025-02-03", "81.99", json!({ "as": "expense", "class": "meals" }));
    shop.buys_tool("2025-06-10", "3200.00", json!({ "name": "=SUM(A1)" }));
    let path = "/v1/tax-years/2025/summary";
    let file = shop.owner.get(&format!("{path}?format=csv"));
    assert_eq!(file.header("content-type"), Some("text/csv; charset=utf-8"));
    assert_eq!(file.header("content-disposition"), Some("attachment; filename=\"tax-year-2025.csv\""));
    let year = shop.year(2025);
    let rows = rows(&file.text);
    let form: Vec<_> = rows.iter().filter(|row| &row[0] == "form").collect();
    let lines = year.0["lines"].as_array().unwrap();
    assert_eq!(form.len(), lines.len());
    for (row, line) in form.iter().zip(lines) {
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let of_line = [&line["line"], &line["exact"], &line["whole"], &line["drill_down"]].map(text);
        assert_eq!([&row[1], &row[3], &row[4], &row[5]], of_line.each_ref().map(String::as_str));
    }
    let amount = |label: &str| rows.iter().find(|row| &row[2] == label).unwrap()[3].to_owned();
    assert_eq!(amount("'=SUM(A1): special allowance"), "3200.00");
    let meals = form.iter().find(|row| &row[1] == "24b").unwrap();
    assert_eq!((&meals[3], &meals[4]), ("41.00", "41"));
    assert!(rows[0][2].contains("working paper"));
}

#[test]
fn the_query_goes_before_what_the_caller_accepts() {
    let shop = Workshop::open();
    let path = "/v1/tax-years/2025/summary";
    let kind = |accept: &str, query: &str| {
        let reply = shop.owner.get_accepting(&format!("{path}{query}"), accept);
        reply.header("content-type").unwrap().split(';').next().unwrap().to_owned()
    };
    for (accept, query, media) in [
        ("text/csv", "", "text/csv"),
        ("text/plain", "", "text/plain"),
        ("application/json;q=0.5, text/csv", "", "text/csv"),
        ("text/csv;q=0, */*;q=0.1", "", "application/json"),
        ("image/png, text/*", "", "text/csv"),
        ("text/csv", "?format=json", "application/json"),
        ("image/png", "?format=text", "text/plain"),
        ("image/png", "", "application/problem+json"),
        ("*/*", "?format=pdf", "application/problem+json"),
    ] {
        assert_eq!(kind(accept, query), media, "{accept} {query}");
    }
    assert_eq!(shop.owner.get_accepting(path, "image/png").status, 406);
    assert_eq!(shop.owner.get(&format!("{path}?format=pdf")).status, 406);
    assert_eq!(shop.owner.get(&format!("{path}?form=csv")).status, 400);
    let page = shop.owner.get(&format!("{path}?format=text")).text;
    assert_eq!(page.matches("working paper").count(), 2);
}

#[test]
fn the_same_books_give_the_same_bytes() {
    let shop = Workshop::open();
    shop.buys_tool("2025-06-10", "3200.00", json!({}));
    shop.pays("2025-02-03", "82.00", json!({ "as": "home_repair" }));
    shop.earns("2025-06-01", "1100.00");
    for format in ["json", "csv", "text"] {
        let path = format!("/v1/tax-years/2025/summary?format={format}");
        assert_eq!(shop.owner.get(&path).text, shop.owner.get(&path).text, "{format}");
    }
}

#[test]
fn years_without_a_profile_say_which_there_are() {
    let shop = Workshop::open();
    let listed = shop.owner.reads("/v1/tax-years");
    let years: Vec<_> =
        listed["items"].as_array().unwrap().iter().map(|one| one["year"].as_i64().unwrap()).collect();
    assert_eq!(years, [2023, 2024, 2025, 2026]);
    let of_2025 = &listed["items"][2];
    assert_eq!((&of_2025["form_standing"], &of_2025["jurisdiction"]), (&json!("published"), &json!("us")));
    let mile =
        of_2025["figures"].as_array().unwrap().iter().find(|one| one["what"] == "standard rate, a mile");
    assert_eq!((&mile.unwrap()["value"], &mile.unwrap()["mark"]), (&json!("0.70"), &json!("seen")));
    let summary = of_2025["summary"].as_str().unwrap();
    assert_eq!(shop.owner.reads(summary)["year"], 2025);
    let missing = shop.owner.get("/v1/tax-years/2019/summary");
    assert_eq!(missing.status, 422);
    assert!(missing.error_at("").contains("us 2023, us 2024, us 2025, us 2026 (GET /v1/tax-years)"));
    for year in ["0", "0000", "02025", "+2025", "-2025", "20256", "2025.0", "next", "%32%30%32%35x"] {
        let reply = shop.owner.get(&format!("/v1/tax-years/{year}/summary"));
        assert_eq!(reply.status, 404, "{year}: {}", reply.text);
        assert_eq!(reply.header("content-type"), Some("application/problem+json"));
    }
}
