//! What the answer says a piece became on the day it came.

use super::super::PieceLabels;
use super::workshop::*;
use super::{NewPiece, PieceOrigin, PiecePurpose};
use crate::rules::trial::is_always_called_something;

const NO_ENTRY: &str = "Nothing was paid for it through these books, so there is no entry.";

// Common practice, no source.
#[test]
fn the_answer_says_what_a_piece_that_came_is_for_and_what_is_open_about_it() {
    let said = |new: &NewPiece| Workshop::new().acquires(new).unwrap().notes;
    let bought = |purpose| NewPiece { purpose, ..for_resale("85.00", day(2025, 3, 1)) };
    assert_eq!(
        said(&bought(PiecePurpose::Resale)),
        ["For resale: 85.00 wait in pieces for resale and become a cost on the day of the sale."]
    );
    assert_eq!(
        said(&bought(PiecePurpose::Set)),
        ["For the set: 85.00 are a business expense now, and proceeds of a sale later are a gain."]
    );
    assert_eq!(
        said(&bought(PiecePurpose::Personal)),
        ["The owner's own: 85.00 are a draw and never a deduction."]
    );
    assert_eq!(
        said(&owned_for_nothing(PiecePurpose::Personal)),
        [NO_ENTRY, "Question: what did it cost? Until that is known the basis is unknown, not zero."]
    );
    let given = NewPiece { origin: PieceOrigin::Gifted, ..owned_for_nothing(PiecePurpose::Personal) };
    assert_eq!(
        said(&given)[..2],
        [
            NO_ENTRY,
            "Question: what did it cost the giver? Until that is known the basis is unknown, not zero."
        ]
    );
}

#[test]
fn a_piece_is_called_by_its_name_and_never_by_nothing() {
    is_always_called_something::<PieceLabels>("name");
}
