//! Furniture in the trade's sentences.

mod buyers;
mod closed_days;
mod conversions;
mod deposits;
mod first_days;
mod leaving;
mod lots;
mod refunds;
mod standings;
mod swaps;
mod two_bases;
mod workshop;

use super::super::journal::{Account, Draw, ExpenseClass, Stream, TaxClass};
use super::super::money::{Currency, Rate};
use super::super::recording::{Category, Label, MoneyAccountKind, Side};
use super::super::refusal::Standing;
use super::super::rows::{Basis, PieceOrigin, PiecePurpose, SaleCharacter};
use super::super::split::split_by_largest_remainder;
use super::{NewPiece, NewPieceAndSale, NewSale, Outcome, outcome};
use workshop::*;

const OWNERS_OWN: (PieceOrigin, PiecePurpose) = (PieceOrigin::AlreadyOwned, PiecePurpose::Personal);

// Common practice, no source (derived): bought 85, paint 31.40, sold 420 with 8 % fees.
#[test]
fn a_flip_earns_what_is_left_after_fees_and_the_cost_of_the_piece() {
    let mut shop = Workshop::new();
    let bought = shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap();
    assert_eq!(posted(&bought, Account::PiecesForResale), usd("85.00"));
    assert_eq!(bought.entries[0].postings()[0].class, Some(TaxClass::ResalePurchases));
    assert!(bought.attributions.is_empty() && bought.about == [EPISODE]);
    let mut facts = facts_of(&bought);
    puts_into(&mut facts, "31.40", day(2025, 3, 9));
    let fees = usd("420.00").times(dec("0.08")).unwrap();
    assert_eq!(fees, usd("33.60"));
    let sold = shop.sells(&facts, &sale("420.00", "33.60", day(2025, 4, 2))).unwrap();
    assert_eq!(posted(&sold, bank().receiving()), usd("386.40"));
    assert_eq!(posted(&sold, Account::Expense(ExpenseClass::CommissionsFees)), usd("33.60"));
    assert_eq!(posted(&sold, Account::Income(Stream::Furniture)), usd("-420.00"));
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("116.40"));
    assert_eq!(posted(&sold, Account::PiecesForResale), usd("-116.40"));
    assert_eq!(attributed(&sold, Side::Income), usd("420.00"));
    assert_eq!(attributed(&sold, Side::Fee), usd("33.60"));
    let cost = sold.attributions.iter().find(|one| one.source == facts.piece.source).unwrap();
    assert_eq!((cost.label, cost.amount), (Label::Category(Category::PiecesSold), usd("116.40")));
    let row = sale_row(&sold);
    assert_eq!(row.character, SaleCharacter::StockInTrade);
    assert_eq!(outcome(&row).unwrap(), Outcome::Gain(usd("270.00")));
    assert!(sold.notes[0].starts_with("Stock in trade, because oak dresser was there to be sold"));
    assert!(sold.notes[1].contains("profit 270.00 before the owner's own hours"), "{:?}", sold.notes);
    assert_eq!(sold.streams, [Stream::Furniture]);
    assert_eq!(sold.depends_on, [facts.record, facts.costs[1].record]);
}

// Pub. 334 ch. 6 and 7 (figures derived): bought 2025-12-10 for 80, materials 45 in January, sold in March
// for 390 with a fee of 39.
#[test]
fn a_dresser_bought_in_december_is_stock_until_it_is_sold_the_next_year() {
    let mut shop = Workshop::new();
    let bought = shop.acquires(&for_resale("80.00", day(2025, 12, 10))).unwrap();
    assert_eq!(bought.entries[0].postings()[0].tax_year, 2025);
    let mut facts = facts_of(&bought);
    puts_into(&mut facts, "45.00", day(2026, 1, 20));
    let sold = shop.sells(&facts, &sale("390.00", "39.00", day(2026, 3, 2))).unwrap();
    assert!(sold.entries[0].postings().iter().all(|posting| posting.tax_year == 2026));
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("125.00"));
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Gain(usd("226.00")));
}

