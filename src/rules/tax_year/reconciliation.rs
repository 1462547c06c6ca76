//! From gross income by stream to the cash that came in: what an information return shows is gross, what the bank
//! shows is net.

use serde::Serialize;
use utoipa::ToSchema;

use super::super::journal::TaxClass;
use super::super::money::{Money, MoneyFinding};
use super::super::rows::{Instalment, Payout, SaleCharacter};
use super::facts::YearFacts;
use super::form::postings;
use super::questions::{Questions, Topic};

/// The year's gross income of one class.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StreamGross {
    pub class: TaxClass,
    pub gross: Money,
    pub drill_down: String,
}

/// One step on the way from gross to received; what lowers it is negative.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ReconcilingStep {
    pub text: String,
    pub amount: Money,
}

/// Gross by stream, and step by step what was received of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Reconciliation {
    /// The gross, one class of income a line.
    pub by_stream: Vec<StreamGross>,
    pub gross: Money,
    /// What was kept, taken off or still owed, one step a line.
    pub steps: Vec<ReconcilingStep>,
    /// Gross and all steps: the money that reached the owner for the year's income.
    pub received: Money,
    /// Of it, by statements of platforms, by instalments of sponsors, and in other ways.
    pub by_statements: Money,
    pub by_instalments: Money,
    pub in_other_ways: Money,
    /// Whether every statement and instalment adds up by itself and none shows more than the books.
    pub agrees: bool,
}

const INCOME: [TaxClass; 9] = [
    TaxClass::Sponsorship,
    TaxClass::GoodsForPromotion,
    TaxClass::AdvertisingIncome,
    TaxClass::Memberships,
    TaxClass::Tips,
    TaxClass::Affiliate,
    TaxClass::Licensing,
    TaxClass::FurnitureSales,
    TaxClass::OtherIncome,
];

/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(super) fn reconcile(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<Reconciliation, MoneyFinding> {
    let base = facts.books.base;
    let mut by_stream = Vec::new();
    for class in INCOME {
        let gross = facts.of_classes(&[class])?.negated();
        if !gross.is_zero() {
            by_stream.push(StreamGross { class, gross, drill_down: postings(facts, &[class]) });
        }
    }
    let gross = Money::sum(base, by_stream.iter().map(|one| one.gross))?;
    let steps = steps(facts)?;
    let received = steps.iter().try_fold(gross, |sum, step| sum.plus(step.amount))?;
    let by_statements = Money::sum(base, facts.payouts.iter().map(|payout| payout.net))?;
    let by_instalments = Money::sum(base, facts.instalments.iter().map(|one| one.net))?;
    let in_other_ways = received.minus(by_statements)?.minus(by_instalments)?;
    let agrees = ask(facts, gross, questions)?;
    Ok(Reconciliation {
        by_stream,
        gross,
        steps,
        received,
        by_statements,
        by_instalments,
        in_other_ways,
        agrees,
    })
}

fn steps(facts: &YearFacts) -> Result<Vec<ReconcilingStep>, MoneyFinding> {
    let base = facts.books.base;
    let of_payouts = |part: fn(&Payout) -> Money| Money::sum(base, facts.payouts.iter().map(part));
    let of_instalments =
        |part: fn(&Instalment) -> Money| Money::sum(base, facts.instalments.iter().map(part));
    let furniture_fees =
        facts.piece_sales.iter().filter(|one| one.sale.character == SaleCharacter::StockInTrade);
    let withheld = of_payouts(|one| one.tax_withheld)?.plus(of_instalments(|one| one.tax_withheld)?)?;
    let steps = [
        ("goods received instead of money", facts.of_classes(&[TaxClass::GoodsForPromotion])?),
        ("invoiced to sponsors, whenever it is paid", facts.receivables.invoiced.negated()),
        ("paid by sponsors on invoices", facts.receivables.settled),
        ("lost on exchange between invoice and payment", facts.receivables.exchange_losses.negated()),
        // What statements correct is here where it was taken back, and in the gross where it was added.
        (
            "paid back to sponsors and buyers, taken back by platforms",
            facts.of_classes(&[TaxClass::ReturnsAllowances])?.negated(),
        ),
        ("kept by platforms", of_payouts(|one| one.fees)?.negated()),
        ("kept by agencies", of_instalments(|one| one.kept_by_agency)?.negated()),
        ("kept by banks", of_instalments(|one| one.kept_by_bank)?.negated()),
        ("tax withheld", withheld.negated()),
        ("held in reserve by platforms", of_payouts(|one| one.reserve_held)?.negated()),
        ("released from reserves", of_payouts(|one| one.reserve_released)?),
        ("fees on furniture sold", Money::sum(base, furniture_fees.map(|one| one.sale.fees))?.negated()),
    ];
    let named = steps.into_iter().filter(|(_, amount)| !amount.is_zero());
    Ok(named.map(|(text, amount)| ReconcilingStep { text: text.to_owned(), amount }).collect())
}

fn payout_adds_up(payout: &Payout) -> Result<bool, MoneyFinding> {
    let net = payout
        .gross
        .minus(payout.fees)?
        .minus(payout.tax_withheld)?
        .minus(payout.reserve_held)?
        .plus(payout.reserve_released)?
        .plus(payout.adjustments)?;
    Ok(net == payout.net)
}

fn instalment_adds_up(one: &Instalment) -> Result<bool, MoneyFinding> {
    let net = one.gross.minus(one.kept_by_agency)?.minus(one.kept_by_bank)?.minus(one.tax_withheld)?;
    Ok(net == one.net)
}

fn ask(facts: &YearFacts, gross: Money, questions: &mut Questions) -> Result<bool, MoneyFinding> {
    let mut about = Vec::new();
    for payout in &facts.payouts {
        if !payout_adds_up(payout)? {
            about.push(format!("/v1/payouts, received {}", payout.received_on));
        }
    }
    for one in &facts.instalments {
        if !instalment_adds_up(one)? {
            about.push(format!("/v1/deals/{}/standing", one.deal));
        }
    }
    let mut agrees = about.is_empty();
    questions.ask_about(
        Topic::Statements,
        "On these, gross less what was kept does not come to what was received. What is missing?",
        about,
    );
    let base = facts.books.base;
    let by_statements = Money::sum(base, facts.payouts.iter().map(|one| one.gross))?;
    let by_instalments = Money::sum(base, facts.instalments.iter().map(|one| one.gross))?;
    let shown = by_statements.plus(by_instalments)?;
    let owed = &facts.receivables;
    let in_money = gross
        .plus(facts.of_classes(&[TaxClass::GoodsForPromotion])?)?
        .minus(owed.invoiced)?
        .plus(owed.settled)?
        .minus(owed.exchange_losses)?;
    for due in &owed.due {
        questions.ask(
            Topic::Receivables,
            format!(
                "{} {} of '{}' was due by the year's end and is neither invoiced nor paid. Was it earned, and is it \
                 income of the year in these accrual books?",
                due.amount,
                due.amount.currency(),
                due.title
            ),
            [format!("/v1/deals/{}/standing", due.deal)],
        );
    }
    if shown.amount() > in_money.amount() {
        agrees = false;
        questions.ask(
            Topic::Statements,
            format!(
                "Statements and instalments show {shown} gross, more than the {in_money} of income in money that the \
                 books have for the year. An information return would show the gross: what is missing, or belongs to \
                 another year?"
            ),
            ["/v1/payouts".to_owned(), "/v1/deals/records".to_owned()],
        );
    }
    Ok(agrees)
}
