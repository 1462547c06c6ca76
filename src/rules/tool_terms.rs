//! The terms a tool is taken on: how its cost reaches episodes and what it is to the tax office. A tool comes in
//! by a purchase, a gift, an opening position or a record of its own, and all of them ask the same.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{SourceId, ToolId};
use super::money::{Amount, Exchange, Hours, Money, MoneyFinding, Share};
use super::named::named;
use super::recording::RecordFinding;
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{
    AttributionPlan, PriorDepreciation, PropertyType, RecoveryClass, TaxChoice, Tool, ToolOrigin, Vehicle,
    VehicleBody,
};
use super::vehicles::VehiclesAtRate;

#[cfg(test)]
mod tests;

/// A century: no tool is spread over more months than that.
pub const MONTHS_AT_MOST: u32 = 1_200;

named! {
    /// How a tool's cost reaches the episodes it is used on.
    pub enum PlanName {
        /// (cost - salvage) / expected hours, by logged hours; needs `hours_expected`.
        PerUseHour => "per_use_hour",
        /// The month's share over the month's uses; needs `months`.
        StraightLine => "straight_line",
        /// Equally over everything that has used it.
        EqualShare => "equal_share",
        /// By a percentage given with each use.
        Percentages => "percentages",
        /// In full over the first uses logged.
        ExpenseNow => "expense_now",
    }
}

impl PlanName {
    pub const fn of(plan: AttributionPlan) -> Self {
        match plan {
            AttributionPlan::PerUseHour { .. } => Self::PerUseHour,
            AttributionPlan::StraightLine { .. } => Self::StraightLine,
            AttributionPlan::EqualShare => Self::EqualShare,
            AttributionPlan::Percentages => Self::Percentages,
            AttributionPlan::ExpenseNow => Self::ExpenseNow,
        }
    }

    /// The plan of that name, where the figure that it goes by is there.
    pub fn with(self, hours_expected: Option<Decimal>, months: Option<u32>) -> Option<AttributionPlan> {
        Some(match self {
            Self::PerUseHour => AttributionPlan::PerUseHour { hours_expected: hours_expected? },
            Self::StraightLine => AttributionPlan::StraightLine { months: months? },
            Self::EqualShare => AttributionPlan::EqualShare,
            Self::Percentages => AttributionPlan::Percentages,
            Self::ExpenseNow => AttributionPlan::ExpenseNow,
        })
    }
}

/// A tool that is a vehicle: what its plate and its build say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct VehicleAsked {
    /// The gross vehicle weight on its plate, in pounds.
    #[schema(minimum = 1, maximum = 200_000)]
    pub gross_pounds: u32,
    pub body: VehicleBody,
}

/// What is asked of any tool, however it came.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolAsked {
    /// What it is called, such as "table saw".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The day it was ready for use in the business; the day it came where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_service_on: Option<NaiveDate>,
    /// The day of a binding contract to buy it, where that was earlier than the day it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contract_on: Option<NaiveDate>,
    /// What it will still be worth in the end; zero where it is left out. Never attributed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salvage: Option<Amount>,
    pub method: PlanName,
    /// With `per_use_hour`: the hours it is expected to run in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_expected: Option<Hours>,
    /// With `straight_line`: the months it is expected to last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub months: Option<u32>,
    /// The recovery class in years; 7 where it is left out. Computers and vehicles are 5: say so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<RecoveryClass>,
    /// Whether the law lists the property by type, as it does cameras; `ordinary` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub property: Option<PropertyType>,
    /// Where it is a vehicle: section 179 has a cap for heavy ones that carry people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<VehicleAsked>,
    /// The recorded tax choice; `by_law` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<TaxChoice>,
    /// With the choice `section_179`: the amount elected, at most the business share of the cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section_179: Option<Amount>,
    /// Business share of its use in percent; 100 where it is left out. Touches tax only, not the cost statement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub business_share: Option<Share>,
}