// IRS FS-2023-06 (seen in a page copying it): a refrigerator bought for 1,000 and sold for 600.
#[test]
fn the_owners_own_thing_sold_at_a_loss_gives_no_deduction() {
    let mut shop = Workshop::new();
    let mut ask = unrecorded("refrigerator", "600.00", day(2025, 6, 1));
    ask.basis = Some(amount("1000.00"));
    ask.acquired_on = Some(day(2019, 5, 1));
    let sold = shop.sells_unrecorded(&ask).unwrap();
    let row = sale_row(&sold);
    assert_eq!((row.character, row.basis), (SaleCharacter::PersonalProperty, Basis::Known(usd("1000.00"))));
    assert_eq!(outcome(&row).unwrap(), Outcome::Loss(usd("400.00")));
    assert!(sold.notes.iter().any(|note| note.contains("A loss of 400.00")), "{:?}", sold.notes);
    assert_eq!(sold.entries.len(), 1);
    let credit = &sold.entries[0].postings()[1];
    assert_eq!((credit.account, credit.amount), (Account::OwnerContribution, usd("-600.00")));
    assert_eq!(credit.class, Some(TaxClass::PersonalPropertySale));
    assert!(sold.streams.is_empty() && sold.movements.len() == 1);
}

// IRS FS-2023-06 (seen in a page copying it): bought for 500, sold for 900.
#[test]
fn the_owners_own_thing_sold_at_a_gain_is_taxed_apart_from_the_business() {
    let mut shop = Workshop::new();
    let mut ask = unrecorded("pair of lamps", "900.00", day(2025, 6, 1));
    ask.basis = Some(amount("500.00"));
    let sold = shop.sells_unrecorded(&ask).unwrap();
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Gain(usd("400.00")));
    assert_eq!(posted(&sold, Account::Income(Stream::Furniture)), usd("0.00"));
    assert!(sold.notes.iter().any(|note| note.contains("A gain of 400.00")), "{:?}", sold.notes);
}

// Common practice, no source.
#[test]
fn the_old_dresser_sold_for_cash_today_for_this_episode_is_one_call() {
    let mut shop = Workshop::new();
    let sold = shop.sells_unrecorded(&unrecorded("old dresser", "180.00", day(2025, 6, 1))).unwrap();
    let piece = piece_row(&sold);
    assert_eq!((piece.origin, piece.purpose), OWNERS_OWN);
    assert_eq!((piece.basis, sale_row(&sold).basis), (Basis::Unknown, Basis::Unknown));
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Unknown);
    assert_eq!(sold.attributions.len(), 1);
    let back = &sold.attributions[0];
    assert_eq!((back.object, back.label, back.amount), (EPISODE, Label::PersonalPieceSold, usd("180.00")));
    let questions = sold.notes.iter().filter(|note| note.starts_with("Question")).count();
    assert_eq!(questions, 2, "what it cost and when it came: {:?}", sold.notes);
    assert!(sold.notes[0].starts_with("The owner's own property, because old dresser was personal"));
    assert!(sold.depends_on.is_empty());
}

// Common practice, no source: the owner's pocket is not the business's.
#[test]
fn money_for_the_owners_own_dresser_kept_in_the_pocket_is_contributed_and_drawn() {
    let mut shop = Workshop::new();
    shop.paid_into.kind = MoneyAccountKind::OwnPocket;
    let mut ask = unrecorded("old dresser", "180.00", day(2025, 6, 1));
    ask.fees = Some(amount("18.00"));
    let sold = shop.sells_unrecorded(&ask).unwrap();
    assert_eq!(posted(&sold, Account::Draw(Draw::Cash)), usd("162.00"));
    assert_eq!(posted(&sold, Account::OwnerContribution), usd("-162.00"));
    assert_eq!(attributed(&sold, Side::Recovery), usd("162.00"));
    assert!(sold.sources.iter().all(|source| source.side != Side::Fee), "fees reduce the proceeds");
}

