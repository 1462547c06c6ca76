//! Money accounts and what moves between them and the owner: transfers, contributions, draws, tax payments, loans.

mod labels;
mod loans;
mod owner;
#[cfg(test)]
mod tests;
mod transfers;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::MoneyAccountId;
use super::money::{Currency, Exchange, Money, MoneyFinding, Rate};
use super::recording::{
    MoneyAccount, MoneyAccountKind, Pen, Recording, Side, Source, SourceKind, Word, words_of,
};
use super::refusal::{At, Explain, Refusal, Said};
use super::rows::{MoneyAccountRow, Row};

pub use labels::AccountLabels;
pub use loans::{LoanOwed, LoanRepaid, NewLoan, NewLoanRepayment, borrow, repay};
pub use owner::{NewContribution, NewDraw, NewTaxPayment, contribute, draw, pay_tax};
pub use transfers::{NewTransfer, transfer};

/// A place where the business's money sits, or the purse it comes from.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMoneyAccount {
    /// What it is called, such as "checking" or "cash box".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    pub kind: MoneyAccountKind,
    /// The books' own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// The day the business began to use it; the day the books begin where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Why a movement of money is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum AccountFinding {
    SameAccount,
    ReceivedMissing { from: Currency, to: Currency },
    ReceivedInOneCurrency { currency: Currency },
    RateNotNeeded { base: Currency },
    OwnPocketIsTheOwners,
    TaxYearAhead { tax_year: i32, date: NaiveDate },
    NothingRepaid,
    LoanInAnotherCurrency { currency: Currency },
    RepaidBeforeLent { date: NaiveDate },
    MoreThanTheLoan { left: Money },
}

impl Explain for AccountFinding {
    fn say(&self) -> Said {
        match self {
            Self::SameAccount => {
                Said::invalid("the money goes to the account it comes from", "name two different accounts")
            }
            Self::ReceivedMissing { from, to } => Said::invalid(
                format!("{from} goes out and {to} comes in, and no sum received is given"),
                format!("give received: how many {to} arrived"),
            ),
            Self::ReceivedInOneCurrency { currency } => Said::invalid(
                format!("both accounts are in {currency}, so what arrives is the amount"),
                "leave received out; what the bank took is the fee",
            ),
            Self::RateNotNeeded { base } => Said::invalid(
                format!("one of the accounts is in {base}, so its own sum says what the transfer was worth"),
                "leave rate out",
            ),
            Self::OwnPocketIsTheOwners => Said::invalid(
                "an own pocket is the owner's purse, not money of the business",
                "name the bank, card or cash account of the business",
            ),
            Self::TaxYearAhead { tax_year, date } => Said::invalid(
                format!("a payment of {date} for the tax year {tax_year} is more than a year early"),
                "correct tax_year or date",
            ),
            Self::NothingRepaid => Said::invalid(
                "neither a part of the loan nor interest is paid",
                "give principal, interest or both, above zero",
            ),
            Self::LoanInAnotherCurrency { currency } => Said::invalid(
                format!("the loan came in in {currency}, and this account is in another currency"),
                format!("name an account in {currency}; what was changed into it before is a transfer"),
            ),
            Self::RepaidBeforeLent { date } => Said::invalid(
                format!("the loan came in on {date}, after this day"),
                "correct the date or the loan",
            ),
            Self::MoreThanTheLoan { left } => Said::invalid(
                format!("{left} is left of the loan"),
                "give that or less; what goes beyond it is interest, or another loan",
            ),
        }
    }
}

/// Opens a money account; nothing is posted.
/// # Errors
/// An empty name at `/name`, a currency withdrawn by that day at `/currency`.
pub fn open(pen: &mut Pen<'_>, asked: &NewMoneyAccount) -> Result<Recording, Refusal> {
    let date = asked.date.unwrap_or(pen.books.began_on);
    let name = words_of("name", &asked.name).at("/name")?;
    let currency = asked.currency.unwrap_or(pen.base());
    Currency::find_on(currency.code(), date).at("/currency")?;
    let id = MoneyAccountId(pen.ids.next());
    let mut recording = Recording::new(Word::Accounts, "account", date, format!("account opened: {name}"));
    recording.rows.push(Row::MoneyAccount(MoneyAccountRow { id, name, kind: asked.kind, currency }));
    Ok(recording)
}

/// How sums in an account's currency reach the books' own.
fn exchange_of(account: MoneyAccount, rate: Option<Rate>, pen: &Pen<'_>) -> Result<Exchange, Refusal> {
    Exchange::of(Some(account.currency), rate, pen.base())
}

fn of_the_business(account: MoneyAccount) -> Result<MoneyAccount, AccountFinding> {
    match account.kind {
        MoneyAccountKind::OwnPocket => Err(AccountFinding::OwnPocketIsTheOwners),
        _ => Ok(account),
    }
}

/// Opens the source of what a bank or a lender took, where they took anything.
fn open_charge(
    recording: &mut Recording,
    pen: &mut Pen<'_>,
    text: &str,
    (date, taken, entry): (NaiveDate, Money, Option<usize>),
) {
    if !taken.is_zero() {
        let (id, text) = (pen.new_source(), text.to_owned());
        let source = Source { id, side: Side::Cost, kind: SourceKind::AccountCharge, text };
        recording.open_source(source, date, taken, entry);
    }
}

/// More than zero, in the account's currency, brought to the books' own.
fn positive_in_base(
    exchange: Exchange,
    amount: super::money::Amount,
) -> Result<super::money::Money, MoneyFinding> {
    exchange.in_base(amount.positive(exchange.currency)?)
}
