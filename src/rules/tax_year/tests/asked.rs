//! What the preparer is asked about pieces of furniture and accounts, and what goes without asking.

use uuid::Uuid;

use super::super::facts::{PieceSaleFacts, PostingSum, RefundFacts};
use super::super::questions::Topic;
use super::super::{YearFacts, summarise};
use super::{day, posted, usd, year};
use crate::rules::ids::{PieceId, RecordId};
use crate::rules::journal::{Account, EntryKind, ExpenseClass, Stream};
use crate::rules::rows::{Basis, PieceBack, PieceRefund, PieceSale, SaleCharacter};

fn piece(number: u128) -> PieceId {
    PieceId(Uuid::from_u128(number))
}

/// What each question of the topic is about.
fn about(facts: &YearFacts, topic: Topic) -> Vec<Vec<String>> {
    let summary = summarise(facts).unwrap();
    summary.questions.iter().filter(|one| one.topic == topic).map(|one| one.about.clone()).collect()
}

fn standings(numbers: &[u128]) -> Vec<String> {
    numbers.iter().map(|number| format!("/v1/furniture/{}/standing", piece(*number))).collect()
}

#[test]
fn money_back_of_an_earlier_years_sale_is_asked_about_unless_the_piece_was_stock() {
    let refund = |number, character, sold_in, back| {
        let (sale, date) = (RecordId(Uuid::from_u128(70)), day("2025-03-05"));
        let (amount, fees_back) = (usd("80.00"), usd("0.00"));
        let refund = PieceRefund { piece: piece(number), sale, date, amount, fees_back, back };
        RefundFacts { refund, character, sold_in }
    };
    let (came, kept) = (PieceBack::CameBack, PieceBack::KeptByBuyer);
    let mut facts = year(2025);
    facts.refunds = vec![
        refund(1, SaleCharacter::StockInTrade, 2024, came),
        refund(2, SaleCharacter::PersonalProperty, 2024, kept),
        refund(3, SaleCharacter::BusinessProperty, 2024, came),
        refund(4, SaleCharacter::StockInTrade, 2025, came),
        refund(5, SaleCharacter::PersonalProperty, 2025, came),
        refund(6, SaleCharacter::PersonalProperty, 2025, kept),
    ];
    assert_eq!(about(&facts, Topic::Refunds), [standings(&[2, 3]), standings(&[5])]);
}

// Pub. 551, property received as a gift and property changed to business use (from memory).
#[test]
fn stock_that_came_in_under_its_cost_is_asked_about_and_a_private_thing_is_not() {
    let sold = |number, character, value: &str| {
        let (gross, fees, basis) = (usd("90.00"), usd("0.00"), Basis::Known(usd(value)));
        let (piece, date) = (piece(number), day("2025-04-02"));
        let sale = PieceSale { piece, date, gross, fees, basis, basis_for_loss: None, character };
        let (came_at, value) = (Some(usd("100.00")), Some(usd(value)));
        PieceSaleFacts { piece, name: "bench".to_owned(), sale, came_at, value }
    };
    let mut facts = year(2025);
    facts.piece_sales = vec![
        sold(1, SaleCharacter::StockInTrade, "60.00"),
        sold(2, SaleCharacter::StockInTrade, "100.00"),
        sold(3, SaleCharacter::PersonalProperty, "60.00"),
    ];
    assert_eq!(about(&facts, Topic::TwoBases), [standings(&[1])]);
}

// Common practice, no source.
#[test]
fn only_a_result_that_says_nothing_to_the_tax_office_is_asked_about() {
    let office = Account::Expense(ExpenseClass::Office);
    let unclassed =
        |account, amount| PostingSum { account, class: None, kind: EntryKind::Ordinary, amount: usd(amount) };
    let classed = |class: ExpenseClass, amount| posted(Account::Expense(class), class.tax_class(), amount);
    let mut facts = year(2025);
    facts.postings = vec![
        classed(ExpenseClass::Supplies, "30.00"),
        posted(Account::Income(Stream::Sponsorship), Stream::Sponsorship.tax_class(), "-500.00"),
        unclassed(office, "0.00"),
        unclassed(Account::MaterialsOnHand, "40.00"),
    ];
    assert!(about(&facts, Topic::WithoutClass).is_empty());
    facts.postings.push(unclassed(office, "5.00"));
    let asked = format!("/v1/postings?tax_year=2025&account={}", office.code());
    assert_eq!(about(&facts, Topic::WithoutClass), [[asked]]);
}

// Common practice, no source.
#[test]
fn the_first_inventory_leads_to_the_opening_position_and_a_later_one_to_the_year_before() {
    let of = |year_of| summarise(&year(year_of)).unwrap().inventory.opening_drill_down;
    assert_eq!(of(2023), "/v1/openings");
    assert_eq!(of(2024), "/v1/tax-years/2023/summary#inventory");
    // The opening position itself is asked for in the first year alone.
    let asks = |year_of| summarise(&year(year_of)).unwrap().asks(Topic::OpeningPosition);
    assert_eq!((asks(2023), asks(2024)), (true, false));
}
