//! Pieces that left without a sale, as the preparer hears of them.

use uuid::Uuid;

use super::super::facts::PieceLeftFacts;
use super::super::questions::Topic;
use super::super::{Profile, YearFacts, summarise};
use super::{books, day, usd};
use crate::rules::ids::PieceId;
use crate::rules::rows::{LeavingKind, PieceLeaving, PiecePurpose};

#[test]
fn pieces_that_left_without_a_sale_are_asked_about_each_by_how_it_left() {
    let left = |number: u128, how, purpose| PieceLeftFacts {
        name: "chair".to_owned(),
        purpose,
        left: PieceLeaving {
            piece: PieceId(Uuid::from_u128(number)),
            date: day("2025-05-01"),
            how,
            cost: usd("20.00"),
        },
    };
    let mut facts = YearFacts::empty(Profile::find("us", 2025).unwrap(), books());
    facts.pieces_left = vec![
        left(1, LeavingKind::Donated, PiecePurpose::Resale),
        left(2, LeavingKind::Lost, PiecePurpose::Resale),
        left(3, LeavingKind::Lost, PiecePurpose::Personal),
        left(4, LeavingKind::TakenHome, PiecePurpose::Set),
        left(5, LeavingKind::TakenHome, PiecePurpose::Resale),
        left(6, LeavingKind::GivenAway, PiecePurpose::Resale),
    ];
    let summary = summarise(&facts).unwrap();
    for (topic, number) in [
        (Topic::Donations, 1),
        (Topic::PiecesLost, 2),
        (Topic::PiecesTakenHome, 4),
        (Topic::PiecesGivenAway, 6),
    ] {
        let asked: Vec<_> = summary.questions.iter().filter(|one| one.topic == topic).collect();
        let about = format!("/v1/furniture/{}/standing", PieceId(Uuid::from_u128(number)));
        assert_eq!(asked.len(), 1, "{topic}");
        assert_eq!(asked[0].about, [about], "{topic}");
    }
}
