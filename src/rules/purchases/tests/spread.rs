//! Invariant 5 of a receipt: what is spread over its lines, and what is bought in one line, adds up to the cent.

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;

fn moved(recording: &Recording, source: crate::rules::ids::SourceId) -> Decimal {
    let of = recording.movements.iter().filter(|one| one.source == source);
    of.map(|one| one.amount.amount()).sum()
}

fn line(amount: i64, shares: &[i64], business: i64) -> serde_json::Value {
    json!({ "text": "hinges", "amount": hundredths(amount), "for": by_shares(shares), "treatments": [
        { "as": "expense", "class": "supplies", "share": hundredths(business) },
        { "as": "personal", "share": hundredths(10_000 - business) },
    ] })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn what_was_paid_is_what_the_lines_cost_whatever_is_spread_over_them(
        lines in prop::collection::vec((1..50_000_i64, 1..10_000_i64), 1..6),
        shares in any_shares(),
        (tax, delivery, off) in (0..20_000_i64, 0..20_000_i64, 0..=100_i64),
        rate in prop::option::of(1..3_000_000_i64),
    ) {
        let sum: i64 = lines.iter().map(|(amount, _)| amount).sum();
        let discount = sum * off / 100;
        let total = sum + tax + delivery - discount;
        let of_line = lines.iter().map(|(amount, business)| line(*amount, &shares, *business));
        let mut new = receipt(of_line.collect(), &hundredths(total));
        (new.tax, new.delivery) = (Some(amount(&hundredths(tax))), Some(amount(&hundredths(delivery))));
        new.discount = Some(amount(&hundredths(discount)));
        if let Some(rate) = rate {
            new.currency = Some(Currency::find("EUR").unwrap());
            new.rate = Some(serde_json::from_value(json!(Decimal::new(rate, 6).to_string())).unwrap());
        }
        let got = bought_now(&new).unwrap();
        ties(&got, &[]);
        let cost: Decimal = got.movements.iter().map(|one| one.amount.amount()).sum();
        prop_assert_eq!(dollars(&balance(&got, Account::Money(bank().id))).amount(), -cost);
        if rate.is_none() {
            prop_assert_eq!(cost, Decimal::new(total, 2));
        }
        for (source, (line, _)) in got.sources.iter().zip(&lines) {
            let cost = moved(&got, source.id);
            let given = got.attributions.iter().filter(|one| one.source == source.id);
            prop_assert_eq!(given.map(|one| one.amount.amount()).sum::<Decimal>(), cost);
            // Three things are spread, and each leaves a line less than a cent from its part.
            let exact = Decimal::new(line * total, 2) / Decimal::from(sum);
            prop_assert!(rate.is_some() || (cost - exact).abs() < Decimal::new(3, 2), "{} for {}", cost, exact);
        }
    }

    #[test]
    fn tools_bought_in_one_line_share_its_price_by_their_values(price in 1..5_000_000_i64, values in any_weights()) {
        let tool = |(number, value): (usize, &i64)| {
            let name = format!("plane no. {number}");
            json!({ "fair_value": hundredths(*value), "tool": { "name": name, "method": "equal_share" } })
        };
        let tools: Vec<_> = values.iter().enumerate().map(tool).collect();
        let line = json!({ "text": "a chest of planes", "amount": hundredths(price), "tools": tools });
        let got = bought_now(&receipt(json!([line]), &hundredths(price))).unwrap();
        ties(&got, &[]);
        let costs = got.rows.iter().filter_map(|row| if let Row::Tool(tool) = row { Some(tool.cost) } else { None });
        cut_to_the_cent(cents(price), &values, &costs.collect::<Vec<_>>())?;
        prop_assert_eq!(balance(&got, Account::ToolsAtCost), hundredths(price));
    }
}
