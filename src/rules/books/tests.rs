//! Closing and reopening, in the trade's sentences.

use uuid::Uuid;

use super::*;
use crate::rules::ids::{RecordId, ToolId};
use crate::rules::journal::{Account, Draw, Entry, EntryKind, ExpenseClass, Posted, Stream};
use crate::rules::money::Money;
use crate::rules::refusal::Standing;
use crate::rules::rows::{ChargeKind, DisposalKind, ToolCharge};
use crate::rules::trial::{books, day, dollars, write, write_in};

const SAW: ToolId = ToolId(Uuid::from_u128(1));
const CLAMP: ToolId = ToolId(Uuid::from_u128(2));

fn closing(through: &str) -> NewClosing {
    NewClosing { through: day(through), reason: "the return was filed".to_owned() }
}

fn charge(tool: ToolId, at_once: &str, yearly: &str) -> ToolCharge {
    ToolCharge {
        tool: Some(tool),
        tax_year: 2025,
        kind: ChargeKind::Charged,
        small_tool: dollars(at_once),
        section_179: dollars("0.00"),
        depreciation: dollars(yearly),
        recaptured: dollars("0.00"),
    }
}

/// A year with 1,000 earned, 300 spent and 200 drawn.
fn year_2025(charges: Vec<ToolCharge>, departed: Vec<Departed>) -> YearEnd {
    let balances = vec![
        (Account::Income(Stream::Sponsorship), dollars("-1000.00")),
        (Account::Expense(ExpenseClass::Supplies), dollars("300.00")),
        (Account::Draw(Draw::Cash), dollars("200.00")),
        (Account::ToolsAtCost, dollars("900.00")),
    ];
    YearEnd { year: 2025, worked_out: WorkedOut::Yes, charges, departed, balances }
}

fn said(entry: &Entry) -> Vec<String> {
    let line = |posting: &crate::rules::journal::Posting| {
        format!("{} {}", posting.account.code(), posting.amount.amount())
    };
    entry.postings().iter().map(line).collect()
}

// Principles of Financial Accounting, 5.1 and 11.3, from memory: the contra account takes the depreciation, income
// and expense are closed, and what is left of them is the owner's.
#[test]
fn a_year_end_writes_its_tools_off_and_closes_income_costs_and_draws_to_equity() {
    let end = year_2025(vec![charge(SAW, "0.00", "100.00"), charge(CLAMP, "40.00", "0.00")], Vec::new());
    let closed = write(|pen| close(pen, &closing("2025-12-31"), &Ending::Year(end.clone()))).unwrap();
    assert_eq!(
        said(&closed.entries[0]),
        [
            "expense:depreciation 100.00",
            "expense:small_tools 40.00",
            "accumulated_depreciation -100.00",
            "tools_at_cost -40.00"
        ]
    );
    let mut closing = said(&closed.entries[1]);
    closing.sort();
    assert_eq!(
        closing,
        [
            "draw:cash -200.00",
            "expense:depreciation -100.00",
            "expense:small_tools -40.00",
            "expense:supplies -300.00",
            "income:sponsorship 1000.00",
            "retained_earnings -360.00",
        ]
    );
    let kinds: Vec<_> = closed.entries.iter().map(|entry| (entry.kind, entry.date)).collect();
    assert_eq!(
        kinds,
        [(EntryKind::Depreciation, day("2025-12-31")), (EntryKind::Closing, day("2025-12-31"))]
    );
    assert!(closed.notes[0].starts_with("140.00 was written off of tools for 2025"), "{:?}", closed.notes);
}

// Principles of Financial Accounting, 11.5, from memory: depreciation up to the sale belongs to what the sale is
// compared with, so the gain grows by it when it is posted after the sale.
#[test]
fn a_tool_sold_before_its_year_was_closed_gives_its_write_off_to_the_gain_of_its_sale() {
    let gone = |date, kind| Departed { tool: SAW, name: "saw".to_owned(), date: day(date), kind };
    let settled = |departed| {
        let end = year_2025(vec![charge(SAW, "0.00", "100.00")], vec![departed]);
        write(|pen| close(pen, &closing("2025-12-31"), &Ending::Year(end.clone()))).unwrap().entries
    };
    let sold = settled(gone("2025-06-01", DisposalKind::Sold));
    assert_eq!(said(&sold[1]), ["accumulated_depreciation 100.00", "business_property_sales -100.00"]);
    assert_eq!(sold[1].date, day("2025-12-31"));
    // Sold in the year after, before the year before was closed: on the day of the sale, for the year that is closed.
    let later = settled(gone("2026-02-03", DisposalKind::PersonalUse));
    assert_eq!(said(&later[1]), ["accumulated_depreciation 100.00", "draw:personal_items -100.00"]);
    assert_eq!((later[1].date, later[1].postings()[0].tax_year), (day("2026-02-03"), 2025));
}

