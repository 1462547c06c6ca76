//! Payouts: one statement of a platform, gross by stream, with what it kept, held back, released and corrected.

mod lines;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, MoneyAccountId, PartyId, ProjectId};
use super::journal::{Account, Draw, EntryDraft, ExpenseClass, JournalFinding, Stream, TaxClass};
use super::money::{Amount, Currency, Exchange, Money, MoneyFinding, Quantity, Rate};
use super::recording::{AccountingMethod, MoneyAccount, Pen, Recording, Word};
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{Payout, Row};
use lines::PaidLine;

/// An episode or project with its part of a line: amounts, weights, or neither for equal parts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PayoutShare {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// What of the line's gross it brought in; what no episode takes stays unattributed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// Its weight among the others, such as views or hours watched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<Quantity>,
}

/// What the statement says of one stream.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PayoutLine {
    pub stream: Stream,
    /// Before fees, tax and reserves.
    pub gross: Amount,
    /// The episodes and projects it came from; the payout's own `for` where it is left out.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub came_from: Vec<PayoutShare>,
}

/// One statement of a platform and the money that came of it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPayout {
    /// The day the money reached you: on the cash basis the income is of that day, whatever month the statement is
    /// about.
    pub date: NaiveDate,
    pub platform: PartyId,
    /// The account it was paid into.
    pub paid_into: MoneyAccountId,
    /// The day its income was earned, the last one the statement is about: the day of the income in accrual books.
    /// On the cash basis it is kept and changes nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earned_on: Option<NaiveDate>,
    /// What the statement is about, in words, such as "December 2025".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period: Option<String>,
    /// The statement's lines, stream by stream.
    pub lines: Vec<PayoutLine>,
    /// The episodes and projects of every line that names none itself.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub came_from: Vec<PayoutShare>,
    /// What the platform kept in all; spread over the lines by their gross.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fees: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_withheld: Option<Amount>,
    /// What it holds back for refunds to come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reserve_held: Option<Amount>,
    /// What it held back earlier and pays now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reserve_released: Option<Amount>,
    /// Corrections of earlier statements: negative where money was taken back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adjustments: Option<Amount>,
    /// What reached the account; it must be what the other figures come to.
    pub net: Amount,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Why a payout is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum PayoutFinding {
    Nothing,
    NetDiffers { comes_to: Money, net: Money },
    TakenBackBeyondGross { taken: Money, gross: Money },
    AmountAndWeight,
    SomeAmountsMissing,
    SomeWeightsMissing,
    AmountsBeyondGross { amounts: Money, gross: Money },
    AmountsForSeveralLines { lines: usize },
    EarnedAfterReceipt { earned_on: NaiveDate, date: NaiveDate },
}

impl Explain for PayoutFinding {
    fn say(&self) -> Said {
        match self {
            Self::Nothing => Said::invalid(
                "the payout has no line, no reserve released and no adjustment",
                "give at least one line with its stream and gross",
            ),
            Self::NetDiffers { comes_to, net } => Said::invalid(
                format!(
                    "gross - fees - tax withheld - reserve held + reserve released + adjustments comes to \
                     {comes_to}, the net says {net}"
                ),
                "correct net or one of the other figures",
            ),
            Self::TakenBackBeyondGross { taken, gross } => Said::invalid(
                format!("{taken} was taken back, and the lines bring in {gross}"),
                "record what the gross covers with this payout, and the rest with the next one",
            ),
            Self::AmountAndWeight => Said::invalid(
                "an amount and a weight are both given",
                "give amounts, or weights, or neither for equal parts",
            ),
            Self::SomeAmountsMissing => Said::invalid(
                "some amounts are given and others are not",
                "give every amount; what none of them takes stays unattributed",
            ),
            Self::SomeWeightsMissing => Said::invalid(
                "some weights are given and others are not",
                "give every weight, or none for equal parts",
            ),
            Self::AmountsBeyondGross { amounts, gross } => Said::invalid(
                format!("the amounts come to {amounts}, the gross is {gross}"),
                "correct an amount or the gross",
            ),
            Self::AmountsForSeveralLines { lines } => Said::invalid(
                format!("the amounts would be taken from each of {lines} lines"),
                "give the amounts with the line they belong to, or give weights",
            ),
            Self::EarnedAfterReceipt { earned_on, date } => Said::invalid(
                format!("earned_on is {earned_on}, after the money was received on {date}"),
                "correct a day; what is paid ahead is an adjustment of a later statement",
            ),
        }
    }
}

/// The figures of a statement, all of one currency.
struct Figures {
    gross: Money,
    fees: Money,
    tax_withheld: Money,
    reserve_held: Money,
    reserve_released: Money,
    adjustments: Money,
}

impl Figures {
    /// What the platform owes of the period's income, before it withholds, holds back and releases.
    fn owed(&self) -> Result<Money, MoneyFinding> {
        self.gross.minus(self.fees)?.plus(self.adjustments)
    }

    fn net(&self) -> Result<Money, MoneyFinding> {
        self.owed()?.minus(self.tax_withheld)?.minus(self.reserve_held)?.plus(self.reserve_released)
    }

