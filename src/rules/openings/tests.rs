use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::rules::journal::balance_of;
use crate::rules::recording::{MaterialsTiming, Side};
use crate::rules::rows::{Basis, Convention, LotStanding, Row};
use crate::rules::trial::{
    account, asked, balance, bank, books, dollars, episode, findings, keeps_out_of_closed_days, party, ties,
    usd, write, write_in,
};

fn opening(more: Value) -> NewOpening {
    let mut body = json!({ "date": "2025-01-01" });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    asked(body)
}

fn stated(more: Value) -> Result<Recording, Refusal> {
    write(|pen| state(pen, &OpeningFacts::default(), &opening(more)))
}

fn of_account(money: MoneyAccount, more: Value) -> Result<Recording, Refusal> {
    let facts = OpeningFacts { account: Some(money), ..OpeningFacts::default() };
    let mut body = json!({ "what": "account", "account": money.id });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    write(|pen| state(pen, &facts, &opening(body)))
}

#[test]
fn what_stood_on_an_account_is_the_owners_equity() {
    let got = of_account(bank(), json!({ "balance": "812.40" })).unwrap();
    assert_eq!(got.entries[0].kind, EntryKind::Opening);
    assert_eq!(balance(&got, Account::Money(bank().id)), "812.40");
    assert_eq!(balance(&got, Account::OpeningEquity), "-812.40");
    let card = account(2, MoneyAccountKind::Card, "USD");
    let owed = of_account(card, json!({ "balance": "-90.00" })).unwrap();
    assert_eq!(balance(&owed, Account::Money(card.id)), "-90.00");
    let euros = account(3, MoneyAccountKind::Bank, "EUR");
    let foreign = of_account(euros, json!({ "balance": "100.00", "rate": "1.1" })).unwrap();
    assert_eq!(balance(&foreign, Account::Money(euros.id)), "110.00");
}

#[test]
fn what_was_owed_is_given_as_it_was_owed() {
    let got = stated(json!({ "what": "account", "standing": "loans", "balance": "1000.00" })).unwrap();
    assert_eq!(balance(&got, Account::Loans), "-1000.00");
    let got =
        stated(json!({ "what": "account", "standing": "platform_reserves", "balance": "50.00" })).unwrap();
    assert_eq!(balance(&got, Account::PlatformReserves), "50.00");
}

#[test]
fn an_opening_balance_stands_once_and_not_for_an_own_pocket() {
    let facts = OpeningFacts {
        account: Some(bank()),
        stated_on: Some("2025-01-01".parse().unwrap()),
        ..OpeningFacts::default()
    };
    let body = opening(json!({ "what": "account", "account": bank().id, "balance": "1.00" }));
    assert_eq!(
        findings(write(|pen| state(pen, &facts, &body))),
        [": an opening balance of this account stands already, of 2025-01-01"]
    );
    let pocket = account(5, MoneyAccountKind::OwnPocket, "USD");
    assert_eq!(
        findings(of_account(pocket, json!({ "balance": "1.00" }))),
        ["/account: an own pocket is the owner's purse and has no balance in the books"]
    );
    assert_eq!(
        findings(stated(json!({ "what": "tool", "balance": "1.00", "lot": {
            "material": "oak", "quantity": "1", "unit": "m", "cost": "1.00",
        } }))),
        [
            "/balance: balance is given with the opening position of: tool",
            "/lot: lot is given with the opening position of: tool",
        ]
    );
    assert_eq!(
        findings(stated(json!({ "what": "tool" }))),
        ["/tool: it is the opening position of: tool, and tool is missing"]
    );
}

fn saw(more: Value) -> Value {
    let mut tool = json!({
        "terms": { "name": "table saw", "method": "per_use_hour", "hours_expected": "400", "salvage": "49.00" },
        "acquired_on": "2023-03-10", "cost": "649.00",
    });
    tool.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    json!({ "what": "tool", "tool": tool })
}