// Pub. 946 ch. 2 and 5 (seen): what comes back is income and adds to the basis, so less stands accumulated.
#[test]
fn what_comes_back_of_earlier_write_offs_is_other_income_and_leaves_less_accumulated() {
    let back = ToolCharge { recaptured: dollars("814.80"), ..charge(SAW, "0.00", "296.20") };
    let end = year_2025(vec![back, charge(CLAMP, "0.00", "100.00")], Vec::new());
    let closed = write(|pen| close(pen, &closing("2025-12-31"), &Ending::Year(end.clone()))).unwrap();
    assert_eq!(
        said(&closed.entries[0]),
        ["expense:depreciation 396.20", "income:other -814.80", "accumulated_depreciation 418.60"]
    );
    assert_eq!(closed.entries[0].postings()[1].class, Some(crate::rules::journal::TaxClass::OtherIncome));
    assert!(said(&closed.entries[1]).contains(&"income:other 814.80".to_owned()));
    assert!(closed.notes[1].starts_with("814.80 of earlier write-offs comes back"), "{:?}", closed.notes);
    // Gone before its year was closed: the sale is compared with the basis that grew.
    let gone =
        Departed { tool: SAW, name: "saw".to_owned(), date: day("2026-02-03"), kind: DisposalKind::Sold };
    let end = YearEnd { departed: vec![gone], ..end };
    let closed = write(|pen| close(pen, &closing("2025-12-31"), &Ending::Year(end.clone()))).unwrap();
    assert_eq!(
        said(&closed.entries[1]),
        ["accumulated_depreciation -518.60", "business_property_sales 518.60"]
    );
}

// Common practice, no source.
#[test]
fn what_a_closing_posted_is_taken_back_when_the_last_day_of_the_year_is_open_again() {
    let charges = vec![charge(SAW, "0.00", "100.00")];
    let end = year_2025(charges.clone(), Vec::new());
    let closed = write(|pen| close(pen, &closing("2026-03-31"), &Ending::Year(end.clone()))).unwrap();
    let entries: Vec<_> = (1..)
        .zip(&closed.entries)
        .map(|(number, entry)| Posted { number, date: entry.date, postings: entry.postings().to_vec() })
        .collect();
    let closing = RecordId(Uuid::from_u128(7));
    let corrections = Vec::new();
    let posted = [YearEndPosted { year: 2025, closing, entries, charges, corrections }];
    let mut later = books();
    later.first_open = day("2026-04-01");
    let open_from = |from: &str| {
        let new = NewReopening { from: day(from), reason: "a receipt turned up".to_owned() };
        write_in(&later, |pen| reopen(pen, &new, &posted)).unwrap()
    };
    assert!(open_from("2026-01-01").entries.is_empty(), "the year before stays closed");
    let opened = open_from("2025-12-31");
    assert_eq!(opened.entries.iter().map(|entry| entry.reverses()).collect::<Vec<_>>(), [Some(2), Some(1)]);
    let all = closed.entries.iter().chain(&opened.entries).flat_map(|entry| entry.postings());
    let of = |account| {
        let amounts = all.clone().filter(|posting| posting.account == account).map(|posting| posting.amount);
        Money::sum(books().base, amounts).unwrap()
    };
    for account in Account::starters() {
        assert!(of(account).is_zero(), "{}", account.code());
    }
    assert_eq!(opened.rows.len(), 2);
}

// Common practice, no source.
#[test]
fn years_are_closed_one_by_one_and_part_of_a_year_posts_nothing() {
    let mut facts = books();
    let since = |date| Journal::Since(day(date));
    let ends = |facts: &BooksFacts, journal, through| year_ending(facts, journal, &closing(through)).unwrap();
    assert_eq!(ends(&facts, since("2023-05-01"), "2025-11-30"), Ending::PartOfYear);
    assert_eq!(ends(&facts, since("2023-05-01"), "2025-12-31"), Ending::Year(2025));
    assert_eq!(ends(&facts, since("2023-05-01"), "2026-12-30"), Ending::Year(2025));
    let refusal = year_ending(&facts, since("2023-05-01"), &closing("2026-12-31")).unwrap_err();
    assert_eq!(refusal.standing(), Standing::Conflict);
    assert!(refusal.to_string().starts_with("/through: the years 2025 to 2026"), "{refusal}");
    // A journal that begins in 2026 has nothing to say of 2025; an empty one nothing at all.
    facts.first_open = chrono::NaiveDate::MIN;
    assert_eq!(ends(&facts, since("2026-01-01"), "2025-12-31"), Ending::PartOfYear);
    assert_eq!(ends(&facts, Journal::Empty, "2025-12-31"), Ending::PartOfYear);
    let part = write(|pen| close(pen, &closing("2025-01-31"), &Ending::PartOfYear)).unwrap();
    assert!(part.entries.is_empty());
}

