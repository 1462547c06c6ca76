use proptest::prelude::*;

use super::*;

fn factor(text: &str) -> Factor {
    Factor::parse(text).unwrap()
}

fn dec(text: &str) -> Decimal {
    text.parse().unwrap()
}

// Common practice, no source.
#[test]
fn a_factor_is_a_number_a_decimal_or_a_fraction_above_zero_in_lowest_terms() {
    for (text, said) in
        [("12", "12"), ("1250/381", "1250/381"), ("24/36", "2/3"), ("0.125", "1/8"), ("2.5/5", "1/2")]
    {
        assert_eq!(factor(text).to_string(), said);
        assert_eq!(factor(said), factor(text), "what is shown reads back");
    }
    let nonsense =
        ["", "0", "-1", "+1", "1/0", "1/", "/2", "1.", ".5", "01", "1/02", "1e3", "1 2", "1/2/3", "0.0", "a"];
    for text in nonsense {
        assert_eq!(Factor::parse(text), None, "{text}");
    }
    assert!(Factor::parse("999999999999999999").is_some());
    assert!(Factor::parse("1000000000000000000").is_none(), "nineteen digits");
    assert!(Factor::parse("1/999999999999999999").is_some());
    assert!(Factor::parse("0.5/999999999999999999").is_none());
}

// A US liquid gallon is 231 cubic inches of 2.54 cm (NIST Handbook 44, Appendix C; from memory).
#[test]
fn a_gallon_of_paint_is_exactly_eight_pints_and_so_many_litres() {
    let kept = |factor| KeptIn { unit: "pint".to_owned(), factor };
    let pints = kept_in("gallon", dec("2.5"), Some(&kept(factor("8")))).unwrap();
    assert_eq!((pints.unit.as_str(), pints.quantity), ("pint", dec("20")));
    assert_eq!(factor("3.785411784").times(dec("1000")).ok(), Some(dec("3785.411784")));
    assert!(matches!(factor("3.785411784").times(dec("1")), Err(OffScale::NotExact)));
}

// Derived: a third of a metre has no end in decimals.
#[test]
fn a_third_that_comes_out_is_taken_and_one_that_does_not_is_refused_and_never_rounded() {
    assert_eq!(factor("1/3").times(dec("6")).ok(), Some(dec("2")));
    assert_eq!(factor("1250/381").times(dec("3.81")).ok(), Some(dec("12.5")));
    let refusal = kept_in("foot", dec("1"), Some(&KeptIn { unit: "yard".to_owned(), factor: factor("1/3") }));
    let said = refusal.unwrap_err();
    let finding = said.findings().next().unwrap();
    assert_eq!(finding.pointer, "/kept_in/factor");
    assert_eq!(
        finding.said().detail,
        "1 foot at 1/3 yard each do not come out in six decimals of a yard, and nothing is rounded"
    );
    assert!(finding.said().remedy.contains("finer unit"));
    assert!(matches!(factor("999999999").times(dec("999999999999")), Err(OffScale::OutOfReach)));
}

// Common practice, no source.
#[test]
fn everything_wrong_with_the_units_is_said_at_once() {
    let asked = KeptIn { unit: " ".to_owned(), factor: factor("1/3") };
    let refusal = kept_in("", dec("1"), Some(&asked)).unwrap_err();
    let pointers: Vec<_> = refusal.findings().map(|one| one.pointer.as_str()).collect();
    assert_eq!(pointers, ["/unit", "/kept_in/unit", "/kept_in/factor"]);
    let same = KeptIn { unit: "box".to_owned(), factor: factor("12") };
    let refusal = kept_in("box", dec("1"), Some(&same)).unwrap_err().to_string();
    assert!(refusal.contains("bought by the box and would be kept in the same"), "{refusal}");
}

proptest! {
    #[test]
    fn a_quantity_there_and_back_by_a_factor_is_what_it_was(
        units in 0..1_000_000_000_i64, over in 1..1_000_000_u64, under in 1..1_000_000_u64,
    ) {
        let there = Factor::parse(&format!("{over}/{under}")).unwrap();
        let asked = Fraction::of(Decimal::new(units, 6)).unwrap();
        let back = asked.times(there).unwrap().divided_by(there).unwrap();
        prop_assert_eq!(back, asked);
        prop_assert_eq!(back.minus(asked), Some(Fraction::ZERO));
        if let Ok(own) = there.times(Decimal::new(units, 6)) {
            let (own, under) = (own.checked_mul(Decimal::from(under)), Decimal::from(over) * Decimal::new(units, 6));
            prop_assert_eq!(own, Some(under));
        }
    }
}

// Common practice, no source.
#[test]
fn a_sign_below_the_line_or_a_nineteenth_digit_behind_the_point_makes_no_factor() {
    assert_eq!(Factor::parse("1/+5"), None, "a sign");
    assert_eq!(Factor::parse("1.0000000000000000000"), None, "nineteen digits behind the point");
    assert_eq!(factor("1.000000000000000000"), Factor::ONE, "eighteen are read");
}

// What is shown of a factor reads back, and a nineteenth digit would not.
#[test]
fn a_factor_has_no_more_than_eighteen_digits_below_the_line_however_it_is_written() {
    assert_eq!(factor("0.00000000000000001").to_string(), "1/100000000000000000");
    assert_eq!(Factor::parse("0.000000000000000001"), None, "nineteen digits below the line");
}

#[test]
fn nothing_is_asked_for_any_more_when_the_fraction_left_is_nothing() {
    let asked = Fraction::of(dec("2.5")).unwrap();
    assert!(!asked.is_zero());
    assert!(asked.minus(asked).unwrap().is_zero());
}
