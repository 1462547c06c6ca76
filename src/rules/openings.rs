//! Opening positions: what an account, a tool, a lot, a piece or a deal already was on the day the books begin.

mod deal;
mod goods;
#[cfg(test)]
mod tests;
mod tool;

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::MoneyAccountId;
use super::journal::{Account, AccountType, EntryKind, TaxClass};
use super::money::{Amount, Exchange, Money, Rate};
use super::named::named;
use super::recording::{
    MoneyAccount, MoneyAccountKind, Movement, MovementKind, Pen, Recording, Source, Word,
};
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{CarryOver, Row, ToolOrigin};
use super::vehicles::VehiclesAtRate;

pub use deal::DealOpening;
pub use goods::{LotOpening, PieceOpening};
pub use tool::ToolOpening;

named! {
    /// What the opening position is of.
    pub enum OpeningOf {
        /// A money account (`account`) or another account of the starter chart (`standing`), with `balance`.
        Account => "account",
        Tool => "tool",
        Lot => "lot",
        Piece => "piece",
        Deal => "deal",
        /// Section 179 that earlier returns elected and their income did not allow (`amount`).
        Section179CarryOver => "section_179_carry_over",
    }
}

named! {
    /// Accounts of the starter chart that can have a balance before the books begin.
    pub enum Standing {
        Loans => "loans",
        Payables => "payables",
        SalesTaxCollected => "sales_tax_collected",
        DepositsReceived => "deposits_received",
        DepositsPaid => "deposits_paid",
        PlatformReserves => "platform_reserves",
    }
}

impl Standing {
    pub const fn account(self) -> Account {
        match self {
            Self::Loans => Account::Loans,
            Self::Payables => Account::Payables,
            Self::SalesTaxCollected => Account::SalesTaxCollected,
            Self::DepositsReceived => Account::DepositsReceived,
            Self::DepositsPaid => Account::DepositsPaid,
            Self::PlatformReserves => Account::PlatformReserves,
        }
    }
}

/// What something was on the day the books begin; one thing a request.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOpening {
    /// The day the books begin.
    pub date: NaiveDate,
    /// What was there.
    pub what: OpeningOf,
    /// With `what` account: the money account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub account: Option<MoneyAccountId>,
    /// With `what` account: another account than one of money.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
    /// With `what` account: what stood on it; of a debt, what was owed. Negative for an overdrawn account or a card
    /// with a debt. In the money account's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balance: Option<Amount>,
    /// Base units for one unit of the money account's currency, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tool: Option<ToolOpening>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotOpening>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceOpening>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deal: Option<DealOpening>,
    /// With `what` section_179_carry_over: what the last return before the books carries to the next year. The
    /// tools it was elected on state it as taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What the rules must know beside the opening position.
#[derive(Clone, Debug, Default)]
pub struct OpeningFacts {
    /// The money account named, where one is.
    pub account: Option<MoneyAccount>,
    /// The day an opening balance of that account was recorded for, where one stands.
    pub stated_on: Option<NaiveDate>,
    /// The day a carry-over stands for, where one was stated.
    pub carried_on: Option<NaiveDate>,
    /// Of a tool: the vehicles that go by the standard rate.
    pub at_rate: VehiclesAtRate,
}