/// How a tool came, as the record that brought it knows.
#[derive(Clone, Copy, Debug)]
pub struct ToolArrival<'a> {
    pub origin: ToolOrigin,
    pub came_on: NaiveDate,
    /// In the books' base currency; what has no basis counts as zero whatever stands here.
    pub cost: Money,
    /// What it had cost the owner, where it was private before and came in at less.
    pub basis_for_gain: Option<Money>,
    /// What the invoice says for it and those that came for the same price.
    pub invoice_price: Option<Money>,
    /// How the salvage and the section 179 amount of the request reach the base currency.
    pub exchange: Exchange,
    /// Hours run before the books began, which have used up their part of `cost`.
    pub hours_before: Decimal,
    pub prior: Option<PriorDepreciation>,
    /// A vehicle among them is not taken in: its depreciation is an actual cost.
    pub at_rate: &'a VehiclesAtRate,
}

impl<'a> ToolArrival<'a> {
    /// A tool that comes new to the books in their own currency.
    pub fn new(origin: ToolOrigin, came_on: NaiveDate, cost: Money, at_rate: &'a VehiclesAtRate) -> Self {
        let (currency, base) = (cost.currency(), cost.currency());
        let exchange = Exchange { currency, base, rate: Decimal::ONE };
        Self {
            origin,
            came_on,
            cost,
            basis_for_gain: None,
            invoice_price: None,
            exchange,
            hours_before: Decimal::ZERO,
            prior: None,
            at_rate,
        }
    }
}

