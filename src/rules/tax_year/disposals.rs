//! Business property that left in the year: its gain belongs to Form 4797, never to the business's own form.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::furniture::{Outcome, outcome};
use super::super::money::{Money, MoneyFinding};
use super::super::rows::{Basis, DisposalKind, SaleCharacter};
use super::depreciation::{Plan, Standing};
use super::facts::{PieceSaleFacts, YearFacts};
use super::questions::{Questions, Topic};

/// One thing of the business that left.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BusinessSale {
    /// The thing by its name.
    pub what: String,
    /// Where the thing stands with its record.
    pub drill_down: String,
    pub date: NaiveDate,
    pub leaving: DisposalKind,
    /// The business share of what was received, net of selling fees.
    pub proceeds: Money,
    /// The business share of the cost, by the average of its years; none where nobody knows it.
    pub cost: Option<Money>,
    /// All that was taken on it, this year's part and what was written off at once included, less what came back into
    /// income.
    pub depreciation: Option<Money>,
    /// What is left of the basis; where there are two, of the one a gain is counted from.
    pub basis: Option<Money>,
    /// What is left of the basis a loss is counted from, where that is lower: it was private before, or a gift. Proceeds
    /// between the two give neither gain nor loss.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis_for_loss: Option<Money>,
    pub gain: Option<Money>,
    /// The part of the gain that is ordinary income: as far as depreciation reaches (section 1245).
    pub ordinary: Option<Money>,
    /// The gain above the cost.
    pub section_1231: Option<Money>,
    /// Positive where basis was left that nothing came in for.
    pub loss: Option<Money>,
    pub says: String,
}

/// All of the year's, with its questions.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(super) fn of_year(
    facts: &YearFacts,
    plans: &[Plan<'_>],
    questions: &mut Questions,
) -> Result<Vec<BusinessSale>, MoneyFinding> {
    let mut sales = Vec::new();
    for plan in plans {
        if plan.opened.disposal.is_some_and(|gone| gone.date.year() == facts.year()) {
            sales.extend(of_tool(plan, facts, questions)?);
        }
    }
    for piece in &facts.piece_sales {
        if piece.sale.character == SaleCharacter::BusinessProperty {
            sales.push(of_set_piece(piece, questions)?);
        }
    }
    sales.sort_by(|one, other| one.date.cmp(&other.date).then_with(|| one.what.cmp(&other.what)));
    Ok(sales)
}