// Common practice, no source: a set piece was deducted as it came.
#[test]
fn a_set_piece_sold_brings_its_proceeds_back_and_has_no_basis_left() {
    let mut shop = Workshop::new();
    let mut ask = for_resale("120.00", day(2025, 3, 1));
    ask.purpose = PiecePurpose::Set;
    let bought = shop.acquires(&ask).unwrap();
    assert_eq!(posted(&bought, Account::Expense(ExpenseClass::Supplies)), usd("120.00"));
    let row = &bought.attributions[0];
    assert_eq!((row.label, row.amount), (Label::Category(Category::Furniture), usd("120.00")));
    let mut facts = facts_of(&bought);
    puts_into(&mut facts, "15.00", day(2025, 3, 9));
    facts.attributed = usd("135.00");
    let sold = shop.sells(&facts, &sale("90.00", "9.00", day(2025, 9, 1))).unwrap();
    let credit = &sold.entries[0].postings()[1];
    assert_eq!((credit.account, credit.amount), (Account::BusinessPropertySales, usd("-81.00")));
    assert_eq!(credit.class, Some(TaxClass::BusinessPropertySale));
    assert_eq!(sale_row(&sold).basis, Basis::Known(usd("0.00")));
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Gain(usd("81.00")));
    assert_eq!(sold.attributions[0].label, Label::SetPieceSold);
    assert!(sold.notes[1].contains("its cost of 135.00 was already deducted"), "{:?}", sold.notes);
}

// Pub. 551 (from memory): what was never deducted is still there at the sale.
#[test]
fn a_set_piece_owned_before_keeps_its_basis_until_it_is_sold() {
    let mut shop = Workshop::new();
    let mut ask = owned(PiecePurpose::Set);
    ask.basis = Some(amount("200.00"));
    let came = shop.acquires(&ask).unwrap();
    assert!(came.entries.is_empty() && came.movements.is_empty());
    let mut facts = facts_of(&came);
    puts_into(&mut facts, "15.00", day(2025, 3, 9));
    let sold = shop.sells(&facts, &sale("250.00", "0", day(2025, 9, 1))).unwrap();
    assert_eq!(sale_row(&sold).basis, Basis::Known(usd("200.00")));
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Gain(usd("50.00")));
}

// Pub. 551 (from memory): improvements add to the basis.
#[test]
fn refinishing_the_owners_own_piece_adds_to_its_basis() {
    let mut shop = Workshop::new();
    let mut ask = for_resale("60.00", day(2025, 3, 1));
    ask.purpose = PiecePurpose::Personal;
    let bought = shop.acquires(&ask).unwrap();
    assert_eq!(posted(&bought, Account::Draw(Draw::PersonalItems)), usd("60.00"));
    assert_eq!(bought.attributions[0].label, Label::Category(Category::Furniture));
    let mut facts = facts_of(&bought);
    puts_into(&mut facts, "15.00", day(2025, 3, 9));
    let sold = shop.sells(&facts, &sale("70.00", "0", day(2025, 9, 1))).unwrap();
    assert_eq!(sale_row(&sold).basis, Basis::Known(usd("75.00")));
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Loss(usd("5.00")));
}

// Pub. 551, property changed to business use (from memory): the lower of basis and value.
#[test]
fn a_piece_owned_before_comes_into_stock_at_the_lower_of_basis_and_value() {
    let mut shop = Workshop::new();
    for (basis, value, carried) in [("300.00", "120.00", "120.00"), ("100.00", "120.00", "100.00")] {
        let mut ask = owned(PiecePurpose::Resale);
        (ask.basis, ask.value) = (Some(amount(basis)), Some(amount(value)));
        let came = shop.acquires(&ask).unwrap();
        assert_eq!(posted(&came, Account::PiecesForResale), usd(carried));
        assert_eq!(posted(&came, Account::OwnerContribution), usd(carried).negated());
        assert!(came.notes.iter().any(|note| note.contains(&format!("Taken in at {carried}"))));
        let sold = shop.sells(&facts_of(&came), &sale("200.00", "0", day(2025, 9, 1))).unwrap();
        assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd(carried));
    }
    let mut ask = owned(PiecePurpose::Resale);
    ask.basis = Some(amount("300.00"));
    assert_eq!(pointers(&shop.acquires(&ask).unwrap_err()), ["/value"]);
}