/// Why the terms of a tool are refused.
#[derive(Clone, Debug, PartialEq)]
pub enum ToolTermsFinding {
    HoursExpectedMissing,
    HoursExpectedZero,
    HoursExpectedRun { before: Decimal, expected: Decimal },
    MonthsMissing,
    MonthsOutOfReach { months: u32 },
    NotOfThisMethod { field: &'static str, method: PlanName },
    SalvageAboveCost { salvage: Money, cost: Money },
    ShareAboveHundred { share: Decimal },
    InServiceBeforeItCame { in_service_on: NaiveDate, came_on: NaiveDate },
    ContractAfterItCame { contract_on: NaiveDate, came_on: NaiveDate },
    StandardRateTaken { name: String, year: i32 },
    Section179Missing,
    Section179NotChosen { choice: TaxChoice },
    Section179NotBought { origin: ToolOrigin },
    Section179NotMainlyBusiness { share: Decimal },
    Section179AboveCost { amount: Money, most: Money },
}

impl Explain for ToolTermsFinding {
    fn say(&self) -> Said {
        match self {
            Self::HoursExpectedMissing => Said::invalid(
                "the method per_use_hour is given without the hours the tool will run",
                "give hours_expected, or choose another method",
            ),
            Self::HoursExpectedZero => {
                Said::invalid("hours_expected is zero", "give the hours the tool will run in all")
            }
            Self::HoursExpectedRun { before, expected } => Said::invalid(
                format!("the tool has run {before} hours already, and {expected} are expected in all"),
                "give hours_expected above the hours it has run",
            ),
            Self::MonthsMissing => Said::invalid(
                "the method straight_line is given without the months the tool will last",
                "give months, or choose another method",
            ),
            Self::MonthsOutOfReach { months } => {
                Said::invalid(format!("{months} months is no life of a tool"), "give 1 to 1200 months")
            }
            Self::NotOfThisMethod { field, method } => Said::invalid(
                format!("{field} is given, but the method is {method}, which does not use it"),
                format!("leave {field} out, or choose the method that goes by it"),
            ),
            Self::SalvageAboveCost { salvage, cost } => Said::invalid(
                format!("the salvage {salvage} is more than the cost {cost}"),
                "give what the tool will still be worth in the end, at most its cost",
            ),
            Self::ShareAboveHundred { share } => {
                Said::invalid(format!("{share} % is more than the whole"), "give 0 to 100")
            }
            Self::InServiceBeforeItCame { in_service_on, came_on } => Said::invalid(
                format!("the tool is in service on {in_service_on}, before it came on {came_on}"),
                "correct one of the two days",
            ),
            Self::ContractAfterItCame { contract_on, came_on } => Said::invalid(
                format!("the contract of {contract_on} is after the day the tool came, {came_on}"),
                "give the day the contract bound you, or leave contract_on out",
            ),
            Self::StandardRateTaken { name, year } => Said::conflict(
                format!(
                    "'{name}' has trips at the standard rate in {year}; a vehicle kept as a tool is depreciated, an \
                     actual cost that can not be taken beside the rate in one year"
                ),
                "leave the tool out while the vehicle goes by the rate; or reverse those trips (GET /v1/trips), or \
                 give in_service_on in a later year",
            ),
            _ => self.say_of_section_179(),
        }
    }
}

impl ToolTermsFinding {
    fn say_of_section_179(&self) -> Said {
        match self {
            Self::Section179NotChosen { choice } => Said::invalid(
                format!("an amount under section 179 is given, but the choice is {choice}"),
                "say \"choice\": \"section_179\", or leave the amount out",
            ),
            Self::Section179NotBought { origin } => Said::invalid(
                format!("section 179 is for what was bought; this tool's origin is {origin}"),
                "choose by_law or straight_line",
            ),
            Self::Section179NotMainlyBusiness { share } => Said::invalid(
                format!("section 179 needs more than half of the use in business; {share} % is given"),
                "choose by_law or straight_line, or correct business_share",
            ),
            Self::Section179AboveCost { amount, most } => Said::invalid(
                format!("{amount} under section 179 is more than the business share of the cost, {most}"),
                format!("give at most {most}"),
            ),
            _ => Said::invalid(
                "section 179 is chosen without the amount elected",
                "give section_179, the part of the cost to deduct at once",
            ),
        }
    }
}

impl ToolOrigin {
    /// What a tool of that origin counts for: its cost or value, and nothing where nothing was paid for it
    /// and its value was not taken into income.
    ///
    /// # Source
    /// Pub. 551 (basis of property received for services and of gifts), from memory; that a private gift
    /// has no basis here is our own cautious choice.
    pub fn basis_of(self, value: Money) -> Money {
        match self {
            Self::Bought | Self::ForPromotion | Self::ConvertedFromPersonal => value,
            Self::PersonalGift | Self::Loan => Money::zero(value.currency()),
        }
    }
}

/// The plan of that name with the one figure that it goes by.
/// # Errors
/// [`ToolTermsFinding`] at `/hours_expected` and `/months`, all of them at once.
pub fn plan_of(
    method: PlanName,
    hours_expected: Option<Hours>,
    months: Option<u32>,
) -> Result<AttributionPlan, Refusal> {
    let mut findings = Findings::new();
    if hours_expected.is_some() && method != PlanName::PerUseHour {
        let why = ToolTermsFinding::NotOfThisMethod { field: "hours_expected", method };
        findings.add(Refusal::new("/hours_expected", why));
    }
    if months.is_some() && method != PlanName::StraightLine {
        let why = ToolTermsFinding::NotOfThisMethod { field: "months", method };
        findings.add(Refusal::new("/months", why));
    }
    let plan = match method {
        PlanName::PerUseHour => findings
            .keep(positive_hours(hours_expected).at("/hours_expected"))
            .map(|hours_expected| AttributionPlan::PerUseHour { hours_expected }),
        PlanName::StraightLine => findings
            .keep(months_in_reach(months).at("/months"))
            .map(|months| AttributionPlan::StraightLine { months }),
        PlanName::EqualShare => Some(AttributionPlan::EqualShare),
        PlanName::Percentages => Some(AttributionPlan::Percentages),
        PlanName::ExpenseNow => Some(AttributionPlan::ExpenseNow),
    };
    findings.or_refuse()?;
    Ok(plan.unwrap_or(AttributionPlan::EqualShare))
}

fn positive_hours(hours: Option<Hours>) -> Result<Decimal, ToolTermsFinding> {
    match hours.map(Hours::decimal) {
        None => Err(ToolTermsFinding::HoursExpectedMissing),
        Some(hours) if hours.is_zero() => Err(ToolTermsFinding::HoursExpectedZero),
        Some(hours) => Ok(hours),
    }
}

fn months_in_reach(months: Option<u32>) -> Result<u32, ToolTermsFinding> {
    match months {
        None => Err(ToolTermsFinding::MonthsMissing),
        Some(months @ 1..=MONTHS_AT_MOST) => Ok(months),
        Some(months) => Err(ToolTermsFinding::MonthsOutOfReach { months }),
    }
}

impl ToolAsked {
    /// The tool on these terms.
    /// # Errors
    /// Every finding about the terms at once, at the fields' own names.
    pub fn tool(&self, id: ToolId, source: SourceId, arrival: &ToolArrival<'_>) -> Result<Tool, Refusal> {
        let mut findings = Findings::new();
        let cost = arrival.origin.basis_of(arrival.cost);
        if self.name.trim().is_empty() {
            findings.add(Refusal::new("/name", RecordFinding::NeedsText { what: "name" }));
        }
        let days = findings.keep(self.days(arrival.came_on));
        findings.keep(self.goes_by_actual_costs(cost, arrival).at("/name"));
        let salvage = findings.keep(self.salvage_of(cost, arrival.exchange).at("/salvage"));
        let plan = findings.keep(self.plan_from(arrival.hours_before));
        let business_share = findings.keep(self.business_share().at("/business_share"));
        let share = business_share.unwrap_or(Decimal::ONE_HUNDRED);
        let section_179 = findings.keep(self.section_179_of(cost, share, arrival));
        findings.or_refuse()?;
        let (acquired_on, in_service_on) = days.unwrap_or((arrival.came_on, arrival.came_on));
        let nothing = Money::zero(cost.currency());
        Ok(Tool {
            id,
            source,
            name: self.name.trim().to_owned(),
            origin: arrival.origin,
            acquired_on,
            in_service_on,
            cost,
            basis_for_gain: arrival.basis_for_gain.unwrap_or(cost),
            invoice_price: arrival.invoice_price.unwrap_or(cost),
            salvage: salvage.unwrap_or(nothing),
            plan: plan.unwrap_or(AttributionPlan::EqualShare),
            class: self.class.unwrap_or(RecoveryClass::Seven),
            property: self.property.unwrap_or(PropertyType::Ordinary),
            vehicle: self.vehicle.map(|VehicleAsked { gross_pounds, body }| Vehicle { gross_pounds, body }),
            choice: self.choice.unwrap_or(TaxChoice::ByLaw),
            section_179: section_179.unwrap_or(nothing),
            business_share: share,
            prior: arrival.prior,
            hours_before: arrival.hours_before,
        })
    }