/// Figures of our own.
#[test]
fn a_tool_comes_in_at_cost_with_what_was_taken_on_it_and_what_is_left_to_attribute() {
    let got = stated(saw(json!({
        "depreciation_taken": "300.00", "convention": "half_year", "first_year_write_off": "100.00",
        "hours_before": "120", "attributed_before": "180.00",
    })))
    .unwrap();
    assert_eq!(balance(&got, Account::ToolsAtCost), "649.00");
    assert_eq!(balance(&got, Account::AccumulatedDepreciation), "-300.00");
    assert_eq!(balance(&got, Account::OpeningEquity), "-349.00");
    let moved: Vec<_> =
        got.movements.iter().map(|one| (one.kind, one.amount.to_string(), one.entry)).collect();
    assert_eq!(
        moved,
        [(MovementKind::Opening, "649.00".into(), Some(0)), (MovementKind::Removed, "-180.00".into(), None)]
    );
    let Some(Row::Tool(tool)) = got.rows.first() else { panic!("a tool") };
    let prior = tool.prior.unwrap();
    assert_eq!((prior.taken, prior.convention), (dollars("300.00"), Convention::HalfYear));
    assert_eq!(tool.hours_before, Decimal::from(120));
    ties(&got, &[]);
}

#[test]
fn a_tool_that_can_not_have_been_like_that_is_refused() {
    let refused = stated(saw(json!({
        "acquired_on": "2025-02-01", "depreciation_taken": "650.00", "first_year_write_off": "651.00",
    })));
    assert_eq!(
        findings(refused),
        [
            "/tool/acquired_on: it came on 2025-02-01, and the books begin on 2025-01-01",
            "/tool/depreciation_taken: depreciation of 650.00 was taken on a cost of 649.00",
            "/tool/first_year_write_off: the first-year write-off 651.00 is more than what was taken in all, 650.00",
        ]
    );
    assert_eq!(
        findings(stated(saw(json!({ "depreciation_taken": "1.00" })))),
        ["/tool/convention: depreciation was taken, and nothing says under which convention"]
    );
    assert_eq!(
        findings(stated(saw(json!({ "attributed_before": "600.01" })))),
        ["/tool/attributed_before: 600.01 is said to be used up already, and cost less salvage is 600.00"]
    );
    assert_eq!(
        findings(stated(saw(json!({ "origin": "loan" })))),
        ["/tool/cost: a tool of the origin loan has no cost in the books"]
    );
}

#[test]
fn a_lot_waits_on_the_shelf_or_was_deducted_when_it_was_paid() {
    let lot = json!({ "what": "lot", "lot": {
        "material": "oak board 20 mm", "quantity": "12.5", "unit": "m", "cost": "75.00", "acquired_on": "2024-11-02",
    } });
    let got = stated(lot.clone()).unwrap();
    assert_eq!(balance(&got, Account::MaterialsOnHand), "75.00");
    assert!(got.notes.is_empty(), "{:?}", got.notes);
    ties(&got, &[]);
    let mut incidental = books();
    incidental.timing = MaterialsTiming::WhenPaid;
    let got = write_in(&incidental, |pen| state(pen, &OpeningFacts::default(), &opening(lot))).unwrap();
    assert!(got.entries.is_empty());
    assert_eq!(got.notes, ["It was deducted when it was paid: nothing is posted."]);
    assert_eq!((got.movements[0].amount, got.movements[0].entry), (dollars("75.00"), None));
    assert!(matches!(&got.rows[..], [Row::Lot(lot)] if lot.standing == LotStanding::Expensed));
}

#[test]
fn only_a_resale_piece_of_known_cost_stands_in_the_books() {
    let piece = |purpose: &str, basis: Option<&str>| {
        let mut piece = json!({ "name": "old dresser", "purpose": purpose, "episode": episode(1) });
        if let Some(basis) = basis {
            piece["basis"] = json!(basis);
        }
        stated(json!({ "what": "piece", "piece": piece })).unwrap()
    };
    let stock = piece("resale", Some("80.00"));
    assert_eq!(balance(&stock, Account::PiecesForResale), "80.00");
    // No class: what was bought before is opening stock, not a purchase of the year.
    assert!(stock.entries[0].postings().iter().all(|one| one.class.is_none()));
    ties(&stock, &[]);
    for quiet in [piece("resale", None), piece("personal", Some("300.00")), piece("set", Some("40.00"))] {
        assert!(quiet.entries.is_empty() && quiet.movements.is_empty());
    }
    let unknown = piece("personal", None);
    assert!(matches!(&unknown.rows[..], [Row::Piece(piece)] if piece.basis == Basis::Unknown));
    assert!(unknown.notes.iter().any(|note| note.starts_with("Question to the preparer")));
}

