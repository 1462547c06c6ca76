//! Filing a return, and the filed year beside the books.

use uuid::Uuid;

use super::super::amended::{Amended, AmendedLine, EntrySince, amended};
use super::super::facts::{FiledYear, RecordNamed, RecordSince};
use super::super::filing::{FilingFacts, NewFiling, file};
use super::super::questions::Topic;
use super::super::summarise;
use super::{books, day, dec, posted, usd, year};
use crate::rules::ids::{IdSource, RecordId};
use crate::rules::journal::{Account, EntryKind, ExpenseClass, Posting, Stream, TaxClass};
use crate::rules::recording::{BooksFacts, Pen, Recording};
use crate::rules::refusal::{Refusal, Standing};
use crate::rules::rows::{FiledLine, Filing, Row};
use crate::rules::tax_year::YearFacts;

struct NoIds;

impl IdSource for NoIds {
    fn next(&mut self) -> Uuid {
        unreachable!("a filing makes nothing that needs an id")
    }
}

fn id(number: u128) -> RecordId {
    RecordId(Uuid::from_u128(number))
}

/// 5,000.00 earned and so much spent on supplies and software.
fn spent(supplies: &str, software: &str) -> YearFacts {
    let mut facts = year(2025);
    facts.postings = vec![
        posted(Account::Income(Stream::Sponsorship), TaxClass::Sponsorship, "-5000.00"),
        posted(Account::Expense(ExpenseClass::Supplies), TaxClass::Supplies, supplies),
        posted(Account::Expense(ExpenseClass::Software), TaxClass::Software, software),
    ];
    facts
}

fn filed_in(books: &BooksFacts, before: Option<&str>, on: &str) -> Result<Recording, Refusal> {
    let summary = summarise(&spent("81.99", "20.00")).unwrap();
    let facts = FilingFacts { summary: &summary, head_number: 41, filed_before: before.map(day) };
    let new = NewFiling { date: day(on), note: None };
    file(&Pen { books, ids: &mut NoIds }, 2025, &facts, &new)
}

fn closed() -> BooksFacts {
    BooksFacts { first_open: day("2026-01-01"), ..books() }
}

fn lines_filed() -> Vec<FiledLine> {
    let recording = filed_in(&closed(), None, "2026-04-10").unwrap();
    match recording.rows.into_iter().next() {
        Some(Row::Filing(filing)) => filing.lines,
        other => panic!("{other:?}"),
    }
}

/// That year after it was filed with 81.99 of supplies and 20.00 of software.
fn since(facts: YearFacts, since: Vec<RecordSince>) -> YearFacts {
    let filed = FiledYear {
        record: id(1),
        filed_on: day("2026-04-10"),
        head_number: 41,
        times: 1,
        lines: lines_filed(),
        since,
    };
    YearFacts { filed: Some(filed), ..facts }
}

fn taken_back() -> RecordSince {
    RecordSince {
        record: id(7),
        word: "entries".to_owned(),
        kind: "reversal".to_owned(),
        date: day("2026-05-02"),
        text: "taken back: tape".to_owned(),
        takes_back: vec![RecordNamed { record: id(5), date: day("2025-03-04"), text: "tape".to_owned() }],
        taken_back_by: None,
    }
}

fn compared(facts: &YearFacts, entries: &[EntrySince]) -> Amended {
    amended(facts, &summarise(facts).unwrap(), entries).unwrap()
}

fn changed(shown: &Amended) -> Vec<(String, String, String, String)> {
    let lines = shown.lines.iter().filter(|line| line.changed);
    let text = |line: &super::super::amended::AmendedLine| {
        (line.line.clone(), line.filed.to_string(), line.now.to_string(), line.difference_whole.to_string())
    };
    lines.map(text).collect()
}

#[test]
fn a_filing_keeps_every_line_with_a_figure_and_the_ledgers_last_entry() {
    // common practice, no source: what was filed is kept as it was filed
    let made = filed_in(&closed(), None, "2026-04-10").unwrap();
    assert_eq!(
        (made.kind, made.date, made.text.as_str()),
        ("filing", day("2026-04-10"), "return of 2025 filed")
    );
    assert_eq!((made.entries.len(), made.rows.len()), (0, 1));
    let Row::Filing(Filing { tax_year, head_number, lines, .. }) = &made.rows[0] else { panic!("{made:?}") };
    assert_eq!((*tax_year, *head_number), (2025, 41));
    let line = |number: &str| lines.iter().find(|line| line.line == number).unwrap();
    assert_eq!((line("22").exact, line("22").whole), (Some(dec("81.99")), Some(dec("82"))));
    assert_eq!(line("31").exact, Some(dec("4898.01")));
    assert!(lines.iter().all(|line| line.line != "33"), "a line of words has no figure to keep");
    assert!(made.notes[0].contains("after entry 41"), "{:?}", made.notes);
    let second = filed_in(&closed(), Some("2026-04-10"), "2026-09-01").unwrap();
    assert_eq!(second.text, "amended return of 2025 filed");
}