    /// What has no basis is not depreciated, so that the rate can be taken beside it.
    /// # Source
    /// Pub. 463 ch. 4 (standard mileage rate or actual expenses, depreciation among them), from memory.
    fn goes_by_actual_costs(&self, cost: Money, arrival: &ToolArrival<'_>) -> Result<(), ToolTermsFinding> {
        let in_service_on = self.in_service_on.unwrap_or(arrival.came_on);
        match arrival.at_rate.first_since(&self.name, in_service_on.year()) {
            Some(year) if cost.is_positive() => {
                Err(ToolTermsFinding::StandardRateTaken { name: self.name.trim().to_owned(), year })
            }
            _ => Ok(()),
        }
    }

    /// The day that counts as acquisition, and the day it went into service.
    fn days(&self, came_on: NaiveDate) -> Result<(NaiveDate, NaiveDate), Refusal> {
        let mut findings = Findings::new();
        let in_service_on = self.in_service_on.unwrap_or(came_on);
        if in_service_on < came_on {
            let why = ToolTermsFinding::InServiceBeforeItCame { in_service_on, came_on };
            findings.add(Refusal::new("/in_service_on", why));
        }
        let acquired_on = self.contract_on.unwrap_or(came_on);
        if acquired_on > came_on {
            let why = ToolTermsFinding::ContractAfterItCame { contract_on: acquired_on, came_on };
            findings.add(Refusal::new("/contract_on", why));
        }
        findings.or_refuse()?;
        Ok((acquired_on, in_service_on))
    }