#[test]
fn a_deal_says_what_is_still_to_come() {
    let deal = |paid: &str| {
        stated(json!({ "what": "deal", "deal": {
            "sponsor": party(1), "title": "Bracket shelf", "agreed_on": "2024-12-01", "amount": "1200.00",
            "paid_before": paid, "for": [{ "episode": episode(1) }],
        } }))
    };
    let got = deal("500.00").unwrap();
    assert_eq!(got.notes, ["Nothing is posted: 700.00 of 1200.00 is still to come."]);
    let paid_in_full = deal("1200.00").unwrap();
    assert_eq!(paid_in_full.notes, ["Nothing is posted: 0.00 of 1200.00 is still to come."]);
    assert_eq!(
        findings(deal("1200.01")),
        ["/deal/paid_before: 1200.01 is said to be paid already, and 1200.00 is agreed in all"]
    );
}

proptest! {
    #[test]
    fn a_tool_always_opens_in_balance(cost in 4_900_u32..5_000_000, taken in 0_u32..=100, used in 0_u32..=100) {
        let cents = |sum: u32| Decimal::new(sum.into(), 2);
        let used = (cost - 4_900) / 100 * used;
        let got = stated(saw(json!({
            "cost": cents(cost).to_string(), "depreciation_taken": cents(cost / 100 * taken).to_string(),
            "convention": "mid_quarter", "attributed_before": cents(used).to_string(),
        }))).unwrap();
        ties(&got, &[]);
        let left: Decimal = got.movements.iter().map(|one| one.amount.amount()).sum();
        prop_assert_eq!(left, cents(cost - used));
        prop_assert!(got.sources.iter().all(|one| one.side == Side::Cost));
        let at_cost = balance_of(&got.entries, Account::ToolsAtCost, usd()).unwrap();
        prop_assert_eq!(at_cost.amount(), cents(cost));
    }
}

// Pub. 538, Accrual Method, from memory: income of an earlier year is a receivable when the books begin.
#[test]
fn a_deal_invoiced_before_accrual_books_begin_stands_as_a_receivable_and_not_as_income() {
    let accrual = crate::rules::recording::BooksFacts {
        method: crate::rules::recording::AccountingMethod::Accrual,
        ..books()
    };
    let deal = |invoiced: &str| {
        asked::<NewOpening>(json!({ "date": "2025-01-01", "what": "deal", "deal": {
            "sponsor": party(1), "title": "Bracket shelf", "agreed_on": "2024-11-01", "amount": "1000.00",
            "paid_before": "300.00", "invoiced_before": invoiced } }))
    };
    let state_in = |facts: &crate::rules::recording::BooksFacts, body: &NewOpening| {
        write_in(facts, |pen| state(pen, &OpeningFacts::default(), body))
    };
    let got = state_in(&accrual, &deal("500.00")).unwrap();
    assert_eq!(balance(&got, Account::SponsorReceivables), "500.00");
    assert_eq!(balance(&got, Account::OpeningEquity), "-500.00");
    assert!(got.entries[0].postings().iter().all(|posting| posting.class.is_none()));
    assert!(state_in(&books(), &deal("500.00")).unwrap().entries.is_empty());
    let beyond = findings(state_in(&books(), &deal("700.01")));
    assert!(beyond[0].starts_with("/deal/invoiced_before: 300.00 is paid and 700.01 invoiced"), "{beyond:?}");
}