fn of_tool(
    plan: &Plan<'_>,
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<Option<BusinessSale>, MoneyFinding> {
    let (Some(gone), tool) = (plan.opened.disposal, plan.opened.tool) else { return Ok(None) };
    if plan.opened.standing == Standing::NoBasis && gone.proceeds.is_zero() {
        return Ok(None);
    }
    let (prior, charge) = plan.through(facts.year())?;
    let depreciation = prior.plus(charge.net()?)?;
    let cost = plan.business_cost(depreciation)?;
    let bases = Bases::of(plan, cost, depreciation)?;
    let leaving = gone.kind;
    let proceeds = business_part(gone.proceeds, plan, cost)?;
    ask(plan, facts, cost, questions);
    let zero = Money::zero(cost.currency());
    let sale = |gain, ordinary, section_1231, loss, says: &str| BusinessSale {
        what: tool.name.clone(),
        drill_down: format!("/v1/tools/{}/standing", tool.id),
        date: gone.date,
        leaving,
        proceeds,
        cost: Some(bases.cost),
        depreciation: Some(depreciation),
        basis: Some(bases.for_gain),
        basis_for_loss: Some(bases.for_loss).filter(|lower| *lower != bases.for_gain),
        gain: Some(gain),
        ordinary: Some(ordinary),
        section_1231: Some(section_1231),
        loss: Some(loss),
        says: says.to_owned(),
    };
    if gone.kind == DisposalKind::PersonalUse {
        return Ok(Some(sale(zero, zero, zero, zero, "taken for private use: neither gain nor loss")));
    }
    let loss = bases.for_loss.minus(proceeds)?;
    if loss.is_positive() {
        let says = "a loss under section 1231; Form 4797 (from memory)";
        return Ok(Some(sale(zero, zero, zero, loss, says)));
    }
    let result = proceeds.minus(bases.for_gain)?;
    if result.is_negative() {
        let says =
            "between the basis for a gain and the basis for a loss: neither; Form 4797 (Pub. 551, seen)";
        return Ok(Some(sale(zero, zero, zero, zero, says)));
    }
    let expensed = matches!(plan.opened.standing, Standing::Small(_));
    let ordinary = if expensed { result } else { result.at_most(depreciation) };
    let above = result.minus(ordinary)?;
    let says = if expensed {
        "written off at once before, so the whole gain is ordinary; Form 4797 (from memory)"
    } else {
        "ordinary as far as depreciation was taken, section 1231 above the cost (section 1245; Pub. 544 ch. 3, seen)"
    };
    Ok(Some(sale(result, ordinary, above, zero, says)))
}

/// The business's part of an amount that belongs to the whole tool, as its `cost` is of the tool's.
fn business_part(of_tool: Money, plan: &Plan<'_>, cost: Money) -> Result<Money, MoneyFinding> {
    if cost == plan.opened.basis {
        of_tool.portion(plan.opened.first_share(), Decimal::ONE_HUNDRED)
    } else {
        of_tool.portion(cost.amount(), plan.opened.tool.cost.amount())
    }
}

/// The business share of what the tool had cost, and what is left of it after depreciation, by either basis.
#[derive(Clone, Copy)]
struct Bases {
    cost: Money,
    for_gain: Money,
    for_loss: Money,
}

impl Bases {
    /// # Source
    /// Pub. 551, property changed to business or rental use (its example of a sale seen): depreciation lowers both.
    fn of(plan: &Plan<'_>, cost: Money, depreciation: Money) -> Result<Self, MoneyFinding> {
        let for_loss = cost.minus(depreciation)?;
        let tool = plan.opened.tool;
        if tool.basis_for_gain == tool.cost {
            return Ok(Self { cost, for_gain: for_loss, for_loss });
        }
        let had_cost = business_part(tool.basis_for_gain, plan, cost)?;
        Ok(Self { cost: had_cost, for_gain: had_cost.minus(depreciation)?, for_loss })
    }
}

/// A set piece gives what its sale recorded; how its cost was deducted before decides what the gain is.
fn of_set_piece(piece: &PieceSaleFacts, questions: &mut Questions) -> Result<BusinessSale, MoneyFinding> {
    let sale = &piece.sale;
    let proceeds = sale.gross.minus(sale.fees)?;
    let zero = Money::zero(proceeds.currency());
    let about = [format!("/v1/furniture/{}/standing", piece.piece)];
    let basis = match sale.basis {
        Basis::Known(basis) => Some(basis),
        Basis::Unknown => None,
    };
    questions.ask(
        Topic::BusinessSales,
        format!(
            "The set piece '{}' was sold for {proceeds} net: was its cost deducted before, and as what? The gain is \
             ordinary as far as it was.",
            piece.name
        ),
        about,
    );
    let (gain, loss) = match outcome(sale)? {
        Outcome::Gain(gain) => (Some(gain), Some(zero)),
        Outcome::Loss(loss) => (Some(zero), Some(loss)),
        Outcome::Even => (Some(zero), Some(zero)),
        Outcome::Unknown => (None, None),
    };
    let deducted = basis.is_some_and(Money::is_zero);
    Ok(BusinessSale {
        what: piece.name.clone(),
        drill_down: format!("/v1/furniture/{}/standing", piece.piece),
        date: sale.date,
        leaving: DisposalKind::Sold,
        proceeds,
        cost: None,
        depreciation: None,
        basis,
        basis_for_loss: sale.basis_for_loss,
        gain,
        ordinary: if deducted { gain } else { None },
        section_1231: if deducted { Some(zero) } else { None },
        loss,
        says: "a piece the business used; Form 4797 (from memory)".to_owned(),
    })
}

fn ask(plan: &Plan<'_>, facts: &YearFacts, business_cost: Money, questions: &mut Questions) {
    let (Some(gone), tool) = (plan.opened.disposal, plan.opened.tool) else { return };
    let about = || [format!("/v1/tools/{}/standing", tool.id)];
    if gone.kind == DisposalKind::Stolen {
        let question = format!(
            "'{}' was stolen: is an insurance payment still to come? A gain on it can be put off by replacing it.",
            tool.name
        );
        questions.ask(Topic::BusinessSales, question, about());
    }
    if gone.kind == DisposalKind::PersonalUse && plan.could_still_fall_in(facts.year()) {
        let question = format!(
            "'{}' went to private use, and more was taken on it than the slower way gives. Some of that comes back into \
             income where its use of the year was half or less for the business: state that share (POST /v1/tools/{{id}}/business-shares), \
             and it is worked out.",
            tool.name
        );
        questions.ask(Topic::Recapture, question, about());
    }
    if plan.opened.section_179.is_positive() && facts.section_179_brought_forward.is_positive() {
        let question = format!(
            "Section 179 of earlier years was not all allowed. Was any of it for '{}', which left this year? It goes \
             back into its basis.",
            tool.name
        );
        questions.ask(Topic::Section179, question, about());
    }
    if !gone.proceeds.is_positive() {
        return;
    }
    if business_cost != plan.opened.basis {
        let question = format!(
            "The business share of '{}' changed by year: {business_cost} of its cost of {} and as much of its price \
             are taken as the business's, by the average of its years and no less than was written off. What does its \
             use over all of them show? The rest is a private sale.",
            tool.name, tool.cost
        );
        questions.ask(Topic::BusinessSales, question, about());
    } else if plan.opened.first_share() < Decimal::ONE_HUNDRED {
        let question = format!(
            "'{}' was used {} % for the business: the rest of its price is a private sale, to be worked out apart.",
            tool.name,
            plan.opened.first_share().normalize()
        );
        questions.ask(Topic::BusinessSales, question, about());
    }
}