// Common practice, no source.
#[test]
fn what_a_closing_wrote_of_a_tool_is_taken_back_amount_by_amount() {
    let charges = vec![ToolCharge {
        section_179: dollars("50.00"),
        recaptured: dollars("814.80"),
        ..charge(SAW, "20.00", "296.20")
    }];
    let closing = RecordId(Uuid::from_u128(7));
    let posted =
        [YearEndPosted { year: 2025, closing, entries: Vec::new(), charges, corrections: Vec::new() }];
    let later = BooksFacts { first_open: day("2026-01-01"), ..books() };
    let new = NewReopening { from: day("2025-12-31"), reason: "a receipt turned up".to_owned() };
    let opened = write_in(&later, |pen| reopen(pen, &new, &posted)).unwrap();
    let of_tool = |row: &Row| match row {
        Row::ToolCharge(charge) => Some(charge.clone()),
        _ => None,
    };
    let back = opened.rows.iter().find_map(of_tool).unwrap();
    let back_of = (back.small_tool, back.section_179, back.depreciation, back.recaptured);
    assert_eq!(back_of, (dollars("-20.00"), dollars("-50.00"), dollars("-296.20"), dollars("-814.80")));
}

// Common practice, no source.
#[test]
fn one_open_day_can_be_closed_and_one_closed_day_opened_and_no_other() {
    let opens = |from: &str| {
        let new = NewReopening { from: day(from), reason: "a receipt turned up".to_owned() };
        write(|pen| reopen(pen, &new, &[]))
    };
    let closes = |through: &str| write(|pen| close(pen, &closing(through), &Ending::PartOfYear));
    // The first open day is the first of January.
    assert_eq!(closes("2025-01-01").unwrap().date, day("2025-01-01"));
    assert!(closes("2024-12-31").unwrap_err().to_string().starts_with("/through"));
    assert_eq!(opens("2024-12-31").unwrap().date, day("2024-12-31"));
    assert!(opens("2025-01-01").unwrap_err().to_string().starts_with("/from"));
    let silent = NewClosing { reason: "  ".to_owned(), ..closing("2025-01-01") };
    let refused = write(|pen| close(pen, &silent, &Ending::PartOfYear)).unwrap_err();
    assert!(refused.to_string().starts_with("/reason: the reason is empty"), "{refused}");
}

// Derived: a year of which nothing came back says nothing of it.
#[test]
fn what_comes_back_into_income_is_said_only_where_something_does() {
    let notes = |recaptured: &str| {
        let back = ToolCharge { recaptured: dollars(recaptured), ..charge(SAW, "0.00", "100.00") };
        let end = Ending::Year(year_2025(vec![back], Vec::new()));
        write(|pen| close(pen, &closing("2025-12-31"), &end)).unwrap().notes
    };
    assert!(notes("0.00").iter().all(|note| !note.contains("comes back into income")));
    assert!(notes("0.01").iter().any(|note| note.starts_with("0.01 of earlier write-offs comes back")));
}

/// IANA time zone database: Asia/Calcutta is a link in its file `backward`, and UTC is in `etcetera`.
#[test]
fn a_time_zone_is_a_name_in_the_published_list_in_its_own_spelling() {
    for (given, name) in
        [("America/Chicago", "America/Chicago"), ("europe/london", "Europe/London"), ("UTC", "UTC")]
    {
        assert_eq!(TimeZone::find(given).unwrap().name(), name);
    }
    assert!(TimeZone::find("Asia/Calcutta").is_ok());
    for given in ["", " UTC", "America/Chicagoo", "../America/Chicago", "America/", "CST6CDT,M3.2.0,M11.1.0"]
    {
        assert!(TimeZone::find(given).is_err(), "{given:?}");
    }
}

#[test]
fn a_city_alone_is_refused_with_the_zones_that_end_in_it() {
    let says = |given| TimeZone::find(given).unwrap_err().say().remedy;
    assert_eq!(says("chicago"), "give America/Chicago");
    assert_eq!(says("US/New York"), "give America/New_York");
    assert!(says("Fernbank").contains("such as America/Chicago"));
}

#[test]
fn every_tax_profile_has_figures_and_every_jurisdiction_with_figures_can_be_chosen() {
    use crate::rules::tax_year::Profile;
    for chosen in TaxProfile::ALL {
        assert!(Profile::all().any(|profile| profile.jurisdiction == chosen.as_str()), "{chosen}");
    }
    assert!(Profile::all().all(|profile| TaxProfile::named(profile.jurisdiction).is_some()));
}