#[test]
fn a_return_is_filed_after_its_year_was_closed_and_not_before_the_one_before() {
    let refused = |result: Result<Recording, Refusal>| {
        let refusal = result.unwrap_err();
        let found: Vec<_> =
            refusal.findings().map(|one| (one.pointer.clone(), one.said().standing)).collect();
        found
    };
    let open = BooksFacts { first_open: day("2025-12-31"), ..books() };
    let whole = (String::new(), Standing::Conflict);
    assert_eq!(refused(filed_in(&open, None, "2026-04-10")), [whole]);
    let at_date = || ("/date".to_owned(), Standing::Invalid);
    assert_eq!(refused(filed_in(&closed(), None, "2025-12-31")), [at_date()]);
    assert_eq!(refused(filed_in(&closed(), Some("2026-04-10"), "2026-04-09")), [at_date()]);
    // The same day is fine, and so is a day that is closed by now.
    assert!(filed_in(&closed(), Some("2026-04-10"), "2026-04-10").is_ok());
    let later = BooksFacts { first_open: day("2027-01-01"), ..books() };
    assert!(filed_in(&later, None, "2026-04-10").is_ok());
}

#[test]
fn a_receipt_taken_back_after_filing_shows_line_by_line_with_its_original() {
    // IRS Form 1040-X, columns A to C: as filed, the change, the correct amount (from memory)
    let facts = since(spent("43.11", "20.00"), vec![taken_back()]);
    let posting = |account, amount, tax_year| Posting {
        account,
        amount: usd(amount),
        class: match account {
            Account::Expense(class) => Some(class.tax_class()),
            _ => None,
        },
        tax_year,
    };
    let entry = EntrySince {
        number: 44,
        record: id(7),
        date: day("2026-05-02"),
        kind: EntryKind::Reversal,
        text: "reversal of entry 19: tape".to_owned(),
        reverses: Some(19),
        postings: vec![
            posting(Account::Expense(ExpenseClass::Supplies), "-38.88", 2025),
            posting(Account::OwnerContribution, "38.88", 2025),
            posting(Account::OwnerContribution, "1.00", 2026),
        ],
    };
    let shown = compared(&facts, &[entry]);
    let row = |line: &str, filed: &str, now: &str, whole: &str| {
        (line.to_owned(), filed.to_owned(), now.to_owned(), whole.to_owned())
    };
    assert_eq!(
        changed(&shown),
        [
            row("22", "81.99", "43.11", "-39"),
            row("28", "101.99", "63.11", "-39"),
            row("29", "4898.01", "4936.89", "39"),
            row("31", "4898.01", "4936.89", "39"),
        ]
    );
    assert!(shown.says.ends_with("22, 28, 29, 31."), "{}", shown.says);
    let record = &shown.records[0];
    assert_eq!(record.takes_back[0].link, format!("/v1/records/{}", id(5)));
    assert_eq!(record.entries[0].original.as_deref(), Some("/v1/entries/19"));
    assert_eq!(record.entries[0].postings.len(), 2, "another year's posting is no business of this one");
    assert_eq!(record.entries[0].postings[0].line, Some("22"));
    assert!(summarise(&facts).unwrap().asks(Topic::AmendedReturn));
}

#[test]
fn an_item_that_came_or_went_since_is_compared_with_nothing() {
    let gone = compared(&since(spent("81.99", "0.00"), Vec::new()), &[]);
    let item = gone.lines.iter().find(|line| line.line == "item").unwrap();
    assert_eq!((item.filed, item.now, item.difference), (dec("20"), dec("0"), dec("-20.00")));
    assert!(item.changed && gone.says.contains("No record made since carries this year itself"));
    let mut facts = since(spent("81.99", "20.00"), Vec::new());
    facts.postings.push(posted(Account::Expense(ExpenseClass::BankFees), TaxClass::BankFees, "3.00"));
    let come = compared(&facts, &[]);
    let fee = come.lines.iter().find(|line| line.label.starts_with("Bank")).unwrap();
    assert_eq!((fee.filed.to_string(), fee.now.to_string()), ("0.00".to_owned(), "3.00".to_owned()));
}

