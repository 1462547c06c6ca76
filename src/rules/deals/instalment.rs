//! Money comes in on a deal.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::invoice::settle;
use super::{DealFacts, DealFinding, in_currency_of, weighted};
use crate::rules::ids::MoneyAccountId;
use crate::rules::journal::{Account, Draw, ExpenseClass, JournalFinding, Stream, TaxClass};
use crate::rules::money::{Amount, Currency, Exchange, Money, MoneyFinding, Rate};
use crate::rules::named::named;
use crate::rules::objects::ObjectShare;
use crate::rules::recording::{
    AccountingMethod, Category, Label, MoneyAccount, MovementKind, Pen, Recording, Side, Source, SourceKind,
    Word,
};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Instalment, ReceivedFrom, Row, Settlement};

named! {
    /// Why an instalment may go beyond the total agreed.
    pub enum Beyond {
        /// The sponsor agreed to pay more than the deal says.
        AgreedExtra => "agreed_extra",
    }
}

/// A sum that came in on a deal, with what others kept of it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewInstalment {
    /// The day the money reached your account.
    pub date: NaiveDate,
    /// What the sponsor paid, before anybody kept something of it.
    pub gross: Amount,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_by_agency: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_by_bank: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_withheld: Option<Amount>,
    /// What reached the account; it must be gross less what was kept.
    pub net: Amount,
    /// Who handed it over; the sponsor where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_from: Option<ReceivedFrom>,
    /// The day an agency had it for you, which is the day of the income; `date` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub income_on: Option<NaiveDate>,
    pub paid_into: MoneyAccountId,
    /// The episodes and projects it counts for; the deal's own where it is left out.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    pub counts_for: Vec<ObjectShare>,
    /// The deal's where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// Needed where it goes beyond the total agreed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beyond: Option<Beyond>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The figures of an instalment, all of one currency.
#[derive(Clone, Copy)]
struct Figures {
    gross: Money,
    agency: Money,
    bank: Money,
    withheld: Money,
}

impl Figures {
    /// What the agency passes on.
    fn passed_on(self) -> Result<Money, MoneyFinding> {
        self.gross.minus(self.agency)
    }

    fn net(self) -> Result<Money, MoneyFinding> {
        self.passed_on()?.minus(self.bank)?.minus(self.withheld)
    }
}

/// Records an instalment: income is the gross, on the day it was the owner's to have.
///
/// Where an agency had it earlier, one entry of that day takes the income in against sponsors' receivables, and
/// one of the day it was received clears them; both at one rate in a foreign currency. What agency and bank kept
/// is a fee that follows the income's attribution; tax withheld is the owner's own.
/// # Errors
/// [`DealFinding`]: a net that is not what the figures come to (both said), more than agreed without `beyond`,
/// days out of order; closed days at `/date` and `/income_on`.
/// # Source
/// Pub. 538, Cash Method, constructive receipt through an agent; Schedule C instructions, line 1 (gross): from
/// memory.
pub fn receive(
    pen: &mut Pen<'_>,
    deal: &DealFacts,
    into: MoneyAccount,
    asked: &NewInstalment,
) -> Result<Recording, Refusal> {
    let income_on = asked.income_on.unwrap_or(asked.date);
    let mut findings = Findings::new();
    findings.keep(days(pen, deal, asked.date, income_on));
    let sums = findings.keep(sums(pen, deal, asked));
    findings.or_refuse()?;
    let Some((exchange, own, figures)) = sums else {
        return Err(Refusal::new("/gross", MoneyFinding::NotPositive { amount: asked.gross.decimal() }));
    };
    let text = format!("instalment: {}", deal.deal.title);
    let mut recording = Recording::new(Word::Deals, "instalment", asked.date, text);
    let from = asked.received_from.unwrap_or(ReceivedFrom::Sponsor);
    recording.party = Some(match from {
        ReceivedFrom::Agency => deal.deal.agency.unwrap_or(deal.deal.sponsor),
        ReceivedFrom::Sponsor => deal.deal.sponsor,
    });
    recording.streams.push(Stream::Sponsorship);
    recording.depends_on.push(deal.record);
    let settlements = settle(&deal.invoices, own.gross, income_on)?;
    recording.depends_on.extend(settlements.iter().map(|one| one.invoice));
    let income = Income::of(pen, exchange, own.gross, figures.gross, &settlements)?;
    let earned = post(pen, &mut recording, into, income_on, figures, income)?;
    open_sources(pen, &mut recording, deal, asked, (income_on, figures, income, earned))?;
    let net = figures.net()?;
    recording.rows.push(Row::Instalment(Instalment {
        deal: deal.deal.id,
        counts: own.gross,
        gross: figures.gross,
        settled: income.settled,
        exchange_gain: income.exchange_gain,
        kept_by_agency: figures.agency,
        kept_by_bank: figures.bank,
        tax_withheld: figures.withheld,
        net,
        received_from: from,
        income_on,
        received_on: asked.date,
    }));
    recording.rows.extend(settlements.into_iter().map(Row::Settlement));
    remark(&mut recording, exchange, income_on, figures, income, net);
    if from == ReceivedFrom::Agency && income_on < asked.date {
        recording.notes.push(format!(
            "What the agency had for the owner on {income_on} counts as received that day (Pub. 538, constructive \
             receipt, from memory)."
        ));
    }
    Ok(recording)
}

