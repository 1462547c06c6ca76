//! A tool leaves: sold, scrapped, stolen, or taken for private use.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ToolFacts;
use super::acquire::two_bases;
use super::improve::left_behind;
use crate::rules::ids::{MoneyAccountId, PartyId};
use crate::rules::journal::{Account, Draw, EntryKind, TaxClass};
use crate::rules::money::{Amount, Currency, Exchange, Money, MoneyFinding, Rate};
use crate::rules::recording::{MoneyAccount, MovementKind, Pen, RecordFinding, Recording, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{DisposalKind, Row, ToolDisposal, ToolOrigin};

/// How a tool left.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDisposal {
    pub date: NaiveDate,
    pub kind: DisposalKind,
    /// What came in for it: the price, the scrap value, the insurance; nothing with `personal_use`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub proceeds: Option<Amount>,
    /// Where the proceeds went.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_into: Option<MoneyAccountId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of a foreign `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// The buyer, or whoever paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What the ledger still carries of the tool: cost and depreciation as they were posted. Before any year is
/// closed that is its cost and zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Carried {
    pub at_cost: Money,
    pub accumulated: Money,
}

/// Why a tool may not leave.
#[derive(Clone, Debug, PartialEq)]
pub enum DisposeFinding {
    LeftAlready { left_on: NaiveDate, kind: DisposalKind },
    UsedLater { last_use: NaiveDate },
    EstimatedLater { last: NaiveDate },
    GoneUntil { until: NaiveDate, date: NaiveDate },
    ProceedsMissing,
    ProceedsOfPrivateUse,
    PaidIntoMissing,
    PaidIntoWithoutProceeds,
    NotOursToSell,
}

impl Explain for DisposeFinding {
    fn say(&self) -> Said {
        match self {
            Self::LeftAlready { left_on, kind } => Said::conflict(
                format!("the tool left already on {left_on} ({kind})"),
                "reverse that disposal first if it was a mistake",
            ),
            Self::UsedLater { last_use } => Said::conflict(
                format!("a use of {last_use} is logged, after the day it would leave"),
                "correct the date, or reverse that use first",
            ),
            Self::GoneUntil { until, date } => Said::conflict(
                format!("the books are without it on {date}: its earlier leaving was taken back on {until}"),
                format!("give {until} or a later day"),
            ),
            Self::EstimatedLater { last } => Said::conflict(
                format!("it was estimated anew on {last}, after the day it would leave"),
                "correct the date, or reverse that estimate first",
            ),
            Self::ProceedsMissing => Said::invalid(
                "the tool was sold, and no price is given",
                "give proceeds, or say \"kind\": \"scrapped\" if nothing came in",
            ),
            Self::ProceedsOfPrivateUse => Said::invalid(
                "the tool was taken for private use, and proceeds are given",
                "leave proceeds out, or say \"kind\": \"sold\"",
            ),
            Self::PaidIntoMissing => Said::invalid(
                "proceeds are given, but not where they went",
                "give paid_into; the owner's own purse is an account of kind own_pocket",
            ),
            Self::PaidIntoWithoutProceeds => Said::invalid(
                "a money account is named, but there are no proceeds",
                "give proceeds, or leave paid_into out",
            ),
            Self::NotOursToSell => Said::conflict(
                "the tool is a loan: its lender owns it",
                "if it was bought in the end, record that; if it went back, say \"kind\": \"scrapped\"",
            ),
        }
    }
}

/// Takes a tool out of the books at what the ledger carries. The difference between proceeds and that is a
/// gain or loss on business property; what went to private use is a draw. What was attributed of it stays
/// with its episodes, and what was not is removed.
///
/// # Errors
/// [`DisposeFinding`] and those of dates and money, all at once.
///
/// # Source
/// Principles of Financial Accounting, 11.5 (gain or loss against book value), from memory.
pub fn dispose(
    pen: &mut Pen<'_>,
    facts: &ToolFacts,
    carried: Carried,
    paid_into: Option<MoneyAccount>,
    new: &NewDisposal,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(day_fits(facts, new.date));
    if new.kind == DisposalKind::Sold && facts.tool.origin == ToolOrigin::Loan {
        findings.add(Refusal::new("/kind", DisposeFinding::NotOursToSell));
    }
    let proceeds = findings.keep(proceeds(pen, new));
    if let Some(proceeds) = proceeds {
        findings.keep(receiver_fits(proceeds, paid_into).at("/paid_into"));
    }
    findings.or_refuse()?;
    let proceeds = proceeds.unwrap_or(Money::zero(pen.base()));
    written(pen, facts, carried, paid_into.map(|account| (account, proceeds)), new)
}

