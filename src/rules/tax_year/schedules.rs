//! The schedules behind and beside the form: stock, the home, private things sold, miles, goods received, and what
//! is not deducted.

mod goods;
mod stock;

pub use goods::{GiftRow, GiftSchedule, PersonalSale, PersonalSales};
pub use stock::{HomeRow, HomeSchedule, InventorySchedule, MileageRow, MileageSchedule, StockChange};

pub(super) use goods::{gifts, personal_sales};
pub(super) use stock::{home, inventory, mileage};

use serde::Serialize;
use utoipa::ToSchema;

use super::super::journal::TaxClass;
use super::super::money::{Money, MoneyFinding};
use super::facts::YearFacts;
use super::form::postings;

/// A sum beside the form.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BesideTheForm {
    pub label: String,
    pub amount: Money,
    pub says: String,
    pub drill_down: Option<String>,
}

/// What was paid or lost but is not deducted.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(super) fn not_deducted(
    facts: &YearFacts,
    personal: &PersonalSales,
) -> Result<Vec<BesideTheForm>, MoneyFinding> {
    let meals = facts.of_classes(&[TaxClass::Meals])?;
    let half = Money::rounded(meals.amount() / rust_decimal::Decimal::TWO, meals.currency())?;
    let mut rows = Vec::new();
    if !meals.is_zero() {
        rows.push(BesideTheForm {
            label: "Meals, the half that is not deducted".to_owned(),
            amount: meals.minus(half)?,
            says: "half of business meals is deducted, tax and tip included (IRC 274(n), seen for 2024)"
                .to_owned(),
            drill_down: Some(postings(facts, &[TaxClass::Meals])),
        });
    }
    if personal.losses_not_deducted.is_positive() {
        rows.push(BesideTheForm {
            label: "Losses on private things sold".to_owned(),
            amount: personal.losses_not_deducted,
            says: "never deducted, and never set off against a gain (FS-2023-06, seen)".to_owned(),
            drill_down: Some(format!("/v1/tax-years/{}/summary#personal_sales", facts.year())),
        });
    }
    Ok(rows)
}

/// What belongs to the owner and not to the business's form.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(super) fn off_the_form(facts: &YearFacts) -> Result<Vec<BesideTheForm>, MoneyFinding> {
    let said = [
        (TaxClass::HomeImprovement, "Home improvements", "adds to the home's basis; see the schedule"),
        (TaxClass::HomeRepair, "Home repairs", "neither deducted nor added to the home's basis"),
        (TaxClass::Personal, "Personal items", "the owner's own"),
        (
            TaxClass::PersonalPropertySale,
            "Private things sold",
            "not income of the business; see the schedule",
        ),
        (
            TaxClass::BusinessPropertySale,
            "Business property sold, as the journal has it",
            "reckoned there against what a tool stands at before the year's depreciation is posted; Form 4797 goes by \
             the schedule",
        ),
        (TaxClass::OwnerTax, "Tax paid by the owner or withheld", "counts against the owner's tax"),
    ];
    let mut rows = Vec::new();
    for (class, label, says) in said {
        let amount = facts.of_classes(&[class])?;
        if !amount.is_zero() {
            let sold = matches!(class, TaxClass::PersonalPropertySale | TaxClass::BusinessPropertySale);
            let amount = if sold { amount.negated() } else { amount };
            rows.push(BesideTheForm {
                label: label.to_owned(),
                amount,
                says: says.to_owned(),
                drill_down: Some(postings(facts, &[class])),
            });
        }
    }
    Ok(rows)
}