// IRC 179(b)(3), as in Pub. 946 ch. 2 (carryover of disallowed deduction), from memory.
#[test]
fn a_carry_over_is_stated_once_and_posts_nothing() {
    let body = || {
        asked::<NewOpening>(
            json!({ "date": "2025-01-01", "what": "section_179_carry_over", "amount": "850.00" }),
        )
    };
    let got = write(|pen| state(pen, &OpeningFacts::default(), &body())).unwrap();
    assert!(got.entries.is_empty() && got.sources.is_empty());
    assert!(matches!(&got.rows[..], [Row::CarryOver(carried)] if carried.tax_year == 2025));
    let stated = OpeningFacts { carried_on: Some("2025-01-01".parse().unwrap()), ..OpeningFacts::default() };
    let again = findings(write(|pen| state(pen, &stated, &body())));
    assert!(again[0].contains("was stated already, of 2025-01-01"), "{again:?}");
}

#[test]
fn a_tool_used_before_the_books_says_what_is_not_attributed_again_and_a_fresh_one_says_nothing() {
    let said = |more: Value| stated(saw(more)).unwrap().notes;
    let words =
        |notes: &[String]| notes.iter().any(|note| note.contains("belongs to episodes before these books"));
    assert!(words(&said(json!({ "attributed_before": "100.00" }))));
    assert!(!words(&said(json!({}))));
}

/// Figures of our own.
#[test]
fn a_tool_written_off_in_full_before_the_books_opens_at_nothing() {
    let got = stated(saw(json!({
        "depreciation_taken": "649.00", "convention": "half_year", "first_year_write_off": "649.00",
    })))
    .unwrap();
    assert_eq!(balance(&got, Account::ToolsAtCost), "649.00");
    assert_eq!(balance(&got, Account::AccumulatedDepreciation), "-649.00");
    assert_eq!(balance(&got, Account::OpeningEquity), "0.00");
}

#[test]
fn an_empty_lot_is_no_opening_position() {
    let lot = json!({ "material": "oak board 20 mm", "quantity": "0", "unit": "m", "cost": "75.00" });
    assert_eq!(findings(stated(json!({ "what": "lot", "lot": lot }))), ["/lot/quantity: the lot is empty"]);
}

#[test]
fn a_deal_may_be_invoiced_to_its_last_cent_before_the_books() {
    let deal = |invoiced: &str| {
        stated(json!({ "what": "deal", "deal": {
            "sponsor": party(1), "title": "Bracket shelf", "agreed_on": "2024-11-01", "amount": "1000.00",
            "paid_before": "300.00", "invoiced_before": invoiced } }))
    };
    let got = deal("700.00").unwrap();
    assert!(got.rows.iter().any(|row| matches!(row, Row::Invoice(one) if one.counts == dollars("700.00"))));
    assert!(deal("700.01").is_err());
}

#[test]
fn a_tool_that_cost_nothing_has_nothing_that_was_used_up_before() {
    let lent = stated(saw(json!({
        "cost": "0.00", "origin": "loan", "attributed_before": "10.00",
        "terms": { "name": "table saw", "method": "per_use_hour", "hours_expected": "400" },
    })));
    let refusal = lent.unwrap_err();
    let finding = refusal.findings().find(|one| one.pointer == "/tool/attributed_before").unwrap();
    let said = finding.said();
    assert_eq!(said.detail, "attributed_before says what was used up before, and the tool has no cost");
    assert_eq!(said.remedy, "leave attributed_before out");
}

// Invariant 8.
#[test]
fn nothing_opens_on_a_closed_day() {
    let lot = json!({ "material": "oak board 20 mm", "quantity": "12", "unit": "m", "cost": "75.00" });
    let deal = json!({ "sponsor": party(1), "title": "Bracket shelf", "agreed_on": "2024-11-01",
                       "amount": "1000.00", "paid_before": "300.00" });
    for body in [
        json!({ "what": "account", "account": bank().id, "balance": "812.40" }),
        json!({ "what": "account", "standing": "loans", "balance": "1000.00" }),
        json!({ "what": "lot", "lot": lot }),
        json!({ "what": "deal", "deal": deal }),
        saw(json!({})),
        json!({ "what": "section_179_carry_over", "amount": "850.00" }),
    ] {
        let account = body["account"].is_string().then(bank);
        let facts = OpeningFacts { account, ..OpeningFacts::default() };
        keeps_out_of_closed_days("2025-01-01", |pen, date| {
            let mut body = body.clone();
            body["date"] = json!(date);
            state(pen, &facts, &asked(body))
        });
    }
}