// Common practice, no source: unknown is a question, never zero.
#[test]
fn stock_of_unknown_basis_sets_only_what_was_put_into_it_against_its_sale() {
    let mut shop = Workshop::new();
    let mut ask = owned(PiecePurpose::Resale);
    ask.basis_unknown = true;
    let came = shop.acquires(&ask).unwrap();
    assert!(came.entries.is_empty());
    let mut facts = facts_of(&came);
    puts_into(&mut facts, "20.00", day(2025, 3, 9));
    let sold = shop.sells(&facts, &sale("200.00", "0", day(2025, 9, 1))).unwrap();
    assert_eq!(sale_row(&sold).basis, Basis::Unknown);
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("20.00"));
    assert!(sold.notes[1].starts_with("Question: what did kitchen bench cost?"), "{:?}", sold.notes);
}

// Pub. 551, property received as a gift (rule seen in a page citing it).
#[test]
fn a_gift_keeps_the_givers_basis_and_asks_where_its_value_was_lower() {
    let mut shop = Workshop::new();
    let mut ask = owned(PiecePurpose::Resale);
    ask.origin = PieceOrigin::Gifted;
    (ask.basis, ask.value) = (Some(amount("300.00")), Some(amount("120.00")));
    ask.evidence = Some("two advertisements for the like".to_owned());
    let came = shop.acquires(&ask).unwrap();
    assert_eq!(piece_row(&came).basis, Basis::Known(usd("300.00")));
    assert_eq!(posted(&came, Account::PiecesForResale), usd("120.00"));
    assert!(came.notes.iter().any(|note| note.contains("Taken in at 120.00, the lower of its basis 300.00")));
    let sold = shop.sells(&facts_of(&came), &sale("200.00", "0", day(2025, 9, 1))).unwrap();
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("120.00"));
    let asked = sold.notes.iter().find(|note| note.starts_with("Question")).unwrap();
    assert!(asked.contains("180.00 under what it had cost before"), "{asked}");
}

// Common practice, no source.
#[test]
fn a_piece_found_or_built_has_no_basis_and_no_entry() {
    let mut shop = Workshop::new();
    for origin in [PieceOrigin::Found, PieceOrigin::Built] {
        let mut ask = owned(PiecePurpose::Resale);
        ask.origin = origin;
        let came = shop.acquires(&ask).unwrap();
        assert!(came.entries.is_empty() && came.sources.len() == 1);
        assert_eq!(piece_row(&came).basis, Basis::Known(usd("0.00")));
        ask.basis = Some(amount("10.00"));
        assert_eq!(pointers(&shop.acquires(&ask).unwrap_err()), ["/basis"]);
    }
}

// Derived: a salvaged dresser of 540 is sold as two pieces worth 1,200 and 600.
#[test]
fn a_dresser_taken_apart_shares_its_cost_by_the_value_of_the_parts() {
    let parts = split_by_largest_remainder(usd("540.00"), &[dec("1200"), dec("600")]).unwrap();
    assert_eq!(parts, [usd("360.00"), usd("180.00")]);
}

// Common practice, no source: sales tax is owed on, never income.
#[test]
fn sales_tax_collected_is_owed_and_the_marketplaces_is_only_noted() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let mut ask = sale("100.00", "10.00", day(2025, 4, 2));
    ask.sales_tax_collected = Some(amount("8.00"));
    let own = shop.sells(&facts, &ask).unwrap();
    assert_eq!(posted(&own, bank().receiving()), usd("98.00"));
    assert_eq!(posted(&own, Account::SalesTaxCollected), usd("-8.00"));
    assert_eq!(posted(&own, Account::Income(Stream::Furniture)), usd("-100.00"));
    (ask.sales_tax_by_marketplace, ask.sales_tax_collected) = (ask.sales_tax_collected, None);
    let theirs = shop.sells(&facts, &ask).unwrap();
    assert_eq!(posted(&theirs, Account::SalesTaxCollected), usd("0.00"));
    assert!(theirs.notes.iter().any(|note| note.contains("8.00 was collected and paid on")));
}

