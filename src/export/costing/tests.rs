use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::*;
use crate::rules::chain::genesis;
use crate::rules::costing::{
    AttributedAmount, BudgetedAmount, DatedAmount, EpisodeFacts, MovementFacts, ObjectFacts, OwnHours,
    ProjectFacts, SourceFacts, StatementFacts, project_statement, roll_forward, statement,
    statement_for_viewers,
};
use crate::rules::ids::{BooksId, ProjectId, SourceId};
use crate::rules::journal::Stream;
use crate::rules::money::Money;
use crate::rules::recording::{Category, CostObject, Label, MovementKind, Side, Source, SourceKind};

fn usd(text: &str) -> Money {
    Money::exact(text.parse().unwrap(), Currency::find("USD").unwrap()).unwrap()
}

fn day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 14).unwrap()
}

fn episode() -> EpisodeId {
    EpisodeId(Uuid::from_u128(0xe1))
}

fn head() -> Head {
    Head { number: 42, hash: genesis(BooksId(Uuid::from_u128(0xb0))) }
}

fn facts() -> (ObjectFacts, Vec<SourceFacts>) {
    let rows = [
        (Side::Cost, Label::Category(Category::Materials), "250.73"),
        (Side::Cost, Label::Category(Category::PermitsDelivery), "150.67"),
        (Side::Recovery, Label::PersonalPieceSold, "270.00"),
        (Side::Income, Label::Stream(Stream::Sponsorship), "1850.96"),
        (Side::InKind, Label::Stream(Stream::Sponsorship), "89.00"),
        (Side::Fee, Label::Stream(Stream::Sponsorship), "216.80"),
    ];
    let (mut attributions, mut sources) = (Vec::new(), Vec::new());
    for (place, (side, label, amount)) in rows.into_iter().enumerate() {
        let (date, amount) = (day(), usd(amount));
        let id = SourceId(Uuid::from_u128(u128::try_from(place).unwrap()));
        attributions.push(AttributedAmount { source: id, side, label, date, amount });
        let kind = MovementKind::Incurred;
        sources.push(SourceFacts {
            source: Source { id, side, kind: SourceKind::PurchaseLine, text: format!("=row {place}") },
            given: false,
            movements: vec![MovementFacts { date, kind, amount, entry_kind: None }],
            attributed: vec![DatedAmount { date, amount }],
        });
    }
    let object = ObjectFacts {
        object: CostObject::Episode(episode()),
        attributions,
        own_hours: vec![OwnHours { date: day(), hours: Decimal::new(315, 1) }],
        budget: vec![BudgetedAmount { category: Category::Materials, amount: usd("300.00") }],
    };
    (object, sources)
}

fn statement_facts() -> StatementFacts {
    let (facts, sources) = facts();
    let (currency, period) = (usd("0").currency(), Period::default());
    StatementFacts { episode: episode(), currency, period, facts, sources }
}

fn project() -> ProjectStatement {
    let StatementFacts { currency, period, facts, sources, .. } = statement_facts();
    let project = ProjectId(Uuid::from_u128(0xa0));
    let own = ObjectFacts {
        object: CostObject::Project(project),
        attributions: Vec::new(),
        own_hours: Vec::new(),
        budget: Vec::new(),
    };
    let episodes = vec![EpisodeFacts { episode: episode(), facts }];
    project_statement(&ProjectFacts { project, currency, period, episodes, own, sources }).unwrap()
}

fn cover(episodes: &BTreeMap<EpisodeId, String>) -> Cover<'_> {
    Cover { title: "A hall in green", episodes, head: head() }
}

// Common practice, no source: RFC 4180 with a heading; the last row names the books' last entry.
#[test]
fn a_statement_is_a_table_of_one_row_a_figure() {
    let written = statement_csv(&statement(&statement_facts()).unwrap(), &cover(&BTreeMap::new())).unwrap();
    let (id, hash) = (episode(), head().hash);
    let link = format!("/v1/attributions?episode={id}&category");
    let expected = [
        "part,section,line,currency,amount,budget,variance,attributions".to_owned(),
        format!("{id},costs,materials,USD,250.73,,,{link}=materials"),
        format!("{id},costs,permits_delivery,USD,150.67,,,{link}=permits_delivery"),
        format!("{id},cost_total,,USD,401.40,,,"),
        format!("{id},recoveries,personal_piece_sold,USD,270.00,,,"),
        format!("{id},recovered_total,,USD,270.00,,,"),
        format!("{id},net_cost,,USD,131.40,,,"),
        format!("{id},income,sponsorship,USD,1850.96,,,"),
        format!("{id},income_in_kind,sponsorship,USD,89.00,,,"),
        format!("{id},income_total,,USD,1939.96,,,"),
        format!("{id},income_fees,,USD,216.80,,,"),
        format!("{id},result,,USD,1591.76,,,"),
        format!("{id},own_hours,,,31.50,,,"),
        format!("{id},pay_per_hour,,USD,50.53,,,"),
        format!("{id},budget,materials,USD,250.73,300.00,-49.27,"),
        format!("{id},reconciles,yes,,,,,"),
        format!(",journal_head,entry 42 {hash},,,,,"),
        String::new(),
    ];
    assert_eq!(String::from_utf8(written).unwrap(), expected.join("\r\n"));
}

