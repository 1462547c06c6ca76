//! Money goes back to a sponsor.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{DealFacts, DealFinding, DealIncome, in_currency_of};
use crate::rules::ids::MoneyAccountId;
use crate::rules::journal::{Account, Stream, TaxClass};
use crate::rules::money::{Amount, Currency, Exchange, Money, Rate};
use crate::rules::objects::split_like;
use crate::rules::recording::{AccountingMethod, Label, MoneyAccount, MovementKind, Pen, Recording, Word};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Clawback, Row};
use crate::rules::split::split_by_largest_remainder;

/// What a sponsor took back, paid by you.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewClawback {
    /// The day it was paid back.
    pub date: NaiveDate,
    pub amount: Amount,
    pub paid_from: MoneyAccountId,
    /// The deal's where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Records what went back: returns and allowances when it is paid, and less income for the deal's episodes.
///
/// The deal's income sources give it back pro rata to what is left of each, and their episodes pro rata to what
/// they were given. For invariant 6 the account `returns_allowances` counts on the income side here: its debit is
/// the negative of the sources' `returned` movements.
/// # Errors
/// [`DealFinding::MoreThanReceived`] with both sums, [`DealFinding::OtherCurrency`]; a closed day.
/// # Source
/// Schedule C instructions, line 2 (returns and allowances), from memory; that a sponsor's clawback is one: common
/// practice, no source.
pub fn claw_back(
    pen: &mut Pen<'_>,
    deal: &DealFacts,
    from: MoneyAccount,
    asked: &NewClawback,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(asked.date));
    let incomes: Vec<_> = deal.incomes.iter().filter(|income| income.since <= asked.date).collect();
    let sums = findings.keep(sums(pen, deal, &incomes, asked));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let (counts, amount) = sums.unwrap_or((nothing, nothing));
    let text = format!("paid back to the sponsor: {}", deal.deal.title);
    let mut recording = Recording::new(Word::Deals, "clawback", asked.date, text.clone());
    recording.party = Some(deal.deal.sponsor);
    recording.streams.push(Stream::Sponsorship);
    recording.depends_on.push(deal.record);
    let mut entry = pen.entry(asked.date, text);
    entry.debit(Account::ReturnsAllowances, amount, TaxClass::ReturnsAllowances);
    entry.credit(from.paying(), amount, None);
    let place = recording.post(entry)?;
    let weights: Vec<_> = incomes.iter().map(|income| income.left.amount()).collect();
    for (income, back) in incomes.iter().zip(split_by_largest_remainder(amount, &weights)?) {
        if !back.is_zero() {
            recording.depends_on.push(income.record);
        }
        recording.moves(income.source, asked.date, MovementKind::Returned, back.negated(), place);
        for (object, part) in split_like(back, &income.attributed, income.left)? {
            let label = Label::Stream(Stream::Sponsorship);
            recording.attribute(income.source, asked.date, object, label, part.negated());
        }
    }
    let (deal, paid_on) = (deal.deal.id, asked.date);
    recording.rows.push(Row::Clawback(Clawback { deal, paid_on, counts, amount }));
    recording
        .notes
        .push("What went back reduces income of the day it was paid, whatever year it came in.".into());
    Ok(recording)
}

/// In the deal's currency and in the books' own.
fn sums(
    pen: &Pen<'_>,
    facts: &DealFacts,
    incomes: &[&DealIncome],
    asked: &NewClawback,
) -> Result<(Money, Money), Refusal> {
    let currency = in_currency_of(&facts.deal, asked.currency)?;
    let exchange = Exchange::of(Some(currency), asked.rate, pen.base())?;
    let counts = asked.amount.positive(currency).at("/amount")?;
    let amount = exchange.in_base(counts).at("/amount")?;
    let received = Money::sum(pen.base(), incomes.iter().map(|income| income.left))?;
    if amount.amount() > received.amount() {
        return Err(Refusal::new("/amount", DealFinding::MoreThanReceived { amount, received }));
    }
    // Accrual books have income that nobody has paid yet: it can not go back.
    if pen.books.method == AccountingMethod::Accrual && counts.amount() > facts.gross_so_far.amount() {
        let (amount, received) = (counts, facts.gross_so_far);
        return Err(Refusal::new("/amount", DealFinding::MoreThanReceived { amount, received }));
    }
    Ok((counts, amount))
}
