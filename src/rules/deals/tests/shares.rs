//! Invariant 5 of a sponsor's money: the episodes of a deal share it to the cent.

use super::invoices::accrual;
use super::*;
use crate::rules::trial::{any_shares, any_weights, by_shares, cents, cut_to_the_cent, given_to, hundredths};

/// A deal over as many episodes as there are weights.
fn over(weights: &[i64]) -> DealFacts {
    let objects = (1..).zip(weights);
    let objects =
        objects.map(|(number, weight)| (CostObject::Episode(episode(number)), Decimal::from(*weight)));
    DealFacts { objects: objects.collect(), ..deal("0") }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn an_instalment_and_what_the_agency_kept_of_it_are_shared_to_the_cent(
        gross in 2..120_000_i64, kept in 0..100_i64, weights in any_weights(), shares in any_shares(),
        own in any::<bool>(),
    ) {
        let agency = gross * kept / 200;
        let mut body = json!({ "gross": hundredths(gross), "kept_by_agency": hundredths(agency),
                               "net": hundredths(gross - agency) });
        // The instalment's own shares go before the deal's.
        let by = if own { &shares } else { &weights };
        if own {
            body["for"] = by_shares(&shares);
        }
        let got = came_in(&over(&weights), body).unwrap();
        ties(&got, &[]);
        cut_to_the_cent(cents(gross), by, &given_to(&got, Side::Income, by.len()))?;
        let fees = given_to(&got, Side::Fee, by.len());
        prop_assert_eq!(Money::sum(usd(), fees).unwrap(), cents(agency), "a fee follows its income");
    }

    #[test]
    fn an_invoice_of_accrual_books_is_shared_to_the_cent(gross in 1..120_000_i64, weights in any_weights()) {
        let body = json!({ "date": "2025-12-10", "what": "on publishing", "amount": hundredths(gross) });
        let got = write_in(&accrual(), |pen| invoice(pen, &over(&weights), &asked(body))).unwrap();
        ties(&got, &[]);
        cut_to_the_cent(cents(gross), &weights, &given_to(&got, Side::Income, weights.len()))?;
    }

    // What goes back leaves every instalment and every episode with no less than nothing.
    #[test]
    fn a_clawback_is_taken_to_the_cent_from_what_came_in(
        came in prop::collection::vec((1..40_000_i64, 0..40_000_i64), 1..4), percent in 1..=100_i64,
    ) {
        let all: i64 = came.iter().map(|(whole, _)| whole).sum();
        let back = (all * percent / 100).max(1);
        let mut facts = deal(&hundredths(all));
        facts.incomes = (1..).zip(&came).map(|(number, (whole, first))| {
            let first = first.min(whole);
            let parts = [(1, hundredths(*first)), (2, hundredths(whole - first))];
            income(number, "2026-01-10", &hundredths(*whole), &[(1, &parts[0].1), (2, &parts[1].1)])
        }).collect();
        let got = goes_back(&facts, &hundredths(back)).unwrap();
        let sum = |source| -> Decimal {
            got.movements.iter().filter(|one| one.source == source).map(|one| one.amount.amount()).sum()
        };
        let weights: Vec<i64> = came.iter().map(|(whole, _)| *whole).collect();
        let taken: Vec<Money> = facts.incomes.iter()
            .map(|one| Money::exact(-sum(one.source), usd()).unwrap()).collect();
        cut_to_the_cent(cents(back), &weights, &taken)?;
        for (income, taken) in facts.incomes.iter().zip(taken) {
            let given = got.attributions.iter().filter(|one| one.source == income.source);
            prop_assert_eq!(-given.map(|one| one.amount.amount()).sum::<Decimal>(), taken.amount());
            for (object, there) in &income.attributed {
                let of = got.attributions.iter().filter(|one| one.source == income.source && one.object == *object);
                let less: Decimal = of.map(|one| one.amount.amount()).sum();
                prop_assert!(there.amount() + less >= Decimal::ZERO);
            }
        }
    }
}