#[test]
fn a_statement_reads_from_cost_to_result() {
    let text = statement_text(&statement(&statement_facts()).unwrap(), &cover(&BTreeMap::new()));
    let expected = "\
What 'A hall in green' cost and earned
======================================
In USD, over its whole life.

                    what                      USD
------------------  --------------------  -------
costs               materials              250.73
                    permits delivery       150.67
all costs                                  401.40
came back           personal piece sold    270.00
all that came back                         270.00
net cost                                   131.40
income              sponsorship           1850.96
                    sponsorship in goods    89.00
all income                                1939.96
fees kept of it                            216.80
result                                    1591.76

Own hours: 31.50; 50.53 USD for each.

budgeted   budget  actual  variance
---------  ------  ------  --------
materials  300.00  250.73    -49.27
Variance: actual less budget; above zero, more was spent.
Every source named here rolls forward.
";
    let end = format!("\nThe books' last entry: 42, SHA-256 {}\n", head().hash);
    assert_eq!(text, format!("{expected}{end}"));
}

#[test]
fn a_statement_that_does_not_reconcile_says_so_in_capitals() {
    let mut facts = statement_facts();
    facts.sources[0].movements[0].amount = usd("250.72");
    let text = statement_text(&statement(&facts).unwrap(), &cover(&BTreeMap::new()));
    assert!(text.contains("THIS DOES NOT RECONCILE"));
}

#[test]
fn a_project_shows_its_total_and_every_part() {
    let titles = BTreeMap::from([(episode(), "Taking up the floor".to_owned())]);
    let text = project_text(&project(), &cover(&titles));
    let places: Vec<_> = ["All together", "Episode 'Taking up the floor'", "of no episode"]
        .map(|part| text.find(part).unwrap())
        .into();
    assert!(places.is_sorted());
    assert!(text.lines().all(|line| line.chars().count() <= text::WIDTH));

    let written = String::from_utf8(project_csv(&project(), &cover(&titles)).unwrap()).unwrap();
    assert!(written.contains("\r\ntotal,result,,USD,1591.76,,,\r\n"));
    assert!(written.contains("\r\nown,result,,USD,0.00,,,\r\n"));
    assert!(written.contains("\r\ntotal,costs,materials,USD,250.73,,,\r\n"));
}

#[test]
fn viewers_read_the_till_and_nothing_else() {
    let viewers = statement_for_viewers(&statement_facts()).unwrap();
    let text = viewers_text(&viewers, "A hall in green");
    assert!(text.contains("all together      401.40"), "{text}");
    let written = String::from_utf8(viewers_csv(&viewers).unwrap()).unwrap();
    assert!(written.ends_with("permits_delivery,USD,150.67\r\ntotal,USD,401.40\r\n"));
    for private in ["1850.96", "1939.96", "1591.76", "270.00", "31.50"] {
        assert!(!text.contains(private) && !written.contains(private));
    }
}

#[test]
fn the_roll_forward_of_every_source_is_a_table_in_which_no_name_is_a_formula() {
    let (_, sources) = facts();
    let roll = roll_forward(&sources, &[], usd("0").currency(), None).unwrap();
    let written = String::from_utf8(roll_forward_csv(&roll, &head()).unwrap()).unwrap();
    assert!(written.contains(",'=row 0,USD,0.00,250.73,0.00,0.00,250.73,0.00,yes\r\n"), "{written}");
    assert!(written.contains("\r\ntotal,cost,,,,USD,0.00,401.40,0.00,0.00,401.40,0.00,\r\n"));
    assert!(
        written.contains("\r\ntie,costs,,,\"journal 0.00, sources 0.00, difference 0.00\",USD,,,,,,,yes\r\n")
    );
}