/// Why an opening position is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum OpeningFinding {
    Missing { field: &'static str, what: OpeningOf },
    NotOfThis { field: &'static str, what: OpeningOf },
    AccountOrStanding,
    OwnPocketHasNone,
    StatedAlready { on: NaiveDate },
    CarriedAlready { on: NaiveDate },
    AcquiredLater { acquired_on: NaiveDate, date: NaiveDate },
    TakenBeyondCost { taken: Money, cost: Money },
    WriteOffBeyondTaken { write_off: Money, taken: Money },
    ConventionMissing,
    AttributedBeyondCost { attributed: Money, most: Money },
    NoBasis { origin: ToolOrigin },
    OneBasis { origin: ToolOrigin },
    GainBasisBelowCost { for_gain: Money, cost: Money },
    NoQuantity,
    PaidBeyondAgreed { paid: Money, agreed: Money },
    InvoicedBeyondAgreed { paid: Money, invoiced: Money, agreed: Money },
    NoCostsBefore { field: &'static str },
}

impl Explain for OpeningFinding {
    fn say(&self) -> Said {
        match self {
            Self::Missing { field, what } => Said::invalid(
                format!("it is the opening position of: {what}, and {field} is missing"),
                format!("give {field}"),
            ),
            Self::NotOfThis { field, what } => Said::invalid(
                format!("{field} is given with the opening position of: {what}"),
                format!("leave {field} out, or record it by itself"),
            ),
            Self::AccountOrStanding => Said::invalid(
                "one account is needed: a money account or another",
                "give account or standing, not both",
            ),
            Self::OwnPocketHasNone => Said::invalid(
                "an own pocket is the owner's purse and has no balance in the books",
                "leave it out",
            ),
            Self::StatedAlready { on } => Said::conflict(
                format!("an opening balance of this account stands already, of {on}"),
                "reverse that one first (POST /v1/entries/{number}/reversal)",
            ),
            Self::AcquiredLater { acquired_on, date } => Said::invalid(
                format!("it came on {acquired_on}, and the books begin on {date}"),
                "record what comes later as a purchase, a gift or a deal",
            ),
            Self::PaidBeyondAgreed { paid, agreed } => Said::invalid(
                format!("{paid} is said to be paid already, and {agreed} is agreed in all"),
                "correct paid_before or amount",
            ),
            Self::InvoicedBeyondAgreed { paid, invoiced, agreed } => Said::invalid(
                format!("{paid} is paid and {invoiced} invoiced, and {agreed} is agreed in all"),
                "correct invoiced_before, which is what is not paid yet, or amount",
            ),
            Self::NoQuantity => Said::invalid("the lot is empty", "give a quantity above zero"),
            _ => self.say_of_a_tool(),
        }
    }
}

impl OpeningFinding {
    fn say_of_a_tool(&self) -> Said {
        match self {
            Self::TakenBeyondCost { taken, cost } => Said::invalid(
                format!("depreciation of {taken} was taken on a cost of {cost}"),
                "correct depreciation_taken or cost",
            ),
            Self::WriteOffBeyondTaken { write_off, taken } => Said::invalid(
                format!("the first-year write-off {write_off} is more than what was taken in all, {taken}"),
                "correct first_year_write_off or depreciation_taken, which contains it",
            ),
            Self::ConventionMissing => Said::invalid(
                "depreciation was taken, and nothing says under which convention",
                "give convention: half_year or mid_quarter, as the earlier returns used it",
            ),
            Self::AttributedBeyondCost { attributed, most } => Said::invalid(
                format!("{attributed} is said to be used up already, and cost less salvage is {most}"),
                "correct attributed_before, cost or salvage",
            ),
            Self::NoBasis { origin } => Said::invalid(
                format!("a tool of the origin {origin} has no cost in the books"),
                "give cost 0, or another origin",
            ),
            Self::OneBasis { origin } => Said::invalid(
                format!("a basis for a gain is given apart, and the origin is {origin}"),
                "leave basis_for_gain out; only converted_from_personal has two bases",
            ),
            Self::GainBasisBelowCost { for_gain, cost } => Said::invalid(
                format!(
                    "a gain would be counted from {for_gain}, and it came in at {cost}, the lower of the two"
                ),
                "give what it had cost the owner as basis_for_gain, and as cost the lower of that and its value",
            ),
            Self::NoCostsBefore { field } => Said::invalid(
                format!("{field} says what was used up before, and the tool has no cost"),
                format!("leave {field} out"),
            ),
            Self::CarriedAlready { on } => Said::conflict(
                format!("a carry-over of section 179 was stated already, of {on}"),
                "reverse that one first (POST /v1/records/{id}/reversal)",
            ),
            _ => Said::invalid("the opening position can not be recorded like this", "correct it"),
        }
    }
}

/// Records an opening position: an entry of the kind opening against opening equity, and opening movements of the
/// sources, which carry no tax class, so that nothing of them is a purchase or an income of the year.
/// # Errors
/// [`OpeningFinding`]: what is missing or does not belong, at its field; a closed day; what each thing itself refuses.
pub fn state(pen: &mut Pen<'_>, facts: &OpeningFacts, asked: &NewOpening) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    findings.keep(only_fields_of(asked));
    findings.or_refuse()?;
    let missing = |field: &'static str| {
        Refusal::new(format!("/{field}"), OpeningFinding::Missing { field, what: asked.what })
    };
    match asked.what {
        OpeningOf::Account => account(pen, facts, asked),
        OpeningOf::Tool => {
            let it = asked.tool.as_ref().ok_or_else(|| missing("tool"))?;
            tool::state(pen, asked.date, &facts.at_rate, it).at("/tool")
        }
        OpeningOf::Lot => {
            let it = asked.lot.as_ref().ok_or_else(|| missing("lot"))?;
            goods::state_lot(pen, asked.date, it).at("/lot")
        }
        OpeningOf::Piece => {
            let it = asked.piece.as_ref().ok_or_else(|| missing("piece"))?;
            goods::state_piece(pen, asked.date, it).at("/piece")
        }
        OpeningOf::Deal => {
            let it = asked.deal.as_ref().ok_or_else(|| missing("deal"))?;
            deal::state(pen, asked.date, it).at("/deal")
        }
        OpeningOf::Section179CarryOver => {
            let amount = asked.amount.ok_or_else(|| missing("amount"))?;
            carry_over(pen, facts, asked.date, amount)
        }
    }
}

fn only_fields_of(asked: &NewOpening) -> Result<(), Refusal> {
    let what = asked.what;
    let given = [
        ("account", asked.account.is_some(), OpeningOf::Account),
        ("standing", asked.standing.is_some(), OpeningOf::Account),
        ("balance", asked.balance.is_some(), OpeningOf::Account),
        ("rate", asked.rate.is_some(), OpeningOf::Account),
        ("tool", asked.tool.is_some(), OpeningOf::Tool),
        ("lot", asked.lot.is_some(), OpeningOf::Lot),
        ("piece", asked.piece.is_some(), OpeningOf::Piece),
        ("deal", asked.deal.is_some(), OpeningOf::Deal),
        ("amount", asked.amount.is_some(), OpeningOf::Section179CarryOver),
    ];
    let mut findings = Findings::new();
    for (field, is_given, of) in given {
        if is_given && of != what {
            findings.add(Refusal::new(format!("/{field}"), OpeningFinding::NotOfThis { field, what }));
        }
    }
    findings.or_refuse()
}

fn account(pen: &mut Pen<'_>, facts: &OpeningFacts, asked: &NewOpening) -> Result<Recording, Refusal> {
    let missing = OpeningFinding::Missing { field: "balance", what: asked.what };
    let balance = asked.balance.ok_or_else(|| Refusal::new("/balance", missing))?;
    if let Some(on) = facts.stated_on {
        return Err(Refusal::new("", OpeningFinding::StatedAlready { on }));
    }
    let (account, exchange) = match (facts.account, asked.standing) {
        (Some(money), None) if money.kind == MoneyAccountKind::OwnPocket => {
            return Err(Refusal::new("/account", OpeningFinding::OwnPocketHasNone));
        }
        (Some(money), None) => {
            (Account::Money(money.id), Exchange::of(Some(money.currency), asked.rate, pen.base())?)
        }
        (None, Some(standing)) => (standing.account(), Exchange::of(None, asked.rate, pen.base())?),
        _ => return Err(Refusal::new("/account", OpeningFinding::AccountOrStanding)),
    };
    let amount = exchange.base_of(balance).at("/balance")?;
    let text = "opening balance";
    let mut recording = Recording::new(Word::Openings, "account", asked.date, text);
    let debit = if account.kind() == AccountType::Liability { amount.negated() } else { amount };
    post(pen, &mut recording, &[(account, debit)])?;
    Ok(recording)
}

/// Posts nothing: what was not allowed is no expense before a year allows it.
fn carry_over(
    pen: &Pen<'_>,
    facts: &OpeningFacts,
    date: NaiveDate,
    amount: Amount,
) -> Result<Recording, Refusal> {
    if let Some(on) = facts.carried_on {
        return Err(OpeningFinding::CarriedAlready { on }.into());
    }
    let amount = amount.positive(pen.base()).at("/amount")?;
    let text = "section 179 carried over from earlier returns";
    let mut recording = Recording::new(Word::Openings, "section_179_carry_over", date, text);
    recording.rows.push(Row::CarryOver(CarryOver { tax_year: date.year(), amount }));
    recording.notes.push(format!(
        "{amount} is brought forward to {}: its summary allows as much of it as the year's income does.",
        date.year()
    ));
    Ok(recording)
}

/// An entry of the kind opening; whatever does not balance is opening equity.
fn post(
    pen: &Pen<'_>,
    recording: &mut Recording,
    debits: &[(Account, Money)],
) -> Result<Option<usize>, Refusal> {
    let mut entry = pen.entry(recording.date, recording.text.clone()).of_kind(EntryKind::Opening);
    let no_class: Option<TaxClass> = None;
    for (account, amount) in debits {
        entry.debit(*account, *amount, no_class);
    }
    let equity = Money::sum(pen.base(), debits.iter().map(|(_, amount)| *amount))?;
    entry.credit(Account::OpeningEquity, equity, no_class);
    recording.post(entry)
}

/// A source that was there before the books, with its opening movement.
fn open(recording: &mut Recording, source: Source, amount: Money, entry: Option<usize>) {
    let (id, date) = (source.id, recording.date);
    recording.sources.push(source);
    if !amount.is_zero() {
        let kind = MovementKind::Opening;
        recording.movements.push(Movement { source: id, date, kind, amount, entry });
    }
}

/// Sums of opening positions other than balances are in the books' currency.
fn in_base(pen: &Pen<'_>) -> Exchange {
    Exchange { currency: pen.base(), base: pen.base(), rate: Decimal::ONE }
}

fn came_before(acquired_on: NaiveDate, date: NaiveDate) -> Result<(), OpeningFinding> {
    if acquired_on > date {
        return Err(OpeningFinding::AcquiredLater { acquired_on, date });
    }
    Ok(())
}
