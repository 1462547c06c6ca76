//! Information returns: who was paid so much that the year has to tell.

use uuid::Uuid;

use super::super::payees::{PaidFor, PaidToParty, PayeeStanding};
use super::super::questions::Topic;
use super::super::{Profile, YearFacts, summarise};
use super::*;
use crate::rules::ids::PartyId;

fn paid(number: u128, name: &str, amount: &str, by_card: &str) -> PaidToParty {
    PaidToParty {
        party: PartyId(Uuid::from_u128(number)),
        name: name.to_owned(),
        paid_for: PaidFor::Services,
        amount: usd(amount),
        paid: usd(amount),
        by_card: usd(by_card),
    }
}

fn standings(year: i32, paid_to: Vec<PaidToParty>) -> (Vec<(String, PayeeStanding)>, usize) {
    let mut facts = YearFacts::empty(Profile::find("us", year).unwrap(), books());
    facts.paid_to = paid_to;
    let summary = summarise(&facts).unwrap();
    let asked = summary.questions.iter().filter(|one| one.topic == Topic::InformationReturns);
    let asked = asked.map(|one| one.about.len()).sum();
    let payees = summary.information_returns.payees;
    (payees.into_iter().map(|one| (one.amount.to_string(), one.standing)).collect(), asked)
}

// IRC 6041(a): 600 or more through 2025 and 2,000 or more from 2026 (seen in pages on the change); the cents are derived.
#[test]
fn a_freelancer_is_reported_from_600_on_through_2025_and_from_2000_on_since() {
    let cases = [
        (2025, "599.99", PayeeStanding::BelowThreshold),
        (2025, "600.00", PayeeStanding::Due),
        (2026, "1900.00", PayeeStanding::BelowThreshold),
        (2026, "1999.99", PayeeStanding::BelowThreshold),
        (2026, "2000.00", PayeeStanding::Due),
    ];
    for (year, amount, standing) in cases {
        let (found, asked) = standings(year, vec![paid(1, "Perrin Ashlock", amount, "0.00")]);
        assert_eq!(found, [(amount.to_owned(), standing)], "{year}");
        assert_eq!(asked, usize::from(standing == PayeeStanding::Due), "{year}: {amount}");
    }
}

// Instructions for Form 1099-NEC, from memory: who settles the card reports it.
#[test]
fn what_went_by_card_does_not_count_and_several_payments_to_one_person_do_together() {
    let (found, asked) = standings(
        2025,
        vec![
            paid(1, "Perrin Ashlock", "400.00", "0.00"),
            paid(1, "Perrin Ashlock", "300.00", "100.00"),
            paid(2, "Wenna Dray", "900.00", "900.00"),
        ],
    );
    let expected = [("600.00", PayeeStanding::Due), ("0.00", PayeeStanding::BelowThreshold)];
    assert_eq!(found, expected.map(|(amount, standing)| (amount.to_owned(), standing)));
    assert_eq!(asked, 1);
}

// Forms 1099-NEC and 1099-MISC, from memory: rent is reported by itself.
#[test]
fn rent_and_services_of_one_person_are_held_against_the_threshold_each_by_itself() {
    let rent = PaidToParty { paid_for: PaidFor::Rent, ..paid(1, "Perrin Ashlock", "550.00", "0.00") };
    let (found, asked) = standings(2025, vec![paid(1, "Perrin Ashlock", "550.00", "0.00"), rent]);
    assert_eq!(found.len(), 2);
    assert_eq!(asked, 0);
}
