mod closed_days;
mod joint;
mod overhead;
mod properties;

use uuid::Uuid;

use super::*;
use crate::rules::ids::SourceId;
use crate::rules::recording::{Category, Recording, SourceKind};
use crate::rules::refusal::Refusal;
use crate::rules::trial::{asked, day, dollars, episode, findings, write};

const PURCHASE: RecordId = RecordId(Uuid::from_u128(1));
const USE: RecordId = RecordId(Uuid::from_u128(2));
const UNDONE: RecordId = RecordId(Uuid::from_u128(3));
const SOURCE: Uuid = Uuid::from_u128(9);
const MATERIALS: Label = Label::Category(Category::Materials);

fn given(record: RecordId, counts: Counts, date: &str, number: u128, amount: &str) -> SourceGiven {
    let object = CostObject::Episode(episode(number));
    SourceGiven { record, counts, date: day(date), object, label: MATERIALS, amount: dollars(amount) }
}

/// A receipt's line of 100.00 on 3 March, 60.00 of it for the first episode.
fn screws() -> SourceStanding {
    let source = Source {
        id: SourceId(SOURCE),
        side: Side::Cost,
        kind: SourceKind::PurchaseLine,
        text: "screws".to_owned(),
    };
    let moved = SourceMoved {
        record: PURCHASE,
        counts: Counts::Live,
        date: day("2025-03-03"),
        amount: dollars("100.00"),
    };
    SourceStanding {
        source,
        record: PURCHASE,
        thing: None,
        streams: Vec::new(),
        movements: vec![moved],
        attributed: vec![given(PURCHASE, Counts::Live, "2025-03-03", 1, "60.00")],
        shelf: Vec::new(),
    }
}

fn shelf(record: RecordId, way: ShelfWay, date: &str, cost: &str) -> ShelfMoved {
    ShelfMoved { record, counts: Counts::Live, date: day(date), cost: dollars(cost), way }
}

/// A lot of 100.00: 60.00 went to the first episode, 15.00 was spoilt on 10 March, 25.00 is on the shelf.
fn spoilt() -> SourceStanding {
    let mut facts = screws();
    facts.thing = Some(ThingBehind::Lot);
    facts.shelf = vec![
        shelf(PURCHASE, ShelfWay::Came, "2025-03-03", "100.00"),
        shelf(PURCHASE, ShelfWay::ForSomebody, "2025-03-03", "-60.00"),
        shelf(USE, ShelfWay::ForNobody, "2025-03-10", "-15.00"),
    ];
    facts
}

/// A cost of that amount that nobody took up, recorded as the `number`th.
fn not_taken_up(number: u128, amount: &str) -> SourceStanding {
    let mut source = screws();
    source.source.id = SourceId(Uuid::from_u128(50 + number));
    source.record = RecordId(Uuid::from_u128(50 + number));
    source.movements[0].record = source.record;
    source.movements[0].amount = dollars(amount);
    source.attributed.clear();
    source
}

fn moves(facts: &SourceStanding, more: &[(&str, &str)]) -> Result<Recording, Refusal> {
    let mut body = serde_json::json!({ "date": "2025-04-01", "source": SOURCE,
        "from_episode": episode(1), "to_episode": episode(2) });
    for (name, value) in more {
        body[*name] = (*value).into();
    }
    write(|pen| move_on(pen, facts, &asked(body)))
}

fn gives_out(facts: &SourceStanding, more: &[(&str, &str)]) -> Result<Recording, Refusal> {
    let mut body = serde_json::json!({ "date": "2025-04-01", "source": SOURCE,
        "for": [{ "episode": episode(1) }, { "episode": episode(2) }, { "episode": episode(3) }] });
    for (name, value) in more {
        body[*name] = (*value).into();
    }
    write(|pen| give_out(pen, facts, &asked(body)))
}