#[test]
fn every_line_keeps_its_part_and_its_way_to_the_postings_and_cents_are_shown_as_the_form_shows_them() {
    let mut facts = since(spent("81.99", "20.00"), Vec::new());
    let mut filed = lines_filed();
    // The database keeps more decimals; a line of the same number in another part of the form is another line.
    for line in filed.iter_mut().filter(|line| line.line == "22") {
        line.exact = Some(dec("81.990000"));
        line.whole = Some(dec("82.000000"));
    }
    let elsewhere = FiledLine { part: "elsewhere".to_owned(), ..filed[0].clone() };
    filed.insert(0, elsewhere);
    facts.filed.as_mut().unwrap().lines = filed;
    let shown = compared(&facts, &[]);
    let supplies = shown.lines.iter().find(|line| line.line == "22").unwrap();
    assert_eq!((supplies.part.as_str(), supplies.changed), ("II", false));
    assert_eq!((supplies.filed.to_string(), supplies.filed_whole.to_string()), ("81.99".into(), "82".into()));
    let way = "/v1/postings?tax_year=2025&class=supplies";
    assert_eq!(supplies.drill_down.as_deref(), Some(way));
    assert_eq!(shown.lines.iter().filter(|line| line.part == "elsewhere").count(), 1);
    // A cent that no whole dollar shows is a change all the same, and asks whether an amended return is due.
    let cent = since(spent("81.98", "20.00"), Vec::new());
    let changed: Vec<_> = changed(&compared(&cent, &[])).into_iter().map(|(line, ..)| line).collect();
    assert_eq!(changed, ["22", "28", "29", "31"]);
    let summary = summarise(&cent).unwrap();
    let asked = summary.questions.iter().find(|one| one.topic == Topic::AmendedReturn).unwrap();
    assert!(asked.question.ends_with("Is an amended return due?"), "{}", asked.question);
}

#[test]
fn nothing_is_asked_while_the_books_say_what_was_filed() {
    let same = since(spent("81.99", "20.00"), Vec::new());
    assert!(!summarise(&same).unwrap().asks(Topic::AmendedReturn));
    assert!(compared(&same, &[]).says.starts_with("Nothing has changed"));
    // Closing and reopening alone are no change.
    let reopened = RecordSince { word: "books".to_owned(), takes_back: Vec::new(), ..taken_back() };
    let facts = since(spent("81.99", "20.00"), vec![reopened]);
    assert!(!summarise(&facts).unwrap().asks(Topic::AmendedReturn));
    // A record that moves no line may still move a schedule.
    let facts = since(spent("81.99", "20.00"), vec![taken_back()]);
    let summary = summarise(&facts).unwrap();
    let asked = summary.questions.iter().find(|one| one.topic == Topic::AmendedReturn).unwrap();
    assert!(asked.question.contains("Does a schedule"), "{}", asked.question);
}

#[test]
fn a_year_that_was_not_filed_has_nothing_to_compare() {
    let facts = spent("81.99", "20.00");
    let refusal = amended(&facts, &summarise(&facts).unwrap(), &[]).unwrap_err();
    assert_eq!(refusal.standing(), Standing::Conflict);
    assert!(refusal.to_string().contains("POST /v1/tax-years/2025/filing"), "{refusal}");
}

fn of_another_form(part: &str) -> FiledLine {
    FiledLine {
        part: part.to_owned(),
        line: "99".to_owned(),
        label: "A line of another form".to_owned(),
        exact: Some(dec("12.50")),
        whole: Some(dec("13")),
    }
}

#[test]
fn a_line_that_the_form_no_longer_has_keeps_its_number_and_its_name() {
    // common practice, no source: form lines change by year and by what is recorded
    let mut facts = spent("81.99", "20.00");
    facts.filed = Some(FiledYear { lines: lines_filed(), ..since(facts.clone(), Vec::new()).filed.unwrap() });
    facts.filed.as_mut().unwrap().lines.push(of_another_form("income"));
    let shown = compared(&facts, &[]);
    let last = shown.lines.last().unwrap();
    assert_eq!((last.part.as_str(), last.line.as_str()), ("income", "99"));
    assert_eq!(last.label, "A line of another form");
    assert_eq!(
        (last.filed.to_string(), last.now.to_string(), last.changed),
        ("12.50".into(), "0.00".into(), true)
    );
}

// IRS Form 1040-X, columns A to C: as filed, the change, the correct amount (from memory); whole dollars as filed.
#[test]
fn a_line_that_moved_by_cents_alone_has_changed_and_shows_where_it_is_and_what_is_behind_it() {
    let mut facts = since(spent("82.10", "20.00"), Vec::new());
    facts.filed.as_mut().unwrap().lines.push(of_another_form("II"));
    let shown = compared(&facts, &[]);
    let supplies = AmendedLine {
        part: "II".to_owned(),
        line: "22".to_owned(),
        label: "Supplies".to_owned(),
        changed: true,
        filed: dec("81.99"),
        now: dec("82.10"),
        difference: dec("0.11"),
        filed_whole: dec("82"),
        now_whole: dec("82"),
        difference_whole: dec("0"),
        drill_down: Some("/v1/postings?tax_year=2025&class=supplies".to_owned()),
    };
    assert_eq!(shown.lines.iter().find(|line| line.line == "22"), Some(&supplies));
    let last = shown.lines.last().unwrap();
    assert_eq!((last.part.as_str(), last.line.as_str(), &last.drill_down), ("II", "99", &None));
}
