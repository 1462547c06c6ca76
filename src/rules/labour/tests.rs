use uuid::Uuid;

use super::*;
use crate::rules::ids::{RecordId, SourceId};
use crate::rules::journal::Draw;
use crate::rules::rows::{Basis, Piece, PieceOrigin};
use crate::rules::trial::{balance, bank, day, dollars, episode, findings, ties, write};

const PIECE: &str = "00000000-0000-0000-0000-000000000005";

fn new(fields: &str) -> NewLabour {
    serde_json::from_str(&format!(r#"{{ "date": "2025-04-01", "person": "Ona Brell", {fields} }}"#)).unwrap()
}

fn on_episode(fields: &str) -> NewLabour {
    NewLabour { episode: Some(episode(1)), ..new(fields) }
}

fn worked(purpose: PiecePurpose, treatment: Treatment) -> PieceInWork {
    let piece = Piece {
        id: PieceId(PIECE.parse().unwrap()),
        source: SourceId(Uuid::from_u128(6)),
        name: "dresser".to_owned(),
        origin: PieceOrigin::Bought,
        purpose,
        acquired_on: day("2025-03-01"),
        basis: Basis::Known(dollars("85.00")),
        value: None,
        treatment,
        object: Some(CostObject::Episode(episode(1))),
    };
    PieceInWork { piece, record: RecordId(Uuid::from_u128(7)), gone: None }
}

fn recorded(facts: &LabourFacts, new: &NewLabour) -> Result<Recording, Refusal> {
    let recording = write(|pen| work(pen, facts, new))?;
    let known: Vec<_> = facts.piece.iter().map(|worked| (worked.piece.source, Side::Cost)).collect();
    ties(&recording, &known);
    Ok(recording)
}

fn paid_from_bank(piece: Option<PieceInWork>) -> LabourFacts {
    LabourFacts { paid_from: Some(bank()), piece }
}

fn paid_on_piece(piece: PieceInWork) -> Result<Recording, Refusal> {
    let fields = format!(r#""standing": "paid", "hours": "4", "paid": "100.00", "piece": "{PIECE}""#);
    recorded(&paid_from_bank(Some(piece)), &new(&fields))
}

// Common practice, no source: an owner's own hours are never a cost.
#[test]
fn own_and_volunteered_hours_never_enter_the_ledger() {
    for standing in ["own", "volunteered"] {
        let hours = on_episode(&format!(r#""standing": "{standing}", "hours": "31.5""#));
        let recording = recorded(&LabourFacts::default(), &hours).unwrap();
        assert!(recording.entries.is_empty() && recording.attributions.is_empty());
        assert!(recording.sources.is_empty());
        assert_eq!(recording.about, [CostObject::Episode(episode(1))]);
        assert!(matches!(&recording.rows[0], Row::Labour(row) if row.paid.is_zero()));
    }
}

// Common practice, no source.
#[test]
fn a_paid_helper_is_contract_labour_and_a_cost_of_the_episode() {
    let paid = on_episode(r#""standing": "paid", "hours": "4", "paid": "100.00""#);
    let recording = recorded(&paid_from_bank(None), &paid).unwrap();
    assert_eq!(balance(&recording, Account::Expense(ExpenseClass::ContractLabour)), "100.00");
    assert_eq!(balance(&recording, Account::Money(bank().id)), "-100.00");
    assert_eq!(recording.attributions[0].label, Label::Category(Category::PaidLabour));
    assert_eq!(recording.attributions[0].amount, dollars("100.00"));
}

// Common practice, no source.
#[test]
fn pay_on_no_episode_is_overhead() {
    let paid = new(r#""standing": "paid", "hours": "4", "paid": "100.00""#);
    let recording = recorded(&paid_from_bank(None), &paid).unwrap();
    assert_eq!(recording.movements[0].amount, dollars("100.00"));
    assert!(recording.attributions.is_empty());
}

// Common practice, no source: what stays in the owner's room is a draw and still a cost of the episode.
#[test]
fn a_helper_who_improves_the_owners_home_is_a_draw_and_a_cost_of_the_episode() {
    let paid = on_episode(
        r#""standing": "paid", "hours": "4", "paid": "100.00", "treatment": { "as": "home_improvement" }"#,
    );
    let recording = recorded(&paid_from_bank(None), &paid).unwrap();
    assert_eq!(balance(&recording, Account::Draw(Draw::HomeImprovements)), "100.00");
    assert_eq!(recording.attributions.len(), 1);
}

// Common practice, no source: labour on stock in trade is part of its cost until it is sold.
#[test]
fn pay_for_a_resale_piece_goes_into_the_piece() {
    let recording = paid_on_piece(worked(PiecePurpose::Resale, Treatment::Resale)).unwrap();
    assert_eq!(balance(&recording, Account::PiecesForResale), "100.00");
    let posting = recording.entries[0].postings().iter().find(|one| one.amount.is_positive()).unwrap();
    assert_eq!(posting.class, Some(TaxClass::ResaleLabour));
    assert_eq!(recording.movements[0].source, SourceId(Uuid::from_u128(6)));
    assert!(recording.attributions.is_empty() && recording.sources.is_empty());
    assert_eq!(recording.depends_on, [RecordId(Uuid::from_u128(7))]);
}

// Common practice, no source.
#[test]
fn pay_for_a_set_or_personal_piece_is_a_furniture_cost_of_its_episode() {
    let set = paid_on_piece(worked(PiecePurpose::Set, Treatment::Expense(ExpenseClass::Supplies))).unwrap();
    assert_eq!(balance(&set, Account::Expense(ExpenseClass::ContractLabour)), "100.00");
    assert_eq!(set.attributions[0].label, Label::Category(Category::Furniture));
    let own = paid_on_piece(worked(PiecePurpose::Personal, Treatment::Personal)).unwrap();
    assert_eq!(balance(&own, Account::Draw(Draw::PersonalItems)), "100.00");
    assert_eq!(own.attributions[0].amount, dollars("100.00"));
}

// Common practice, no source.
#[test]
fn a_sold_piece_takes_no_more_pay() {
    let sold = PieceInWork {
        gone: Some(Gone { on: day("2025-05-01"), how: "sold" }),
        ..worked(PiecePurpose::Resale, Treatment::Resale)
    };
    assert_eq!(
        findings(paid_on_piece(sold)),
        ["/piece: the piece was sold on 2025-05-01, and its cost was settled that day"]
    );
}

// Common practice, no source.
#[test]
fn every_fault_of_hours_is_told_at_once() {
    let paid = NewLabour {
        person: " ".to_owned(),
        piece: Some(PieceId(PIECE.parse().unwrap())),
        ..on_episode(r#""standing": "own", "hours": "0", "paid": "5.00""#)
    };
    assert_eq!(
        findings(recorded(&paid_from_bank(None), &paid)),
        [
            "/person: the person is empty",
            "/hours: zero hours are given",
            ": more than one of episode, project and piece is named",
            "/piece: these books have no furniture of that id",
            "/paid: pay is given for own hours, which never enter the ledger",
            "/paid_from: a money account is named for own hours, for which nothing is paid",
        ]
    );
    let unpaid = on_episode(r#""standing": "paid", "hours": "1", "treatment": { "as": "tool" }"#);
    assert_eq!(
        findings(recorded(&LabourFacts::default(), &unpaid)),
        [
            "/paid: the helper is paid, and no pay is given",
            "/paid_from: the helper is paid, and no money account is named",
            "/treatment/as: pay for work on no piece can not be treated as tool",
        ]
    );
}

// Common practice, no source.
#[test]
fn own_hours_on_a_piece_are_told_until_the_day_it_was_sold_and_not_after() {
    let worked_on = |date: &str| {
        let sold = PieceInWork {
            gone: Some(Gone { on: day("2025-05-01"), how: "sold" }),
            ..worked(PiecePurpose::Resale, Treatment::Resale)
        };
        let facts = LabourFacts { paid_from: None, piece: Some(sold) };
        let hours = new(&format!(r#""standing": "own", "hours": "2", "piece": "{PIECE}""#));
        recorded(&facts, &NewLabour { date: day(date), ..hours })
    };
    for date in ["2025-04-30", "2025-05-01"] {
        assert_eq!(worked_on(date).unwrap().depends_on, [RecordId(Uuid::from_u128(7))], "{date}");
    }
    assert_eq!(
        findings(worked_on("2025-05-02")),
        ["/piece: the piece was sold on 2025-05-01, and its cost was settled that day"]
    );
}

// Common practice, no source.
#[test]
fn a_piece_is_worked_on_from_the_day_it_came() {
    let worked_on = |date: &str| {
        let piece = worked(PiecePurpose::Resale, Treatment::Resale);
        let hours = new(&format!(r#""standing": "own", "hours": "2", "piece": "{PIECE}""#));
        let facts = LabourFacts { paid_from: None, piece: Some(piece) };
        recorded(&facts, &NewLabour { date: day(date), ..hours })
    };
    assert!(worked_on("2025-03-01").is_ok());
    assert_eq!(
        findings(worked_on("2025-02-28")),
        ["/date: 2025-02-28 is before 2025-03-01, the day the piece came"]
    );
}
