use super::*;
use crate::rules::trial::{dollars, episode};

// Common practice, no source.
#[test]
fn what_goes_back_of_an_income_follows_its_shares_and_nothing_follows_an_income_of_nothing() {
    let object = CostObject::Episode(episode(1));
    let of =
        |part: &str, whole: &str| split_like(dollars("10.00"), &[(object, dollars(part))], dollars(whole));
    assert_eq!(of("30.00", "40.00").unwrap(), [(object, dollars("7.50"))]);
    assert_eq!(of("0.00", "0.00").unwrap(), []);
    assert_eq!(split_like(dollars("10.00"), &[], dollars("40.00")).unwrap(), []);
}
