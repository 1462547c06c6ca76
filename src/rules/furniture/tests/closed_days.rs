//! Invariant 8: on a closed day no piece comes, goes or changes hands.

use super::super::super::money::Share;
use super::super::super::rows::{PieceBack, PiecePurpose};
use super::super::super::trial::keeps_out_of_closed_days;
use super::super::{
    BusinessPurpose, DepositEnd, LeavingAsked, NewConsignment, NewConversion, NewDeposit, NewDepositEnd,
    NewFetching, NewLeaving, NewParts, NewPiece, NewPieceAndSale, NewPieceLot, NewRefund, NewSale, NewSwap,
    PieceFacts, acquire, acquire_lot, consign, convert, fetch_back, leave, refund, sell, sell_unrecorded,
    settle_deposit, swap, take_apart, take_deposit,
};
use super::buyers::{deposit, end, handed_over, shop_party, with_deposit};
use super::conversions::conversion;
use super::leaving::leaving;
use super::lots::{in_lot, lot, parts};
use super::refunds::back;
use super::swaps::swap_for;
use super::workshop::*;

const EVERY_PURPOSE: [PiecePurpose; 3] = [PiecePurpose::Resale, PiecePurpose::Set, PiecePurpose::Personal];

/// Bought on 1 March 2025 for 80.00.
fn bought(purpose: PiecePurpose) -> PieceFacts {
    let ask = NewPiece { purpose, ..for_resale("80.00", day(2025, 3, 1)) };
    facts_of(&Workshop::new().acquires(&ask).unwrap())
}

#[test]
fn no_piece_comes_on_a_closed_day() {
    for purpose in EVERY_PURPOSE {
        let ask = NewPiece { purpose, ..for_resale("80.00", day(2025, 3, 1)) };
        keeps_out_of_closed_days("2025-01-01", |pen, date| {
            acquire(pen, Some(bank()), &NewPiece { date, ..ask.clone() })
        });
    }
    let brought_in = owned_for_nothing(PiecePurpose::Set);
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        acquire(pen, None, &NewPiece { date, ..brought_in.clone() })
    });
    let together = lot("540.01", EVERY_PURPOSE.map(|purpose| in_lot("chair", purpose, "10.00")).to_vec());
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        acquire_lot(pen, bank(), &NewPieceLot { date, ..together.clone() })
    });
}

#[test]
fn no_piece_is_sold_or_swapped_on_a_closed_day() {
    for purpose in EVERY_PURPOSE {
        let (facts, sold) = (bought(purpose), sale("390.00", "39.00", day(2025, 4, 2)));
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            sell(pen, &facts, bank(), &NewSale { date, ..sold.clone() })
        });
        let swapped = swap_for("240.00", PiecePurpose::Resale);
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            swap(pen, &facts, None, &NewSwap { date, ..swapped.clone() })
        });
    }
    let both = NewPieceAndSale { basis_unknown: true, ..unrecorded("hall mirror", "60.00", day(2025, 4, 2)) };
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        sell_unrecorded(pen, None, bank(), &NewPieceAndSale { date, ..both.clone() })
    });
}

#[test]
fn no_piece_leaves_is_converted_or_taken_apart_on_a_closed_day() {
    for purpose in EVERY_PURPOSE {
        let (facts, lost) = (bought(purpose), leaving(LeavingAsked::Lost));
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            leave(pen, &facts, &NewLeaving { date, ..lost.clone() })
        });
        let apart = parts(day(2025, 4, 1), &[("frame", "30.00"), ("drawers", "20.00"), ("mirror", "0.01")]);
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            take_apart(pen, &facts, &NewParts { date, ..apart.clone() })
        });
    }
    let (own, put_to_use) = (bought(PiecePurpose::Personal), conversion(BusinessPurpose::Resale, "45.00"));
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        convert(pen, &own, &NewConversion { date, ..put_to_use.clone() })
    });
}

#[test]
fn no_buyer_pays_ahead_or_is_paid_back_on_a_closed_day() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let put_down = deposit("50.00");
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        take_deposit(pen, &facts, bank(), &NewDeposit { date, ..put_down.clone() })
    });
    let held = with_deposit(facts.clone(), "50.00");
    for how in [DepositEnd::Kept, DepositEnd::PaidBack] {
        let ends = end(how, Some("20.00"));
        keeps_out_of_closed_days("2025-04-01", |pen, date| {
            let paid_from = ends.paid_from.map(|_| bank());
            settle_deposit(pen, &held, paid_from, &NewDepositEnd { date, ..ends.clone() })
        });
    }
    let sold = sold_facts_of(&shop.sells(&facts, &sale("390.00", "39.00", day(2025, 4, 2))).unwrap());
    for (sum, piece) in [("390.00", PieceBack::CameBack), ("40.00", PieceBack::KeptByBuyer)] {
        let ask = back(sum, piece, day(2025, 4, 20));
        keeps_out_of_closed_days("2025-04-02", |pen, date| {
            refund(pen, &facts, Some(&sold), bank(), &NewRefund { date, ..ask.clone() })
        });
    }
}

#[test]
fn no_piece_goes_to_a_shop_or_comes_from_it_on_a_closed_day() {
    let facts = bought(PiecePurpose::Resale);
    let (date, commission) = (day(2025, 3, 1), Share::parse("33.3").unwrap());
    let handing = NewConsignment { date, shop: shop_party(), commission, note: None };
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        consign(pen, &facts, &NewConsignment { date, ..handing.clone() })
    });
    let there = handed_over(&facts, &Workshop::new().consigns(&facts, &handing).unwrap());
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        fetch_back(pen, &there, &NewFetching { date, note: None })
    });
}