fn day_fits(facts: &ToolFacts, date: NaiveDate) -> Result<(), Refusal> {
    if let Some(gone) = facts.departure() {
        return Err(DisposeFinding::LeftAlready { left_on: gone.date, kind: gone.kind }.into());
    }
    let mut findings = Findings::new();
    if date < facts.came_on {
        let why = RecordFinding::BeforeItBegan { what: "tool", began: facts.came_on, date };
        findings.add(Refusal::new("/date", why));
    }
    if let Some(last_use) = facts.last_use().filter(|last| date < *last) {
        findings.add(Refusal::new("/date", DisposeFinding::UsedLater { last_use }));
    }
    if let Some(last) = facts.last_estimate().map(|estimate| estimate.date).filter(|last| date < *last) {
        findings.add(Refusal::new("/date", DisposeFinding::EstimatedLater { last }));
    }
    if let Some(until) = facts.gone_until.filter(|until| date < *until) {
        findings.add(Refusal::new("/date", DisposeFinding::GoneUntil { until, date }));
    }
    findings.or_refuse()
}

fn proceeds(pen: &Pen<'_>, new: &NewDisposal) -> Result<Money, Refusal> {
    let exchange = Exchange::on(new.date, new.currency, new.rate, pen.base())?;
    let proceeds = match new.proceeds {
        Some(amount) => exchange.base_of(amount).at("/proceeds")?,
        None => Money::zero(pen.base()),
    };
    let amount = proceeds.amount();
    if proceeds.is_negative() {
        return Err(Refusal::new("/proceeds", MoneyFinding::Negative { amount }));
    }
    match new.kind {
        DisposalKind::Sold if proceeds.is_zero() => {
            Err(Refusal::new("/proceeds", DisposeFinding::ProceedsMissing))
        }
        DisposalKind::PersonalUse if proceeds.is_positive() => {
            Err(Refusal::new("/proceeds", DisposeFinding::ProceedsOfPrivateUse))
        }
        _ => Ok(proceeds),
    }
}

fn receiver_fits(proceeds: Money, paid_into: Option<MoneyAccount>) -> Result<(), DisposeFinding> {
    match (proceeds.is_zero(), paid_into) {
        (false, None) => Err(DisposeFinding::PaidIntoMissing),
        (true, Some(_)) => Err(DisposeFinding::PaidIntoWithoutProceeds),
        _ => Ok(()),
    }
}

fn written(
    pen: &Pen<'_>,
    facts: &ToolFacts,
    carried: Carried,
    received: Option<(MoneyAccount, Money)>,
    new: &NewDisposal,
) -> Result<Recording, Refusal> {
    let tool = &facts.tool;
    let private = new.kind == DisposalKind::PersonalUse;
    let how = if private { "taken for private use" } else { new.kind.as_str() };
    let text = format!("{}: {how}", tool.name);
    let mut recording = Recording::new(Word::Tools, "disposal", new.date, text.as_str());
    recording.party = new.party;
    recording.depends_on.push(facts.record);
    recording.depends_on.extend(facts.uses.iter().map(|logged| logged.record));
    let proceeds = received.map_or(Money::zero(pen.base()), |(_, proceeds)| proceeds);
    let book = carried.at_cost.minus(carried.accumulated)?;
    let mut entry = pen.entry(new.date, text).of_kind(EntryKind::Disposal);
    if let Some((account, proceeds)) = received {
        entry.debit(account.receiving(), proceeds, None);
    }
    entry.debit(Account::AccumulatedDepreciation, carried.accumulated, None);
    entry.credit(Account::ToolsAtCost, carried.at_cost, None);
    let gain = proceeds.minus(book)?;
    if private {
        entry.debit(Account::Draw(Draw::PersonalItems), book, TaxClass::Personal);
    } else {
        entry.credit(Account::BusinessPropertySales, gain, TaxClass::BusinessPropertySale);
    }
    let posted = recording.post(entry)?;
    let unattributed = facts.held.minus(facts.attributed_total()?)?;
    if unattributed.is_positive() {
        recording.moves(tool.source, new.date, MovementKind::Removed, unattributed.negated(), posted);
    }
    recording.notes = notes(facts, new.kind, book, gain, unattributed);
    let disposal = ToolDisposal { tool: tool.id, date: new.date, kind: new.kind, proceeds };
    recording.rows.push(Row::ToolDisposal(disposal));
    Ok(recording)
}

fn notes(
    facts: &ToolFacts,
    kind: DisposalKind,
    book: Money,
    gain: Money,
    unattributed: Money,
) -> Vec<String> {
    let mut notes = Vec::new();
    notes.push(match kind {
        DisposalKind::PersonalUse => format!("{book} goes to the owner's draw; it is no sale"),
        _ if gain.is_negative() => format!(
            "a loss of {} against {book} on the books, before the year's depreciation; the year's summary \
             works out the tax figure",
            gain.absolute()
        ),
        _ => format!(
            "a gain of {gain} against {book} on the books, before the year's depreciation; the year's summary \
             works out the tax figure"
        ),
    });
    if facts.has_no_basis() {
        notes.push("a tool nothing was paid for: it has no basis".to_owned());
    } else if unattributed.is_positive() {
        notes.push(format!("{unattributed} of its cost had reached no episode and leaves with it"));
    }
    if kind != DisposalKind::PersonalUse {
        notes.extend(two_bases(&facts.tool));
    }
    notes.extend(left_behind(&facts.improvements));
    notes
}