// Common practice, no source: the sale counts where it says, else where the piece was got for.
#[test]
fn a_sale_counts_for_the_episode_it_names_before_the_pieces_own() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let mut ask = sale("100.00", "0", day(2025, 4, 2));
    (ask.episode, ask.project) = (None, Some(project()));
    let sold = shop.sells(&facts, &ask).unwrap();
    assert!(sold.attributions.iter().all(|one| one.object == PROJECT), "{:?}", sold.attributions);
    (facts.piece.object, ask.project) = (None, None);
    let sold = shop.sells(&facts, &ask).unwrap();
    assert!(sold.attributions.is_empty() && sold.movements.len() == 1);
    assert!(sold.notes.iter().any(|note| note.contains("counts for no episode")));
}

// Common practice, no source: nothing is attributed twice.
#[test]
fn what_already_stands_with_an_episode_is_not_attributed_again_at_the_sale() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    facts.attributed = usd("60.00");
    let sold = shop.sells(&facts, &sale("100.00", "0", day(2025, 4, 2))).unwrap();
    assert_eq!(attributed(&sold, Side::Cost), usd("25.00"));
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("85.00"));
}

// Common practice, no source.
#[test]
fn a_bought_piece_goes_in_one_call_with_both_days() {
    let mut shop = Workshop::new();
    let mut ask = unrecorded("oak chair", "60.00", day(2025, 6, 1));
    (ask.origin, ask.purpose) = (Some(PieceOrigin::Bought), Some(PiecePurpose::Resale));
    (ask.basis, ask.acquired_on) = (Some(amount("25.00")), Some(day(2025, 5, 20)));
    assert_eq!(pointers(&shop.sells_unrecorded(&ask).unwrap_err()), ["/paid_from"]);
    ask.paid_from = Some(bank().id);
    let sold = shop.sells_unrecorded(&ask).unwrap();
    let dates: Vec<_> = sold.entries.iter().map(|entry| entry.date).collect();
    assert_eq!(dates, [day(2025, 5, 20), day(2025, 6, 1)]);
    assert_eq!(outcome(&sale_row(&sold)).unwrap(), Outcome::Gain(usd("35.00")));
    assert_eq!(attributed(&sold, Side::Cost), usd("25.00"));
    assert_eq!(posted(&sold, Account::PiecesForResale), usd("0.00"));
    ask.acquired_on = Some(day(2024, 12, 1));
    assert_eq!(pointers(&shop.sells_unrecorded(&ask).unwrap_err()), ["/acquired_on"]);
}

// Common practice, no source.
#[test]
fn a_sale_before_the_piece_came_or_before_its_last_cost_is_refused_with_both_days() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let refusal = shop.sells(&facts, &sale("100.00", "0", day(2025, 2, 1))).unwrap_err();
    assert_eq!(pointers(&refusal), ["/date"]);
    assert!(refusal.to_string().contains("2025-02-01 is before 2025-03-01"), "{refusal}");
    puts_into(&mut facts, "5.00", day(2025, 5, 1));
    let refusal = shop.sells(&facts, &sale("100.00", "0", day(2025, 4, 1))).unwrap_err();
    assert!(refusal.to_string().contains("on 2025-05-01, after 2025-04-01"), "{refusal}");
    let mut ask = unrecorded("old dresser", "180.00", day(2025, 6, 1));
    ask.acquired_on = Some(day(2025, 7, 1));
    assert_eq!(pointers(&shop.sells_unrecorded(&ask).unwrap_err()), ["/date"]);
}