/// As `object amount`, objects by their number.
fn rows(recording: &Recording) -> Vec<String> {
    let number = |object| (1..10).find(|number| object == CostObject::Episode(episode(*number))).unwrap_or(0);
    let one = |one: &crate::rules::recording::Attribution| {
        format!("{} {} {}", number(one.object), one.label.as_str(), one.amount)
    };
    recording.attributions.iter().map(one).collect()
}

// Moving a cost is a new dated attribution (common practice, no source).
#[test]
fn a_cost_moved_to_another_episode_is_less_here_and_more_there() {
    let got = moves(&screws(), &[]).unwrap();
    assert_eq!(rows(&got), ["1 materials -60.00", "2 materials 60.00"]);
    assert!(got.entries.is_empty() && got.movements.is_empty());
    assert_eq!(got.depends_on, [PURCHASE]);
    assert_eq!(
        rows(&moves(&screws(), &[("amount", "12.50")]).unwrap()),
        ["1 materials -12.50", "2 materials 12.50"]
    );
}

#[test]
fn no_more_moves_than_stands_there_on_any_later_day() {
    let mut facts = screws();
    // Given back on 1 May: of the 60.00, only 45.00 stand from then on.
    facts.attributed.push(given(USE, Counts::Live, "2025-05-01", 1, "-15.00"));
    let refused = findings(moves(&facts, &[("amount", "50.00")]));
    assert_eq!(refused, ["/amount: 50.00 is to move, and 45.00 stands there from 2025-04-01 on"]);
    assert_eq!(rows(&moves(&facts, &[]).unwrap()), ["1 materials -45.00", "2 materials 45.00"]);
    let early = findings(moves(&facts, &[("date", "2025-03-02"), ("amount", "1.00")]));
    assert_eq!(early, ["/source: nothing of 'screws' stands there on 2025-03-02"]);
}

#[test]
fn what_was_taken_back_no_longer_moves_and_is_nothing_to_stand_on() {
    let mut facts = screws();
    facts.attributed.push(given(UNDONE, Counts::CancelledOut, "2025-03-10", 1, "30.00"));
    facts.attributed.push(given(UNDONE, Counts::CancelledOut, "2025-03-10", 1, "-30.00"));
    facts.attributed.push(given(USE, Counts::Live, "2025-03-11", 1, "5.00"));
    let got = moves(&facts, &[]).unwrap();
    assert_eq!(rows(&got), ["1 materials -65.00", "2 materials 65.00"]);
    assert_eq!(got.depends_on, [PURCHASE, USE]);
}

#[test]
fn a_cost_in_several_lines_moves_line_by_line() {
    let mut facts = screws();
    let other = Label::Category(Category::Other);
    facts.attributed.push(SourceGiven { label: other, ..given(USE, Counts::Live, "2025-03-04", 1, "10.00") });
    let whole = moves(&facts, &[]).unwrap();
    assert_eq!(rows(&whole), ["1 materials -60.00", "2 materials 60.00", "1 other -10.00", "2 other 10.00"]);
    let unclear = findings(moves(&facts, &[("amount", "5.00")]));
    assert_eq!(unclear, ["/category: it stands there as materials or other"]);
    let one = moves(&facts, &[("amount", "5.00"), ("category", "other")]).unwrap();
    assert_eq!(rows(&one), ["1 other -5.00", "2 other 5.00"]);
    let unknown = findings(moves(&facts, &[("category", "paint")]));
    assert_eq!(unknown, ["/category: no cost stands on a statement as 'paint'"]);
}

#[test]
fn stock_on_the_shelf_does_not_move() {
    let mut facts = screws();
    (facts.thing, facts.attributed) = (Some(ThingBehind::Lot), Vec::new());
    let refused = moves(&facts, &[]).unwrap_err();
    assert!(refused.to_string().contains("what is on the shelf does not move"));
    assert!(refused.to_string().contains("/v1/materials/{lot}/issues"));
}