// Common practice, no source.
#[test]
fn a_deal_may_be_paid_in_full_before_the_books_and_not_beyond() {
    let paid = |sum: &str| {
        let deal = json!({ "title": "Bracket shelf", "sponsor": party(1), "agreed_on": "2024-10-01",
                           "amount": "1200.00", "paid_before": sum });
        stated(json!({ "what": "deal", "deal": deal }))
    };
    let whole = paid("1200.00").unwrap();
    assert!(whole.rows.iter().all(|row| !matches!(row, Row::Invoice(_))), "nothing was invoiced");
    assert_eq!(
        findings(paid("1200.01")),
        ["/deal/paid_before: 1200.01 is said to be paid already, and 1200.00 is agreed in all"]
    );
}

// Derived: cost less salvage, and not a cent more, may be used up before the books begin.
#[test]
fn all_that_a_tool_may_give_may_be_used_up_before_the_books() {
    assert!(stated(saw(json!({ "attributed_before": "600.00" }))).is_ok());
    assert!(
        findings(stated(saw(json!({ "attributed_before": "600.01" }))))[0]
            .contains("600.01 is said to be used up already, and cost less salvage is 600.00")
    );
}

#[test]
fn a_piece_from_before_the_books_is_asked_about_or_explained_only_where_there_is_reason_to() {
    let notes = |purpose: &str, basis: Value| {
        let mut piece = json!({ "name": "dresser", "purpose": purpose, "acquired_on": "2024-10-01" });
        if !basis.is_null() {
            piece["basis"] = basis;
        }
        stated(json!({ "what": "piece", "piece": piece })).unwrap().notes
    };
    let (asked, unposted) = (
        "Question to the preparer: nobody knows what the piece cost.",
        "Nothing is posted: its basis is kept for the day it is sold.",
    );
    assert!(notes("resale", json!("80.00")).is_empty());
    assert_eq!(notes("set", json!("80.00")), [unposted]);
    assert_eq!(notes("resale", Value::Null), [asked, unposted]);
}

#[test]
fn an_opening_balance_is_of_one_account_whether_of_money_or_another() {
    let said = ["/account: one account is needed: a money account or another"];
    assert_eq!(findings(of_account(bank(), json!({ "standing": "loans", "balance": "1.00" }))), said);
    assert_eq!(findings(stated(json!({ "what": "account", "balance": "1.00" }))), said);
}

// Pub. 551, property changed to business use: two bases where it was worth less than it had cost (from memory).
#[test]
fn a_basis_for_a_gain_is_of_what_was_private_before_and_no_less_than_its_cost() {
    let opened = |origin: &str, basis: &str| {
        stated(saw(json!({ "origin": origin, "basis_for_gain": basis }))).map(|got| match got.rows.first() {
            Some(Row::Tool(tool)) => (tool.cost, tool.basis_for_gain),
            _ => panic!("a tool"),
        })
    };
    for basis in ["649.00", "900.00"] {
        let bases = opened("converted_from_personal", basis).unwrap();
        assert_eq!(bases, (dollars("649.00"), dollars(basis)));
    }
    assert_eq!(
        findings(opened("converted_from_personal", "648.99")),
        [
            "/tool/basis_for_gain: a gain would be counted from 648.99, and it came in at 649.00, the lower of the two"
        ]
    );
    for basis in ["648.99", "649.00", "900.00"] {
        assert_eq!(
            findings(opened("bought", basis)),
            ["/tool/basis_for_gain: a basis for a gain is given apart, and the origin is bought"]
        );
    }
}

#[test]
fn a_tool_may_have_given_all_but_its_salvage_to_earlier_episodes() {
    let got = stated(saw(json!({ "attributed_before": "600.00" }))).unwrap();
    assert_eq!(
        got.notes,
        ["600.00 of its cost belongs to episodes before these books and is not attributed again."]
    );
}
