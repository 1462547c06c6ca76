//! A tool whose share of business use changes by year, from the record to the closed year.

use serde_json::{Value, json};

use super::Workshop;
use crate::world::postings;

impl Workshop {
    fn uses_for_business(&self, tool: &str, year: i32, share: &str) {
        self.owner.records(
            &format!("/v1/tools/{tool}/business-shares"),
            json!({ "tax_year": year, "share": share }),
        );
    }

    fn closes(&self, year: i32) -> Value {
        let through = format!("{year}-12-31");
        self.owner
            .records("/v1/books/closing", json!({ "through": through, "reason": "the return was filed" }))
    }
}

#[test]
fn section_179_that_comes_back_is_on_the_form_and_posted_when_its_year_is_closed() {
    // Pub. 946 ch. 2, when to recapture the deduction: 814.80 of 5,000 (seen)
    let shop = Workshop::since("2023-01-01");
    shop.chooses(2023, json!({ "kind": "no_special_allowance", "class": "3" }));
    let terms = json!({ "class": "3", "choice": "section_179", "section_179": "5000.00" });
    let planer = shop.buys_tool("2023-05-01", "10000.00", terms);
    shop.earns("2023-06-01", "12100.00");
    shop.closes(2023);
    shop.closes(2024);
    shop.uses_for_business(&planer, 2025, "40");
    let year = shop.year(2025);
    year.has_lines(&[("6", "814.80"), ("13", "296.20"), ("31", "518.60")]);
    let row = &year.0["depreciation"]["rows"][0];
    assert_eq!(
        (&row["recaptured"], &row["prior"], &row["business_share"]),
        (&json!("814.80"), &json!("8889.00"), &json!("40"))
    );
    let (address, part) = year.behind("6").split_once('#').unwrap();
    assert_eq!(shop.owner.reads(address)[part]["recaptured"], "814.80");
    assert!(year.asked("recapture")[0]["question"].as_str().unwrap().contains("Form 4797 Part IV"));
    for format in ["csv", "text"] {
        let file = shop.owner.get(&format!("/v1/tax-years/2025/summary?format={format}")).text;
        assert!(file.contains("814.80"), "{file}");
    }
    let closed = shop.closes(2025);
    assert_eq!(
        postings(&closed["entries"][0]),
        [
            "expense:depreciation 296.20 depreciation",
            "income:other -814.80 other_income",
            "accumulated_depreciation 518.60"
        ]
    );
    assert_eq!(closed["entries"][0]["kind"], "depreciation");
    let after = shop.year(2025);
    after.has_lines(&[("6", "814.80"), ("13", "296.20"), ("31", "518.60")]);
    assert!(after.asked("posted_depreciation").is_empty(), "{:?}", after.asked("posted_depreciation"));
    // Sold in the next year, it meets what the closed years left: 10,000 less 8,370.40.
    let sale = json!({ "date": "2026-02-03", "kind": "sold", "proceeds": "900.00", "paid_into": shop.bank });
    let sold = shop.owner.records(&format!("/v1/tools/{planer}/disposal"), sale);
    assert_eq!(postings(&sold["entries"][0])[1], "accumulated_depreciation 8370.40");
    // The table's last 7.41 % by 40 % is not cut by the sale. What was taken is more than the average of its years,
    // so as much of the cost and of the price is the business's: 86.668 %.
    let last = shop.year(2026);
    let sale = &last.0["business_sales"][0];
    assert_eq!((&sale["depreciation"], &sale["ordinary"]), (&json!("8666.80"), &json!("780.01")));
}

#[test]
fn what_came_back_is_taken_back_when_its_year_is_opened_again() {
    // Pub. 946 ch. 5, recapture of excess depreciation (seen): 2,712 taken, 900 by the slower way
    let shop = Workshop::since("2023-01-01");
    let terms = json!({ "name": "camera", "class": "5", "property": "listed" });
    let camera = shop.buys_tool("2023-05-01", "3000.00", terms);
    shop.closes(2023);
    shop.closes(2024);
    shop.uses_for_business(&camera, 2025, "40");
    let closed = shop.closes(2025);
    assert_eq!(
        postings(&closed["entries"][0]),
        [
            "expense:depreciation 240.00 depreciation",
            "income:other -1812.00 other_income",
            "accumulated_depreciation 1572.00"
        ]
    );
    let opened = shop.owner.records(
        "/v1/books/reopening",
        json!({ "from": "2025-01-01", "reason": "the logbook says another share" }),
    );
    assert_eq!(postings(&opened["entries"][1])[1], "income:other 1812.00 other_income");
    let standing = shop.owner.reads(&format!("/v1/tools/{camera}/standing"));
    let record = standing["business_shares"][0]["record"].as_str().unwrap();
    shop.owner.records(&format!("/v1/records/{record}/reversal"), json!({ "reason": "another share" }));
    shop.uses_for_business(&camera, 2025, "60");
    // 19.2 % of what the allowance left, by 60 %; nothing comes back.
    let again = shop.closes(2025);
    assert_eq!(postings(&again["entries"][0])[0], "expense:depreciation 69.12 depreciation");
    let year = shop.year(2025);
    year.has_lines(&[("6", "0.00"), ("13", "69.12")]);
    assert!(year.asked("posted_depreciation").is_empty());
}