#[test]
fn both_ends_of_a_move_are_named_once_and_differ() {
    let body = serde_json::json!({ "date": "2024-12-31", "source": SOURCE, "amount": "0.00",
        "from_episode": episode(1), "from_project": episode(7) });
    let refused = findings(write(|pen| move_on(pen, &screws(), &asked(body))));
    assert_eq!(
        refused,
        [
            "/date: 2024-12-31 lies in a closed period; the first open day is 2025-01-01",
            "/from_project: from_episode and from_project are both given",
            "/to_episode: it is not said to which episode or project the amount moves",
            "/amount: 0.00 is not more than zero",
        ]
    );
    let target = episode(1).to_string();
    assert_eq!(
        findings(moves(&screws(), &[("to_episode", &target)])),
        ["/to_episode: the amount would move to where it stands"]
    );
}

#[test]
fn what_is_left_of_a_cost_is_given_out_to_the_cent() {
    let mut facts = screws();
    facts.attributed.clear();
    let got = gives_out(&facts, &[]).unwrap();
    assert_eq!(rows(&got), ["1 overhead 33.34", "2 overhead 33.33", "3 overhead 33.33"]);
    assert_eq!(got.depends_on, [PURCHASE]);
    // Beside what stands already, it stands in the same line.
    assert_eq!(
        rows(&gives_out(&screws(), &[]).unwrap()),
        ["1 materials 13.34", "2 materials 13.33", "3 materials 13.33"]
    );
}

#[test]
fn no_more_is_given_out_than_is_left_on_any_later_day() {
    let mut facts = screws();
    let back =
        SourceMoved { date: day("2025-06-01"), amount: dollars("-30.00"), ..facts.movements[0].clone() };
    facts.movements.push(back);
    let refused = findings(gives_out(&facts, &[("amount", "10.01")]));
    assert_eq!(refused, ["/amount: 10.01 is to be attributed, and 10.00 is left from 2025-04-01 on"]);
    facts.attributed.push(given(USE, Counts::Live, "2025-07-01", 4, "10.00"));
    let refused = findings(gives_out(&facts, &[]));
    assert_eq!(refused, ["/source: nothing of 'screws' is left to attribute on 2025-04-01"]);
    let early = findings(gives_out(&facts, &[("date", "2025-03-02")]));
    assert_eq!(early, ["/date: 2025-03-02 is before 2025-03-03, the day the source came"]);
}

#[test]
fn lots_tools_and_pieces_on_hand_keep_to_their_own_way() {
    for (thing, way) in
        [(ThingBehind::Tool, "/v1/tools/{id}/uses"), (ThingBehind::Piece, "/v1/furniture/{id}/sale")]
    {
        let refused = gives_out(&SourceStanding { thing: Some(thing), ..screws() }, &[]).unwrap_err();
        assert!(refused.to_string().contains(way), "{refused}");
    }
    let mut whole = spoilt();
    whole.shelf.pop();
    let refused = gives_out(&whole, &[]).unwrap_err();
    assert!(refused.to_string().contains("/v1/materials/{lot}/issues"), "{refused}");
}

// Common practice, no source: what is spoilt is overhead, what is on the shelf is stock.
#[test]
fn of_a_lot_only_what_left_the_shelf_for_nobody_is_given_out() {
    let got = gives_out(&spoilt(), &[("category", "overhead")]).unwrap();
    assert_eq!(rows(&got), ["1 overhead 5.00", "2 overhead 5.00", "3 overhead 5.00"]);
    assert_eq!(got.depends_on, [PURCHASE, USE], "without the waste there would be nothing to give out");
    assert_eq!(
        findings(gives_out(&spoilt(), &[("amount", "15.01")])),
        ["/amount: 15.01 is to be attributed, and 15.00 is left from 2025-04-01 on"]
    );
    let refused = gives_out(&spoilt(), &[("date", "2025-03-09")]).unwrap_err();
    assert!(refused.to_string().contains("/v1/materials/{lot}/issues"), "{refused}");
    let mut back = spoilt();
    back.shelf.push(shelf(UNDONE, ShelfWay::ForNobody, "2025-05-01", "4.00"));
    let got = gives_out(&back, &[("category", "other")]).unwrap();
    assert_eq!(rows(&got), ["1 other 3.67", "2 other 3.67", "3 other 3.66"], "4.00 comes back in May");
}