/// What the gross is made of, in the books' own currency.
#[derive(Clone, Copy)]
struct Income {
    /// Booked before, with the invoices it settles.
    settled: Money,
    /// Of the day it came in.
    new: Money,
    /// What the rate moved since the invoices; negative for a loss.
    exchange_gain: Money,
}

impl Income {
    /// On the cash basis all of it is new, whatever was invoiced.
    fn of(
        pen: &Pen<'_>,
        exchange: Exchange,
        own_gross: Money,
        gross: Money,
        settlements: &[Settlement],
    ) -> Result<Self, Refusal> {
        let nothing = Money::zero(pen.base());
        if pen.books.method == AccountingMethod::Cash || settlements.is_empty() {
            return Ok(Self { settled: nothing, new: gross, exchange_gain: nothing });
        }
        let counts = Money::sum(own_gross.currency(), settlements.iter().map(|one| one.counts))?;
        let settled = Money::sum(pen.base(), settlements.iter().map(|one| one.booked))?;
        let new = exchange.in_base(own_gross.minus(counts)?)?;
        Ok(Self { settled, new, exchange_gain: gross.minus(settled)?.minus(new)? })
    }
}

fn days(pen: &Pen<'_>, deal: &DealFacts, date: NaiveDate, income_on: NaiveDate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(date));
    let first_open = pen.books.first_open;
    if income_on > date {
        findings.add(Refusal::new("/income_on", DealFinding::IncomeAfterReceipt { income_on, date }));
    } else if income_on < first_open && income_on != date {
        let why = JournalFinding::ClosedPeriod { date: income_on, first_open };
        findings.add(Refusal::new("/income_on", why));
    }
    findings.keep(deal.since_agreed(date));
    findings.or_refuse()
}

/// The figures in the deal's currency and in the books' own, checked against the net and the total.
fn sums(
    pen: &Pen<'_>,
    facts: &DealFacts,
    asked: &NewInstalment,
) -> Result<(Exchange, Figures, Figures), Refusal> {
    let currency = in_currency_of(&facts.deal, asked.currency)?;
    let exchange = Exchange::of(Some(currency), asked.rate, pen.base())?;
    let mut findings = Findings::new();
    let gross = findings.keep(asked.gross.positive(currency).at("/gross"));
    let agency = findings.keep(exchange.part(asked.kept_by_agency).at("/kept_by_agency"));
    let bank = findings.keep(exchange.part(asked.kept_by_bank).at("/kept_by_bank"));
    let withheld = findings.keep(exchange.part(asked.tax_withheld).at("/tax_withheld"));
    let net = findings.keep(asked.net.not_negative(currency).at("/net"));
    if let Some(gross) = gross {
        findings.keep(within_total(facts, gross, asked.beyond));
    }
    findings.or_refuse()?;
    let nothing = Money::zero(currency);
    let own = Figures {
        gross: gross.unwrap_or(nothing),
        agency: agency.unwrap_or(nothing),
        bank: bank.unwrap_or(nothing),
        withheld: withheld.unwrap_or(nothing),
    };
    let (comes_to, net) = (own.net()?, net.unwrap_or(nothing));
    if comes_to != net {
        return Err(Refusal::new("/net", DealFinding::NetDiffers { comes_to, net }));
    }
    let gross = exchange.in_base(own.gross).at("/gross")?;
    if gross.is_zero() {
        return Err(Refusal::new("/gross", MoneyFinding::NotPositive { amount: gross.amount() }));
    }
    let figures = Figures {
        gross,
        agency: exchange.in_base(own.agency).at("/kept_by_agency")?,
        bank: exchange.in_base(own.bank).at("/kept_by_bank")?,
        withheld: exchange.in_base(own.withheld).at("/tax_withheld")?,
    };
    Ok((exchange, own, figures))
}

fn within_total(facts: &DealFacts, gross: Money, beyond: Option<Beyond>) -> Result<(), Refusal> {
    let (agreed, so_far) = (facts.deal.agreed, facts.gross_so_far);
    let over = so_far.plus(gross)?.minus(agreed)?;
    match beyond {
        None if over.is_positive() => {
            Err(Refusal::new("/gross", DealFinding::BeyondTotal { agreed, so_far, gross, over }))
        }
        _ => Ok(()),
    }
}

/// Where the income and the bank's part stand among the entries.
struct Posted {
    income: Option<usize>,
    bank: Option<usize>,
}

