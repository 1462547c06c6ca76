//! What a cost is to the tax office: the second of the two questions asked of every purchase line.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::money::Share;
use super::named::named;
use super::refusal::{Explain, Refusal, Said};

#[cfg(test)]
mod tests;

/// What one share of a cost is to the tax office.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Treatment {
    Expense(ExpenseClass),
    Resale,
    Tool,
    HomeImprovement,
    HomeRepair,
    Personal,
}

named! {
    /// What a cost is to the tax office; an expense names its class beside it.
    pub enum TreatmentName {
        Expense => "expense",
        /// Part of what something that will be sold costs: deducted when it is sold.
        Resale => "resale",
        /// Used on many episodes, and written off over years or at once, as the choices for it say.
        Tool => "tool",
        /// Adds to the basis of the owner's home; not deducted.
        HomeImprovement => "home_improvement",
        /// Keeps the owner's home as it was; not deducted.
        HomeRepair => "home_repair",
        /// The owner's own use; not deducted.
        Personal => "personal",
    }
}

/// One treatment of a request, without a share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TreatmentAsked {
    #[serde(rename = "as")]
    pub name: TreatmentName,
    /// With `expense` only: which class of expense.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<ExpenseClass>,
}

/// One treatment of a request with its share of the line; the shares of a line total 100.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TreatmentShare {
    #[serde(rename = "as")]
    pub name: TreatmentName,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<ExpenseClass>,
    /// Percentage of the line; 100 where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<Share>,
}

/// What can be wrong with a treatment.
#[derive(Clone, Debug, PartialEq)]
pub enum TreatmentFinding {
    ClassMissing,
    ClassWithoutExpense { name: TreatmentName },
    DepreciationIsNotBought,
}

impl Explain for TreatmentFinding {
    fn say(&self) -> Said {
        match self {
            Self::ClassMissing => Said::invalid(
                "an expense is given without its class",
                "give class, such as supplies, software or travel",
            ),
            Self::ClassWithoutExpense { name } => Said::invalid(
                format!("a class of expense is given, but the line is treated as {name}"),
                "leave class out, or say \"as\": \"expense\"",
            ),
            Self::DepreciationIsNotBought => Said::invalid(
                "depreciation and small tools are worked out at year's end, not bought",
                "say \"as\": \"tool\" and record the tool",
            ),
        }
    }
}

impl Treatment {
    /// # Errors
    /// [`TreatmentFinding`] where the class does not fit, at `/class`.
    pub fn of(name: TreatmentName, class: Option<ExpenseClass>) -> Result<Self, Refusal> {
        let plain = match (name, class) {
            (TreatmentName::Expense, None) => {
                return Err(Refusal::new("/class", TreatmentFinding::ClassMissing));
            }
            (TreatmentName::Expense, Some(ExpenseClass::Depreciation | ExpenseClass::SmallTools)) => {
                return Err(Refusal::new("/class", TreatmentFinding::DepreciationIsNotBought));
            }
            (TreatmentName::Expense, Some(class)) => return Ok(Self::Expense(class)),
            (_, Some(_)) => {
                return Err(Refusal::new("/class", TreatmentFinding::ClassWithoutExpense { name }));
            }
            (TreatmentName::Resale, None) => Self::Resale,
            (TreatmentName::Tool, None) => Self::Tool,
            (TreatmentName::HomeImprovement, None) => Self::HomeImprovement,
            (TreatmentName::HomeRepair, None) => Self::HomeRepair,
            (TreatmentName::Personal, None) => Self::Personal,
        };
        Ok(plain)
    }

    pub const fn name(self) -> TreatmentName {
        match self {
            Self::Expense(_) => TreatmentName::Expense,
            Self::Resale => TreatmentName::Resale,
            Self::Tool => TreatmentName::Tool,
            Self::HomeImprovement => TreatmentName::HomeImprovement,
            Self::HomeRepair => TreatmentName::HomeRepair,
            Self::Personal => TreatmentName::Personal,
        }
    }

    /// Its name in the database: `expense:supplies`, `home_improvement`.
    pub fn code(self) -> String {
        match self {
            Self::Expense(class) => format!("expense:{class}"),
            other => other.name().as_str().to_owned(),
        }
    }

    pub fn of_code(code: &str) -> Option<Self> {
        match code.split_once(':') {
            Some(("expense", class)) => ExpenseClass::named(class).map(Self::Expense),
            Some(_) => None,
            None => Self::of(TreatmentName::named(code)?, None).ok(),
        }
    }

    /// The account to debit and the class to label it with. What a resale piece takes up is named by
    /// `resale_class`: the piece itself, its materials, its labour.
    pub fn books_to(self, resale_class: TaxClass) -> (Account, Option<TaxClass>) {
        match self {
            Self::Expense(class) => (Account::Expense(class), Some(class.tax_class())),
            Self::Resale => (Account::PiecesForResale, Some(resale_class)),
            Self::Tool => (Account::ToolsAtCost, None),
            Self::HomeImprovement => (Account::Draw(Draw::HomeImprovements), Some(TaxClass::HomeImprovement)),
            Self::HomeRepair => (Account::Draw(Draw::HomeRepairs), Some(TaxClass::HomeRepair)),
            Self::Personal => (Account::Draw(Draw::PersonalItems), Some(TaxClass::Personal)),
        }
    }
}

impl From<Treatment> for TreatmentAsked {
    /// As a request would say it.
    fn from(treatment: Treatment) -> Self {
        let class = match treatment {
            Treatment::Expense(class) => Some(class),
            _ => None,
        };
        Self { name: treatment.name(), class }
    }
}

impl TreatmentAsked {
    /// # Errors
    /// As [`Treatment::of`].
    pub fn treatment(self) -> Result<Treatment, Refusal> {
        Treatment::of(self.name, self.class)
    }
}

impl TreatmentShare {
    /// # Errors
    /// As [`Treatment::of`].
    pub fn treatment(self) -> Result<Treatment, Refusal> {
        Treatment::of(self.name, self.class)
    }
}
