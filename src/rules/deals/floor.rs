//! The price floor: what a sponsor must pay so that an episode pays its owner.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rules::money::{Amount, Currency, Hours, Money, MoneyFinding, Share};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};

/// What the floor is worked out from. Goods do not count: they pay nobody's hours.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FloorAsked {
    /// Budgeted net cost of the episode.
    pub net_cost: Amount,
    /// The owner's own hours.
    pub own_hours: Hours,
    /// What an hour should leave the owner after tax.
    pub pay_per_hour: Amount,
    /// What is set aside of that pay for tax, in percent; 0 where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_set_aside: Option<Share>,
    /// What an agency keeps of the price, in percent; 0 where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agency_share: Option<Share>,
    /// Other cash income expected from the episode.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_income: Option<Amount>,
    /// The books' own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
}

/// The answer; nothing is recorded.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Floor {
    /// The lowest gross price; zero where the episode pays for itself.
    pub floor: Money,
    pub currency: Currency,
    /// How it comes about, in words.
    pub notes: Vec<String>,
}

/// Why a floor can not be worked out.
#[derive(Clone, Debug, PartialEq)]
pub enum FloorFinding {
    NothingLeft { share: Decimal },
}

impl Explain for FloorFinding {
    fn say(&self) -> Said {
        match self {
            Self::NothingLeft { share } => {
                Said::invalid(format!("{share} % leaves nothing of the price"), "give less than 100")
            }
        }
    }
}

/// F = (C + H r / (1 - t) - other) / (1 - a), rounded up to the minor unit, never below zero.
///
/// C is the budgeted net cost, H the own hours, r the pay for an hour, t the tax set aside, a the agency's share.
/// The fraction is taken once, so that nothing is rounded on the way.
/// # Errors
/// [`FloorFinding::NothingLeft`] for shares of 100 % and more; amounts that are too large or negative.
/// # Source
/// Common practice, no source; the formula is our own.
pub fn floor(asked: &FloorAsked, base: Currency) -> Result<Floor, Refusal> {
    let currency = asked.currency.unwrap_or(base);
    let mut findings = Findings::new();
    let cost = findings.keep(asked.net_cost.money(currency).at("/net_cost"));
    let pay = findings.keep(asked.pay_per_hour.not_negative(currency).at("/pay_per_hour"));
    let nothing = Money::zero(currency);
    let other = asked.other_income.map_or(Ok(nothing), |other| other.not_negative(currency));
    let other = findings.keep(other.at("/other_income"));
    let after_tax = findings.keep(left_of(asked.tax_set_aside).at("/tax_set_aside"));
    let after_agency = findings.keep(left_of(asked.agency_share).at("/agency_share"));
    findings.or_refuse()?;
    let (cost, pay) = (cost.unwrap_or(nothing), pay.unwrap_or(nothing));
    let hundred = Decimal::ONE_HUNDRED;
    let (after_tax, after_agency) = (after_tax.unwrap_or(hundred), after_agency.unwrap_or(hundred));
    let short = cost.minus(other.unwrap_or(nothing))?.amount();
    let exact =
        Fraction { short, pay: pay.amount(), hours: asked.own_hours.decimal(), after_tax, after_agency };
    let floor = Money::exact(exact.rounded_up(currency).ok_or(MoneyFinding::TooLarge)?, currency)?;
    let note = format!(
        "{cost} of cost and {} hours at {pay}, {after_tax} % of which stays after tax, need {floor} before the \
         agency, which leaves {after_agency} % of it.",
        asked.own_hours
    );
    Ok(Floor {
        floor,
        currency,
        notes: vec![note, "Goods do not count: they pay nobody's hours.".to_owned()],
    })
}

/// What a share leaves of a hundred.
fn left_of(share: Option<Share>) -> Result<Decimal, FloorFinding> {
    let share = share.map_or(Decimal::ZERO, Share::decimal);
    if share >= Decimal::ONE_HUNDRED {
        return Err(FloorFinding::NothingLeft { share });
    }
    Ok(Decimal::ONE_HUNDRED - share)
}

struct Fraction {
    short: Decimal,
    pay: Decimal,
    hours: Decimal,
    after_tax: Decimal,
    after_agency: Decimal,
}

impl Fraction {
    /// None where the digits do not suffice.
    fn rounded_up(&self, currency: Currency) -> Option<Decimal> {
        let hundred = Decimal::ONE_HUNDRED;
        let wages = self.pay.checked_mul(self.hours)?.checked_mul(hundred)?;
        let above = self.short.checked_mul(self.after_tax)?.checked_add(wages)?.checked_mul(hundred)?;
        let below = self.after_tax.checked_mul(self.after_agency)?;
        if above <= Decimal::ZERO {
            return Some(Decimal::ZERO);
        }
        let quotient = above.checked_div(below)?;
        let digits = currency.minor_digits();
        let candidate = quotient.round_dp_with_strategy(digits, RoundingStrategy::ToPositiveInfinity);
        // The quotient itself is cut to 28 digits: what was cut must not let the price fall short.
        if candidate.checked_mul(below)? < above {
            return candidate.checked_add(currency.minor_unit());
        }
        Some(candidate)
    }
}