    /// `gross` is what the lines come to, each rounded by itself; what is taken back stays within it.
    fn in_base(&self, exchange: Exchange, gross: Money) -> Result<Self, MoneyFinding> {
        let taken = exchange.in_base(self.taken_back())?.at_most(gross);
        let given = exchange.in_base(self.adjustments)?;
        Ok(Self {
            gross,
            fees: exchange.in_base(self.fees)?,
            tax_withheld: exchange.in_base(self.tax_withheld)?,
            reserve_held: exchange.in_base(self.reserve_held)?,
            reserve_released: exchange.in_base(self.reserve_released)?,
            adjustments: if given.is_negative() { taken.negated() } else { given },
        })
    }

    fn taken_back(&self) -> Money {
        if self.adjustments.is_negative() {
            self.adjustments.negated()
        } else {
            Money::zero(self.adjustments.currency())
        }
    }
}

/// Records a payout: income gross by stream on the day it was received, with what was kept beside it. In accrual
/// books income and fees are of the day they were earned, and a receivable bridges the days until the money came.
///
/// Fees are spread over the lines by gross (largest remainder) and follow the line's attribution. Reserves held
/// are income already; they wait in platform reserves. Money taken back (negative adjustments) is returns and
/// allowances and reduces the lines' income sources pro rata, so that for invariant 6 the account
/// `returns_allowances` counts on the income side; a positive adjustment is other income. In a foreign currency
/// every figure is converted and rounded by itself, and the net is what the converted figures come to.
/// # Errors
/// [`PayoutFinding`] with both sums where the net is not what the figures come to; amounts beyond a line's
/// gross; objects, amounts and days that can not be.
/// # Source
/// Schedule C instructions, line 1 (gross receipts) and line 2 (returns), and Pub. 538, Cash Method
/// (constructive receipt): from memory. That what is held back is income when the statement is paid: common
/// practice, no source.
pub fn receive(pen: &mut Pen<'_>, into: MoneyAccount, asked: &NewPayout) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    let earned_on = findings.keep(earned_on(pen, asked)).unwrap_or(asked.date);
    let exchange = findings.keep(Exchange::on(asked.date, asked.currency, asked.rate, pen.base()));
    let exchange = exchange.unwrap_or(Exchange {
        currency: asked.currency.unwrap_or(pen.base()),
        base: pen.base(),
        rate: rust_decimal::Decimal::ONE,
    });
    let lines = findings.keep(lines::lines_of(asked, exchange));
    let own = match &lines {
        Some(lines) => findings.keep(figures_of(asked, lines, exchange)),
        None => None,
    };
    findings.or_refuse()?;
    let (Some(lines), Some(own)) = (lines, own) else { return Err(PayoutFinding::Nothing.into()) };
    let gross = Money::sum(pen.base(), lines.iter().map(|line| line.gross))?;
    let figures = own.in_base(exchange, gross)?;
    let net = figures.net()?;
    let text = match asked.period.as_deref().map(str::trim) {
        Some(period) if !period.is_empty() => format!("payout for {period}"),
        _ => "payout".to_owned(),
    };
    let mut recording = Recording::new(Word::Payouts, "payout", asked.date, text);
    recording.party = Some(asked.platform);
    let place = post(pen, &mut recording, into, &lines, &figures, earned_on)?;
    lines::open_sources(pen, &mut recording, asked, &lines, &figures, (earned_on, place))?;
    recording.rows.push(Row::Payout(Payout {
        platform: asked.platform,
        account: into.id,
        income_on: earned_on,
        received_on: asked.date,
        gross,
        fees: figures.fees,
        tax_withheld: figures.tax_withheld,
        reserve_held: figures.reserve_held,
        reserve_released: figures.reserve_released,
        adjustments: figures.adjustments,
        net,
    }));
    remark(&mut recording, &figures, exchange, net, earned_on);
    Ok(recording)
}

/// The day of the income: the day it was earned in accrual books, the day it was received otherwise.
fn earned_on(pen: &Pen<'_>, asked: &NewPayout) -> Result<NaiveDate, Refusal> {
    let (earned_on, date) = (asked.earned_on.unwrap_or(asked.date), asked.date);
    if earned_on > date {
        return Err(Refusal::new("/earned_on", PayoutFinding::EarnedAfterReceipt { earned_on, date }));
    }
    if pen.books.method == AccountingMethod::Cash {
        return Ok(date);
    }
    let first_open = pen.books.first_open;
    if earned_on < first_open && earned_on != date {
        let why = JournalFinding::ClosedPeriod { date: earned_on, first_open };
        return Err(Refusal::new("/earned_on", why));
    }
    Ok(earned_on)
}

/// The entry of the income, and that of the money where its day is another.
struct Entries {
    earned: EntryDraft,
    received: Option<EntryDraft>,
}

impl Entries {
    fn of_the_money(&mut self) -> &mut EntryDraft {
        self.received.as_mut().unwrap_or(&mut self.earned)
    }
}

