use super::*;
use crate::rules::refusal::Standing;
use crate::rules::rows::{BusinessShare, DisposalKind, ToolDisposal};

const EQUALLY: &str = r#"{ "method": "equal_share", "business_share": "80" }"#;

fn stating(year: i32, share: &str) -> NewBusinessShare {
    let body = serde_json::json!({ "tax_year": year, "share": share });
    serde_json::from_value(body).unwrap()
}

fn stated(facts: &ToolFacts, year: i32, share: &str) -> Result<Recording, Refusal> {
    write(|pen| state_business_share(pen, facts, &stating(year, share)))
}

fn refused(result: Result<Recording, Refusal>) -> Vec<(String, Standing)> {
    let refusal = result.unwrap_err();
    refusal.findings().map(|one| (one.pointer.clone(), one.said().standing)).collect()
}

// Pub. 946 ch. 5, use is kept by tax year: from memory.
#[test]
fn a_years_share_is_kept_under_its_last_day_and_posts_nothing() {
    let mut facts = saw(EQUALLY);
    let made = stated(&facts, 2026, "40").unwrap();
    assert_eq!((made.kind, made.date, made.entries.len()), ("business_share", day("2026-12-31"), 0));
    assert!(made.movements.is_empty() && made.attributions.is_empty());
    assert_eq!(made.depends_on, [facts.record]);
    assert!(made.notes[1].contains("may come back into income"), "{:?}", made.notes);
    facts.take_up(&made);
    let rows: Vec<BusinessShare> = facts.shares.iter().map(|one| one.row).collect();
    let of = |year| facts.tool.business_share_in(&rows, year).to_string();
    assert_eq!([of(2025), of(2026), of(2031)], ["80", "40", "40"]);
    // Stated later for a year between, it holds until the next.
    facts.take_up(&stated(&facts, 2025, "60").unwrap());
    let rows: Vec<BusinessShare> = facts.shares.iter().map(|one| one.row).collect();
    assert_eq!([2025, 2026].map(|year| facts.tool.business_share_in(&rows, year).to_string()), ["60", "40"]);
}

// Common practice, no source.
#[test]
fn a_year_takes_one_share_and_none_before_service_or_after_the_tool_left() {
    let mut facts = saw(EQUALLY);
    facts.take_up(&stated(&facts, 2026, "40").unwrap());
    let at = |standing| [("/tax_year".to_owned(), standing)];
    assert_eq!(refused(stated(&facts, 2026, "50")), at(Standing::Conflict));
    facts.disposal = Some(Logged {
        record: facts.record,
        row: ToolDisposal {
            tool: facts.tool.id,
            date: day("2027-02-01"),
            kind: DisposalKind::Scrapped,
            proceeds: dollars("0"),
        },
    });
    assert!(stated(&facts, 2027, "30").is_ok());
    assert_eq!(refused(stated(&facts, 2028, "30")), at(Standing::Conflict));
    // All faults at once: a closed year, before it came, more than the whole.
    let closed = BooksFacts { first_open: day("2026-01-01"), ..books() };
    let early = write_in(&closed, |pen| state_business_share(pen, &facts, &stating(2024, "101")));
    let refusal = early.unwrap_err();
    let said: Vec<_> = refusal.findings().map(|one| one.said().detail.clone()).collect();
    assert_eq!(said.len(), 3, "{said:?}");
    assert!(
        said[0].contains("first open day is 2026-01-01") && said[1].contains("came into service in 2025")
    );
    assert!(said[2].starts_with("101 % is more than the whole"));
    let open = write_in(&closed, |pen| state_business_share(pen, &facts, &stating(2025, "70")));
    assert_eq!(refused(open), at(Standing::Conflict));
}

// IRC 280F(b) and 179(d)(10): what was taken fast comes back as the use falls to half or less (from memory).
#[test]
fn a_share_of_half_or_less_in_a_later_year_warns_of_what_comes_back_where_it_began_above_half() {
    let notes = |first: &str, year: i32, share: &str| {
        let terms = format!(r#"{{ "method": "equal_share", "business_share": "{first}" }}"#);
        stated(&saw(&terms), year, share).unwrap().notes
    };
    let goes_on = |year: i32, share: &str| {
        format!(
            "{year} and later years take {share} % of what the tool gives, until another share is stated; what episodes \
             bear of it stays as it is (GET /v1/tax-years/{year}/summary)"
        )
    };
    let warning = "used for the business half of the time or less: section 179, and with listed property what was taken \
                   fast, may come back into income; the year's summary works it out";
    assert_eq!(notes("80", 2026, "50"), [goes_on(2026, "50"), warning.to_owned()]);
    for (first, year, share) in
        [("80", 2026, "50.01"), ("50", 2026, "40"), ("80", 2025, "40"), ("80", 2026, "100")]
    {
        assert_eq!(notes(first, year, share), [goes_on(year, share)], "{first} % at first");
    }
}
