//! Why a purchase is refused, in words.

use chrono::NaiveDate;

use crate::rules::ids::RecordId;
use crate::rules::money::Money;
use crate::rules::refusal::{Explain, Said};

/// Why a purchase is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum PurchaseFinding {
    DoesNotAddUp { lines: Money, tax: Money, delivery: Money, discount: Money, sum: Money, total: Money },
    PaymentsDoNotAddUp { paid: Money, total: Money },
    NotPaidByAnything,
    PaidTwoWays,
    PaidThoughLater,
    NothingToSpreadOver,
    DiscountTakesAll,
    TreatmentMissing,
    MoreThanOneThing,
    TreatmentOfAThing { thing: &'static str },
    ObjectsOfAThing { where_said: &'static str },
    ResaleWithoutPiece,
    ToolWithoutTerms,
    ClassOnlyForSetPieces,
    VehicleWithoutClass,
    RepairWithoutClass,
    BeforeTheToolCame { tool: String, came_on: NaiveDate },
    ToolLeft { tool: String, left_on: NaiveDate },
    StandardRateTaken { vehicle: String, year: i32 },
    PaidAlready,
    NothingToPay,
    BeforeThePurchase { bought: NaiveDate },
    NoSuchLine { line: usize, lines: usize },
    MoreThanBought { asked: Money, left: Money },
    MoreThanOnShelf { asked: rust_decimal::Decimal, left: rust_decimal::Decimal },
    BeforeItWasGiven { last: NaiveDate, date: NaiveDate },
    QuantityOnlyForStock,
    QuantityMissing,
    QuantityOfKept,
    NothingUsedThere,
    UsedOnlyWhereKept,
    GoesBackWhole { what: &'static str },
    NotPaidYet,
    DocumentTakenBack { by: RecordId },
}

impl Explain for PurchaseFinding {
    fn say(&self) -> Said {
        match self {
            Self::PaidAlready
            | Self::NothingToPay
            | Self::NotPaidYet
            | Self::GoesBackWhole { .. }
            | Self::DocumentTakenBack { .. } => self.conflict(),
            Self::DoesNotAddUp { lines, tax, delivery, discount, sum, total } => Said::invalid(
                format!(
                    "lines {lines} + tax {tax} + delivery {delivery} - discount {discount} come to {sum}, the total \
                     says {total}"
                ),
                "correct /total, a line, /tax, /delivery or /discount",
            ),
            Self::PaymentsDoNotAddUp { paid, total } => Said::invalid(
                format!("the payments come to {paid}, the total says {total}"),
                "correct /total or an amount of /paid",
            ),
            Self::NotPaidByAnything => Said::invalid(
                "nothing says what paid for it",
                "give paid_from, or paid with several accounts, or \"payment\": \"later\"",
            ),
            Self::PaidTwoWays => {
                Said::invalid("paid_from and paid are both given", "give paid_from alone, or paid alone")
            }
            Self::PaidThoughLater => Said::invalid(
                "it is to be paid later, and yet an account is named",
                "leave the account out and record the payment when it is made",
            ),
            Self::NothingToSpreadOver => Said::invalid(
                "tax, delivery or discount has no line with an amount to be spread over",
                "give at least one line with an amount",
            ),
            Self::DiscountTakesAll => Said::invalid(
                "a line would come to less than nothing after the discount",
                "correct /discount; what was free is a line of 0",
            ),
            Self::BeforeThePurchase { bought } => {
                Said::invalid(format!("that is before {bought}, the day of the purchase"), "correct the date")
            }
            other => other.about_a_line(),
        }
    }
}

impl PurchaseFinding {
    fn conflict(&self) -> Said {
        match self {
            Self::PaidAlready => {
                Said::conflict("the purchase was paid already", "take the other payment back first")
            }
            Self::NotPaidYet => Said::conflict(
                "the purchase is not paid yet, so nothing of it is in the books",
                "record its payment first, or take the invoice back",
            ),
            Self::DocumentTakenBack { by } => Said::conflict(
                format!("the document was taken back by the record {by}"),
                "name a document that stands, or leave it out",
            ),
            Self::GoesBackWhole { what } => Said::conflict(
                format!("{what} goes back whole"),
                "take the purchase back (POST /v1/entries/{number}/reversal) and record what stays",
            ),
            _ => Said::conflict(
                "the purchase was paid as it was recorded",
                "nothing is left to pay; correct it by taking it back",
            ),
        }
    }

    fn about_a_line(&self) -> Said {
        match self {
            Self::TreatmentMissing => Said::invalid(
                "the line does not say what it is to the tax office",
                "give treatments, such as [{\"as\": \"expense\", \"class\": \"supplies\"}] or [{\"as\": \"home_improvement\"}]",
            ),
            Self::MoreThanOneThing => Said::invalid(
                "the line goes to more than one of stock, tool, tools, piece, new_piece, repairs",
                "make a line of each",
            ),
            Self::TreatmentOfAThing { thing } => Said::invalid(
                format!("the line is {thing}, which has its own treatment"),
                "leave treatments out",
            ),
            Self::ObjectsOfAThing { where_said } => {
                Said::invalid(format!("the line is {where_said}"), "leave for out")
            }
            Self::ResaleWithoutPiece => Said::invalid(
                "the line is treated as resale, but no piece is named",
                "name the piece it went into (piece), or the piece it is (new_piece)",
            ),
            Self::ToolWithoutTerms => Said::invalid(
                "the line is treated as a tool, but the tool is not described",
                "give tool with its name and method",
            ),
            Self::ClassOnlyForSetPieces => Said::invalid(
                "a class of expense is given for a piece that is not a set piece",
                "leave class out, or give purpose set",
            ),
            Self::VehicleWithoutClass => Said::invalid(
                "a vehicle is named, but nothing of the line is an expense of class vehicle",
                "leave vehicle out, or treat the line as an expense of class vehicle",
            ),
            Self::RepairWithoutClass => Said::invalid(
                "a tool is named as repaired, but nothing of the line is an expense of class repairs",
                "treat the line as an expense of class repairs; what makes the tool better is an improvement (POST \
                 /v1/tools/{id}/improvements)",
            ),
            Self::BeforeTheToolCame { tool, came_on } => {
                Said::invalid(format!("{tool} came on {came_on}, later than the receipt"), "correct the date")
            }
            Self::ToolLeft { tool, left_on } => Said::conflict(
                format!("{tool} left on {left_on}, and is not repaired afterwards"),
                "correct the date, leave repairs out, or reverse the disposal first if it was a mistake",
            ),
            Self::StandardRateTaken { vehicle, year } => Said::invalid(
                format!("{vehicle} has trips at the standard rate in {year}, which covers its actual costs"),
                "leave this cost out (treat it as personal), or take the trips back",
            ),
            Self::MoreThanBought { asked, left } => Said::invalid(
                format!("{asked} is to come back, but only {left} is left of the line"),
                "give at most what is left",
            ),
            Self::MoreThanOnShelf { asked, left } => Said::invalid(
                format!(
                    "{} is to go back, but only {} is on the shelf that day",
                    asked.normalize(),
                    left.normalize()
                ),
                "give at most what is there, or bring back what was issued first",
            ),
            // What an object has on the later day it can not give back on the earlier one.
            Self::BeforeItWasGiven { last, date } => Said::conflict(
                format!(
                    "{date} is before {last}, the day on which something of the line was last given or went back"
                ),
                format!("give {last} or a later day"),
            ),
            other => other.about_what_goes_back(),
        }
    }

    fn about_what_goes_back(&self) -> Said {
        match self {
            Self::NoSuchLine { line, lines } => Said::invalid(
                format!("there is no line {line}; the purchase has {lines}, counted from 0"),
                "give the place of a line",
            ),
            Self::QuantityOnlyForStock => {
                Said::invalid("a quantity is given for a line that is not stock", "leave quantity out")
            }
            Self::QuantityOfKept => Said::invalid(
                "the goods stay, and yet a quantity goes back",
                "leave quantity and unit out, or leave goods out where they went back",
            ),
            Self::NothingUsedThere => Said::conflict(
                "nothing of this line was used there",
                "name where it was used (GET /v1/materials/{lot}/standing), or leave it out to spread the refund",
            ),
            Self::UsedOnlyWhereKept => Said::invalid(
                "it is said where the goods were used, and that is asked only of stock that did not go back",
                "leave episode, project and piece out, or say \"goods\": \"kept\"",
            ),
            _ => Said::invalid(
                "the line is stock, and no quantity is given",
                "give the quantity that goes back, or \"goods\": \"kept\" where only money came",
            ),
        }
    }
}