fn post(
    pen: &Pen<'_>,
    recording: &mut Recording,
    into: MoneyAccount,
    lines: &[PaidLine],
    figures: &Figures,
    earned_on: NaiveDate,
) -> Result<Option<usize>, Refusal> {
    let (date, text) = (recording.date, recording.text.clone());
    let received = (earned_on != date).then(|| pen.entry(date, text.clone()));
    let mut entries = Entries { earned: pen.entry(earned_on, text), received };
    entries.of_the_money().debit(into.receiving(), figures.net()?, None);
    let fees = Account::Expense(ExpenseClass::CommissionsFees);
    entries.earned.debit(fees, figures.fees, TaxClass::CommissionsFees);
    let money = entries.of_the_money();
    money.debit(Account::Draw(Draw::TaxPayments), figures.tax_withheld, TaxClass::OwnerTax);
    money.debit(Account::PlatformReserves, figures.reserve_held, None);
    money.credit(Account::PlatformReserves, figures.reserve_released, None);
    let Entries { earned: mut entry, received } = entries;
    entry.debit(Account::ReturnsAllowances, figures.taken_back(), TaxClass::ReturnsAllowances);
    for stream in Stream::ALL.iter().copied() {
        let of_stream = lines.iter().filter(|line| line.stream == stream).map(|line| line.gross);
        let gross = Money::sum(pen.base(), of_stream)?;
        entry.credit(Account::Income(stream), gross, stream.tax_class());
        if !gross.is_zero() {
            recording.streams.push(stream);
        }
    }
    if figures.adjustments.is_positive() {
        entry.credit(Account::Income(Stream::Other), figures.adjustments, TaxClass::OtherIncome);
        if !recording.streams.contains(&Stream::Other) {
            recording.streams.push(Stream::Other);
        }
    }
    let Some(mut received) = received else { return recording.post(entry) };
    let owed = figures.owed()?;
    entry.debit(Account::PlatformReceivables, owed, None);
    received.credit(Account::PlatformReceivables, owed, None);
    let place = recording.post(entry)?;
    recording.post(received)?;
    Ok(place)
}

/// The statement's figures in its own currency, its net checked against them.
fn figures_of(asked: &NewPayout, lines: &[PaidLine], exchange: Exchange) -> Result<Figures, Refusal> {
    let mut findings = Findings::new();
    let fees = findings.keep(exchange.part(asked.fees).at("/fees"));
    let tax_withheld = findings.keep(exchange.part(asked.tax_withheld).at("/tax_withheld"));
    let reserve_held = findings.keep(exchange.part(asked.reserve_held).at("/reserve_held"));
    let reserve_released = findings.keep(exchange.part(asked.reserve_released).at("/reserve_released"));
    let nothing = Money::zero(exchange.currency);
    let adjustments = asked.adjustments.map_or(Ok(nothing), |amount| exchange.own(amount));
    let adjustments = findings.keep(adjustments.at("/adjustments"));
    let net = findings.keep(asked.net.not_negative(exchange.currency).at("/net"));
    findings.or_refuse()?;
    let figures = Figures {
        gross: Money::sum(exchange.currency, lines.iter().map(|line| line.own)).at("/lines")?,
        fees: fees.unwrap_or(nothing),
        tax_withheld: tax_withheld.unwrap_or(nothing),
        reserve_held: reserve_held.unwrap_or(nothing),
        reserve_released: reserve_released.unwrap_or(nothing),
        adjustments: adjustments.unwrap_or(nothing),
    };
    if lines.is_empty() && figures.reserve_released.is_zero() && figures.adjustments.is_zero() {
        return Err(Refusal::new("/lines", PayoutFinding::Nothing));
    }
    let (comes_to, net) = (figures.net()?, net.unwrap_or(nothing));
    if comes_to != net {
        return Err(Refusal::new("/net", PayoutFinding::NetDiffers { comes_to, net }));
    }
    let taken = figures.taken_back();
    if taken.amount() > figures.gross.amount() {
        let why = PayoutFinding::TakenBackBeyondGross { taken, gross: figures.gross };
        return Err(Refusal::new("/adjustments", why));
    }
    Ok(figures)
}

fn remark(
    recording: &mut Recording,
    figures: &Figures,
    exchange: Exchange,
    net: Money,
    earned_on: NaiveDate,
) {
    let date = recording.date;
    let notes = &mut recording.notes;
    notes.push(if earned_on == date {
        format!(
            "Income is the gross, {}, of the day it was received; {net} reached the account.",
            figures.gross
        )
    } else {
        format!(
            "Income is the gross, {}, earned by {earned_on}; {net} reached the account on {date}.",
            figures.gross
        )
    });
    if !figures.tax_withheld.is_zero() {
        notes.push(format!(
            "The tax withheld, {}, is the owner's own tax paid ahead, not an expense.",
            figures.tax_withheld
        ));
    }
    if !figures.reserve_held.is_zero() {
        notes.push(format!(
            "{} is held back: it counts as income now and waits in the platform's reserve.",
            figures.reserve_held
        ));
    }
    if exchange.currency != exchange.base {
        notes.push(format!(
            "Every figure was brought from {} to {} at {}; the net is what they come to.",
            exchange.currency, exchange.base, exchange.rate
        ));
    }
}