#[test]
fn an_income_stands_with_the_stream_it_came_in_by() {
    let mut facts = screws();
    (facts.source.side, facts.source.kind) = (Side::Income, SourceKind::Payout);
    facts.attributed.clear();
    facts.streams = vec![Stream::Advertising];
    assert_eq!(rows(&gives_out(&facts, &[]).unwrap())[0], "1 advertising 33.34");
    facts.streams.push(Stream::Tips);
    assert_eq!(
        findings(gives_out(&facts, &[])),
        ["/category: it is not said under which line this income stands"]
    );
    assert_eq!(
        findings(gives_out(&facts, &[("category", "sponsorship")])),
        ["/category: no income stands on a statement as 'sponsorship'"]
    );
    assert_eq!(rows(&gives_out(&facts, &[("category", "tips")]).unwrap())[0], "1 tips 33.34");
}

// Common practice, no source.
#[test]
fn exactly_what_is_left_of_a_cost_may_be_asked_for_and_not_a_cent_more() {
    let got = gives_out(&screws(), &[("amount", "40.00")]).unwrap();
    assert_eq!(rows(&got), ["1 materials 13.34", "2 materials 13.33", "3 materials 13.33"]);
    assert_eq!(got.notes, ["40.00 is attributed as materials; the ledger is not touched"]);
    assert_eq!(
        findings(gives_out(&screws(), &[("amount", "40.01")])),
        ["/amount: 40.01 is to be attributed, and 40.00 is left from 2025-04-01 on"]
    );
}

// Common practice, no source.
#[test]
fn a_cost_is_given_out_and_moves_from_the_day_it_came_and_to_the_last_cent_that_stands_there() {
    let got = gives_out(&screws(), &[("date", "2025-03-03")]).unwrap();
    assert_eq!(rows(&got), ["1 materials 13.34", "2 materials 13.33", "3 materials 13.33"]);
    let whole = moves(&screws(), &[("date", "2025-03-03"), ("amount", "60.00")]).unwrap();
    assert_eq!(rows(&whole), ["1 materials -60.00", "2 materials 60.00"]);
    let nobody = serde_json::json!({ "date": "2025-04-01", "source": SOURCE, "for": [] });
    let refused = findings(write(|pen| give_out(pen, &screws(), &asked(nobody))));
    assert_eq!(refused, ["/for: no episode and no project is named"]);
}

// Common practice, no source.
#[test]
fn what_nobody_took_up_yet_stands_by_its_kind() {
    for (kind, category) in [
        (SourceKind::Trip, "trips"),
        (SourceKind::PaidLabour, "paid_labour"),
        (SourceKind::Piece, "pieces_sold"),
        (SourceKind::PurchaseLine, "overhead"),
    ] {
        let mut facts = not_taken_up(1, "30.00");
        facts.source.kind = kind;
        let got = gives_out(&facts, &[]).unwrap();
        assert_eq!(rows(&got)[0], format!("1 {category} 10.00"));
    }
}

// Common practice, no source: the agency's part of an income is a source of its own.
#[test]
fn only_an_income_that_moves_is_said_to_leave_behind_what_was_kept_of_it() {
    let says = |side| {
        let mut facts = screws();
        facts.source.side = side;
        moves(&facts, &[]).unwrap().notes.iter().any(|note| note.contains("a source of its own"))
    };
    assert!(says(Side::Income));
    assert!(!says(Side::Cost));
}