// Common practice, no source.
#[test]
fn a_piece_is_sold_once() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let sold = shop.sells(&facts, &sale("100.00", "0", day(2025, 4, 2))).unwrap();
    facts.sale = Some(sale_row(&sold));
    let refusal = shop.sells(&facts, &sale("100.00", "0", day(2025, 4, 3))).unwrap_err();
    assert_eq!(refusal.standing(), Standing::Conflict);
    assert!(refusal.to_string().contains("oak dresser was already sold on 2025-04-02"), "{refusal}");
}

// Common practice, no source.
#[test]
fn every_finding_of_a_sale_and_of_a_piece_is_said_at_once() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let refusal = shop.sells(&facts, &sale("100.00", "100.01", day(2025, 4, 2))).unwrap_err();
    assert!(refusal.to_string().contains("fees of 100.01 are more than the 100.00"), "{refusal}");
    let mut ask = sale("0", "-1", day(2024, 4, 2));
    ask.project = Some(project());
    ask.sales_tax_collected = Some(amount("1.001"));
    assert_eq!(
        pointers(&shop.sells(&facts, &ask).unwrap_err()),
        ["/date", "/date", "", "/gross", "/fees", "/sales_tax_collected"]
    );
    let mut ask = unrecorded(" ", "-5", day(2024, 6, 1));
    (ask.basis, ask.basis_unknown) = (Some(amount("5.00")), true);
    ask.expense_class = Some(ExpenseClass::Office);
    ask.paid_from = Some(bank().id);
    assert_eq!(
        pointers(&shop.sells_unrecorded(&ask).unwrap_err()),
        ["/date", "/name", "/paid_from", "/expense_class", "/basis", "/gross"]
    );
    let mut ask = for_resale("85.00", day(2025, 3, 1));
    (ask.basis, ask.basis_unknown, ask.paid_from) = (None, true, None);
    ask.acquired_on = Some(day(2025, 3, 2));
    assert_eq!(pointers(&shop.acquires(&ask).unwrap_err()), ["/acquired_on", "/paid_from", "/basis"]);
    let mut ask = owned(PiecePurpose::Set);
    ask.expense_class = Some(ExpenseClass::Depreciation);
    assert_eq!(pointers(&shop.acquires(&ask).unwrap_err()), ["/expense_class"]);
}

// Common practice, no source.
#[test]
fn a_foreign_sale_is_kept_in_the_books_currency() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let mut ask = sale("100.00", "7.77", day(2025, 4, 2));
    ask.currency = Some(Currency::find("EUR").unwrap());
    assert_eq!(pointers(&shop.sells(&facts, &ask).unwrap_err()), ["/rate"]);
    ask.rate = Rate::parse("1.085");
    let sold = shop.sells(&facts, &ask).unwrap();
    assert_eq!(posted(&sold, Account::Income(Stream::Furniture)), usd("-108.50"));
    assert_eq!(posted(&sold, bank().receiving()), usd("100.07"));
}

// Common practice, no source.
#[test]
fn the_bodies_are_flat_and_refuse_what_they_do_not_know() {
    let id = "0192a1b2-0000-7000-8000-000000000001";
    let body = format!(r#"{{"name":"old dresser","date":"2025-06-01","gross":"180.00","paid_into":"{id}"}}"#);
    assert!(serde_json::from_str::<NewPieceAndSale>(&body).is_ok());
    assert!(serde_json::from_str::<NewPieceAndSale>(&body.replace("\"180.00\"", "180")).is_err());
    let body = format!(r#"{{"date":"2025-06-01","gross":"180.00","paid_into":"{id}","colour":"red"}}"#);
    assert!(serde_json::from_str::<NewSale>(&body).unwrap_err().to_string().contains("colour"));
    let body = r#"{"name":"bench","date":"2025-06-01","origin":"found","purpose":"set"}"#;
    let piece = serde_json::from_str::<NewPiece>(body).unwrap();
    assert_eq!(
        (piece.origin, piece.purpose, piece.basis_unknown),
        (PieceOrigin::Found, PiecePurpose::Set, false)
    );
}