fn post(
    pen: &Pen<'_>,
    recording: &mut Recording,
    into: MoneyAccount,
    income_on: NaiveDate,
    figures: Figures,
    income: Income,
) -> Result<Posted, Refusal> {
    let Figures { agency, bank, withheld, .. } = figures;
    let text = recording.text.clone();
    let mut earned = pen.entry(income_on, text.clone());
    let mut received = pen.entry(recording.date, text);
    let apart = income_on != recording.date;
    earned.debit(Account::Expense(ExpenseClass::CommissionsFees), agency, TaxClass::CommissionsFees);
    earned.credit(Account::Income(Stream::Sponsorship), income.new, TaxClass::Sponsorship);
    earned.credit(Account::SponsorReceivables, income.settled, None);
    earned.exchange(income.exchange_gain);
    if apart {
        earned.debit(Account::SponsorReceivables, figures.passed_on()?, None);
        received.credit(Account::SponsorReceivables, figures.passed_on()?, None);
    }
    let last = if apart { &mut received } else { &mut earned };
    last.debit(into.receiving(), figures.net()?, None);
    last.debit(Account::Expense(ExpenseClass::BankFees), bank, TaxClass::BankFees);
    last.debit(Account::Draw(Draw::TaxPayments), withheld, TaxClass::OwnerTax);
    let income = recording.post(earned)?;
    let bank = if apart { recording.post(received)? } else { income };
    Ok(Posted { income, bank })
}

fn open_sources(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    deal: &DealFacts,
    asked: &NewInstalment,
    (income_on, figures, income, posted): (NaiveDate, Figures, Income, Posted),
) -> Result<(), Refusal> {
    let label = Label::Stream(Stream::Sponsorship);
    let of_source = |id, side, text| Source { id, side, kind: SourceKind::Instalment, text };
    if income.new.is_positive() {
        let id = pen.new_source();
        let source = of_source(id, Side::Income, recording.text.clone());
        recording.open_source(source, income_on, income.new, posted.income);
        for (object, part) in weighted(income.new, &asked.counts_for, &deal.objects).at("/for")? {
            recording.attribute(id, income_on, object, label, part);
        }
    }
    open_exchange(pen, recording, deal, asked, (income_on, income.exchange_gain, posted.income))?;
    if figures.agency.is_zero() && figures.bank.is_zero() {
        return Ok(());
    }
    let id = pen.new_source();
    recording.sources.push(of_source(id, Side::Fee, format!("{}: kept by others", recording.text)));
    let kept = [(income_on, figures.agency, posted.income), (recording.date, figures.bank, posted.bank)];
    for (date, fee, entry) in kept {
        recording.moves(id, date, MovementKind::Incurred, fee, entry);
        for (object, part) in weighted(fee, &asked.counts_for, &deal.objects).at("/for")? {
            recording.attribute(id, date, object, label, part);
        }
    }
    Ok(())
}

/// An exchange gain or loss goes where the instalment's income goes.
fn open_exchange(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    deal: &DealFacts,
    asked: &NewInstalment,
    (date, gain, entry): (NaiveDate, Money, Option<usize>),
) -> Result<(), Refusal> {
    let text = format!("{}: exchange", recording.text);
    let Some((id, side)) = recording.open_exchange(pen, text, (date, gain, entry)) else { return Ok(()) };
    let label = match side {
        Side::Income => Label::Stream(Stream::Other),
        _ => Label::Category(Category::Other),
    };
    for (object, part) in weighted(gain.absolute(), &asked.counts_for, &deal.objects).at("/for")? {
        recording.attribute(id, date, object, label, part);
    }
    Ok(())
}

fn remark(
    recording: &mut Recording,
    exchange: Exchange,
    income_on: NaiveDate,
    figures: Figures,
    income: Income,
    net: Money,
) {
    let date = recording.date;
    let notes = &mut recording.notes;
    if income.settled.is_zero() {
        notes.push(format!(
            "Income is the gross, {}, dated {income_on}; {net} reached the account on {date}.",
            figures.gross
        ));
    } else {
        notes.push(format!(
            "{} of it was invoiced before and is income of those days, {} is income of {income_on}; {net} reached \
             the account on {date}.",
            income.settled, income.new
        ));
    }
    if !income.exchange_gain.is_zero() {
        let (amount, what) = (income.exchange_gain.absolute(), income.exchange_gain.is_negative());
        let what = if what { "a loss, a cost" } else { "a gain, other income" };
        notes.push(format!("The rate moved between invoice and payment: {amount} is {what}."));
    }
    if !figures.withheld.is_zero() {
        let withheld = figures.withheld;
        notes.push(format!(
            "The tax withheld, {withheld}, is the owner's own tax paid ahead, not an expense."
        ));
    }
    if exchange.currency != exchange.base {
        notes.push(format!(
            "Every figure was brought from {} to {} at {}; the net is what they come to.",
            exchange.currency, exchange.base, exchange.rate
        ));
    }
}