    fn salvage_of(&self, cost: Money, exchange: Exchange) -> Result<Money, Refusal> {
        let Some(asked) = self.salvage else { return Ok(Money::zero(cost.currency())) };
        let salvage = exchange.base_of(asked)?;
        if salvage.is_negative() {
            return Err(MoneyFinding::Negative { amount: salvage.amount() }.into());
        }
        if salvage.amount() > cost.amount() {
            return Err(ToolTermsFinding::SalvageAboveCost { salvage, cost }.into());
        }
        Ok(salvage)
    }

    fn plan_from(&self, hours_before: Decimal) -> Result<AttributionPlan, Refusal> {
        let plan = plan_of(self.method, self.hours_expected, self.months)?;
        match plan {
            AttributionPlan::PerUseHour { hours_expected } if hours_before >= hours_expected => {
                let why =
                    ToolTermsFinding::HoursExpectedRun { before: hours_before, expected: hours_expected };
                Err(Refusal::new("/hours_expected", why))
            }
            plan => Ok(plan),
        }
    }

    fn business_share(&self) -> Result<Decimal, ToolTermsFinding> {
        let share = self.business_share.map_or(Decimal::ONE_HUNDRED, Share::decimal);
        if share > Decimal::ONE_HUNDRED {
            return Err(ToolTermsFinding::ShareAboveHundred { share });
        }
        Ok(share)
    }

    /// # Source
    /// IRC section 179(d) and Pub. 946 ch. 2: bought, and used more than half in business; from memory.
    fn section_179_of(
        &self,
        cost: Money,
        share: Decimal,
        arrival: &ToolArrival<'_>,
    ) -> Result<Money, Refusal> {
        let choice = self.choice.unwrap_or(TaxChoice::ByLaw);
        let asked = match (choice, self.section_179) {
            (TaxChoice::Section179, Some(asked)) => asked,
            (TaxChoice::Section179, None) => {
                return Err(Refusal::new("/section_179", ToolTermsFinding::Section179Missing));
            }
            (_, None) => return Ok(Money::zero(cost.currency())),
            (choice, Some(_)) => {
                return Err(Refusal::new("/section_179", ToolTermsFinding::Section179NotChosen { choice }));
            }
        };
        if arrival.origin != ToolOrigin::Bought {
            let why = ToolTermsFinding::Section179NotBought { origin: arrival.origin };
            return Err(Refusal::new("/choice", why));
        }
        if share <= Decimal::from(50) {
            let why = ToolTermsFinding::Section179NotMainlyBusiness { share };
            return Err(Refusal::new("/choice", why));
        }
        let amount = arrival.exchange.base_of(asked).at("/section_179")?;
        if !amount.is_positive() {
            let why = MoneyFinding::NotPositive { amount: amount.amount() };
            return Err(Refusal::new("/section_179", why));
        }
        let most = cost.portion(share, Decimal::ONE_HUNDRED)?;
        if amount.amount() > most.amount() {
            return Err(Refusal::new("/section_179", ToolTermsFinding::Section179AboveCost { amount, most }));
        }
        Ok(amount)
    }
}
