//! Deals with sponsors: what was agreed, each instalment that comes in on it, what goes back, each promise kept, and
//! the price below which an episode does not pay.

mod agree;
mod clawback;
mod floor;
mod instalment;
mod invoice;
mod keep;
mod labels;
mod standing;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::{RecordId, SourceId};
use super::money::{Currency, Money};
use super::objects::split_over_objects;
use super::recording::CostObject;
use super::refusal::{Explain, Refusal, Said};
use super::rows::Deal;

pub use agree::{InstalmentAsked, NewDeal, PromiseAsked, agree};
pub use clawback::{NewClawback, claw_back};
pub use floor::{Floor, FloorAsked, FloorFinding, floor};
pub use instalment::{Beyond, NewInstalment, receive};
pub use invoice::{InvoiceFacts, NewInvoice, invoice};
pub use keep::{NewPromiseKept, PromiseFacts, PromiseStanding, keep_promise};
pub use labels::DealLabels;
pub use standing::{
    DealStanding, DealStandingFacts, InstalmentOpen, InvoiceOpen, PromiseDue, standing, still_open,
};

/// What the rules must know of a deal that money moves on.
#[derive(Clone, Debug)]
pub struct DealFacts {
    pub deal: Deal,
    pub record: RecordId,
    /// What came in on it so far, gross, with what was paid before the books began and less what went back; in the
    /// deal's own currency.
    pub gross_so_far: Money,
    /// What the deal counts for, by weight.
    pub objects: Vec<(CostObject, Decimal)>,
    /// The income sources of its invoices and instalments.
    pub incomes: Vec<DealIncome>,
    /// Those that stand, paid or not.
    pub invoices: Vec<InvoiceFacts>,
}

impl DealFacts {
    fn since_agreed(&self, date: NaiveDate) -> Result<(), Refusal> {
        let agreed_on = self.deal.agreed_on;
        if date < agreed_on {
            return Err(Refusal::new("/date", DealFinding::BeforeAgreed { date, agreed_on }));
        }
        Ok(())
    }
}

/// # Errors
/// [`DealFinding::OtherCurrency`] at `/currency`.
fn in_currency_of(deal: &Deal, asked: Option<Currency>) -> Result<Currency, Refusal> {
    let of_deal = deal.agreed.currency();
    match asked {
        Some(asked) if asked != of_deal => {
            Err(Refusal::new("/currency", DealFinding::OtherCurrency { deal: of_deal, asked }))
        }
        _ => Ok(of_deal),
    }
}

/// The income of one invoice or instalment as it stands.
#[derive(Clone, Debug)]
pub struct DealIncome {
    /// The record of the invoice or the instalment.
    pub record: RecordId,
    pub source: SourceId,
    pub since: NaiveDate,
    /// Incurred less returned, in the books' base currency.
    pub left: Money,
    /// Attributed so far, by object, corrections counted.
    pub attributed: Vec<(CostObject, Money)>,
}

/// Why what happens on a deal is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum DealFinding {
    ScheduleDiffers { schedule: Money, agreed: Money },
    PaidBeforeBeyondTotal { paid: Money, agreed: Money },
    OtherCurrency { deal: Currency, asked: Currency },
    NetDiffers { comes_to: Money, net: Money },
    IncomeAfterReceipt { income_on: NaiveDate, date: NaiveDate },
    BeforeAgreed { date: NaiveDate, agreed_on: NaiveDate },
    BeyondTotal { agreed: Money, so_far: Money, gross: Money, over: Money },
    InvoicedBeyondTotal { agreed: Money, so_far: Money, counts: Money, over: Money },
    MoreThanReceived { amount: Money, received: Money },
    KeptAlready { what: String, kept_on: NaiveDate },
}

impl Explain for DealFinding {
    fn say(&self) -> Said {
        match self {
            Self::ScheduleDiffers { schedule, agreed } => Said::invalid(
                format!("the instalments due come to {schedule}, the deal says {agreed}"),
                "correct amount or an instalment of the schedule",
            ),
            Self::PaidBeforeBeyondTotal { paid, agreed } => Said::invalid(
                format!("{paid} is said to be paid already, and {agreed} is agreed in all"),
                "correct paid_before or amount",
            ),
            Self::OtherCurrency { deal, asked } => Said::invalid(
                format!("the deal is in {deal}, the record in {asked}"),
                format!("give the sums in {deal}, with the rate of the day where the books are in another"),
            ),
            Self::NetDiffers { comes_to, net } => Said::invalid(
                format!(
                    "gross less what agency, bank and tax office kept comes to {comes_to}, the net says {net}"
                ),
                "correct net or one of the other figures",
            ),
            Self::IncomeAfterReceipt { income_on, date } => Said::invalid(
                format!("income_on is {income_on}, after the money was received on {date}"),
                "give the day the agency had the money, or leave income_on out",
            ),
            Self::BeforeAgreed { date, agreed_on } => Said::invalid(
                format!("{date} is before the deal was agreed on {agreed_on}"),
                "correct the date",
            ),
            Self::BeyondTotal { agreed, so_far, gross, over } => Said::conflict(
                format!("{agreed} is agreed and {so_far} came in so far: {gross} more is {over} too much"),
                "correct the sum, or say \"beyond\": \"agreed_extra\" where the sponsor agreed to pay more",
            ),
            Self::InvoicedBeyondTotal { agreed, so_far, counts, over } => Said::conflict(
                format!(
                    "{agreed} is agreed and {so_far} was invoiced or came in so far: {counts} more is {over} too \
                     much"
                ),
                "correct the sum, or say \"beyond\": \"agreed_extra\" where the sponsor agreed to pay more",
            ),
            Self::MoreThanReceived { amount, received } => Said::conflict(
                format!(
                    "{amount} goes back, and by that day these books show {received} received on the deal"
                ),
                "correct the sum or the day, or record the instalment first",
            ),
            Self::KeptAlready { what, kept_on } => Said::conflict(
                format!("'{what}' was kept on {kept_on}"),
                "reverse that record (POST /v1/records/{id}/reversal) if it is wrong, and record it anew",
            ),
        }
    }
}

fn weighted(
    amount: Money,
    asked: &[super::objects::ObjectShare],
    of_deal: &[(CostObject, Decimal)],
) -> Result<Vec<(CostObject, Money)>, Refusal> {
    if !asked.is_empty() {
        return split_over_objects(amount, asked);
    }
    if of_deal.is_empty() {
        return Ok(Vec::new());
    }
    let weights: Vec<_> = of_deal.iter().map(|(_, weight)| *weight).collect();
    let parts = super::split::split_by_largest_remainder(amount, &weights)?;
    Ok(of_deal.iter().map(|(object, _)| *object).zip(parts).collect())
}
