//! The yearly summary: the form's lines, the schedules behind them, the bridge from gross to cash, the choices in
//! force, and what a preparer would ask.

use serde::Serialize;
use utoipa::ToSchema;

use super::super::journal::{Account, EntryKind, ExpenseClass, Stream, TaxClass};
use super::super::money::{Currency, Money, MoneyFinding};
use super::super::refusal::Refusal;
use super::amended;
use super::depreciation::{self, DepreciationSchedule, Ground};
use super::disposals::{self, BusinessSale};
use super::elections::{self, ElectionInForce};
use super::facts::{OpeningStated, YearFacts};
use super::form::{self, FromSchedules, TaxLine};
use super::home_office::{self, HomeOfficeSchedule};
use super::payees::{self, InformationReturns};
use super::profile::{FigureOfLaw, FormStanding};
use super::questions::{Questions, TaxQuestion, Topic};
use super::reconciliation::{self, Reconciliation};
use super::schedules::{
    self, BesideTheForm, GiftSchedule, HomeSchedule, InventorySchedule, MileageSchedule, PersonalSales,
};
use super::section_179::Section179;
use super::{CAUTION, TaxFinding};

/// A year's working paper for the preparer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct YearSummary {
    pub jurisdiction: &'static str,
    pub year: i32,
    pub currency: Currency,
    pub form: &'static str,
    pub caution: &'static str,
    /// In the order of the form.
    pub lines: Vec<TaxLine>,
    pub depreciation: DepreciationSchedule,
    pub section_179: Section179,
    pub inventory: InventorySchedule,
    pub home: HomeSchedule,
    /// Where the simplified method for a home office is recorded.
    pub home_office: Option<HomeOfficeSchedule>,
    pub personal_sales: PersonalSales,
    /// The business's own things that left, one a line.
    pub business_sales: Vec<BusinessSale>,
    pub mileage: MileageSchedule,
    pub gifts: GiftSchedule,
    pub information_returns: InformationReturns,
    /// What the books hold and the form does not deduct.
    pub not_deducted: Vec<BesideTheForm>,
    /// What belongs on other forms.
    pub off_the_form: Vec<BesideTheForm>,
    pub reconciliation: Reconciliation,
    /// What the law's figures are and where they come from.
    pub figures: Vec<FigureOfLaw>,
    /// The year's recorded choices, and what the law gives without one.
    pub elections: Vec<ElectionInForce>,
    /// What only a person can answer.
    pub questions: Vec<TaxQuestion>,
}

impl YearSummary {
    /// What closing the year posts as depreciation: the same as the form's line.
    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn depreciation_to_post(&self) -> Result<Money, MoneyFinding> {
        depreciation_to_post(&self.depreciation, &self.section_179)
    }

    /// What closing the year posts as small tools.
    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn small_tools_to_post(&self) -> Result<Money, MoneyFinding> {
        self.depreciation.small_tools()
    }
}

fn depreciation_to_post(
    tools: &DepreciationSchedule,
    section_179: &Section179,
) -> Result<Money, MoneyFinding> {
    tools.special_allowance.plus(tools.yearly)?.plus(section_179.allowed)
}

/// Works the year out. The books' own year-end entries (depreciation, closing) are left out of the sums: what they
/// post is worked out here, and compared.
/// # Errors
/// [`TaxFinding::OtherCurrency`] if the books are not kept in the form's currency; [`MoneyFinding`] if a sum is too
/// large.
pub fn summarise(facts: &YearFacts) -> Result<YearSummary, Refusal> {
    let base = facts.books.base;
    if base.code() != facts.profile.currency {
        return Err(TaxFinding::OtherCurrency { base, asked: facts.profile.currency }.into());
    }
    let mut questions = Questions::default();
    let ground = Ground::of(facts);
    let plans = depreciation::plans(&facts.tools, &ground)?;
    let mut tools = depreciation::schedule(&plans, facts.year(), Money::zero(base))?;
    if facts.postings.iter().any(|sum| sum.kind == EntryKind::Depreciation && !sum.amount.is_zero()) {
        tools.says = depreciation::POSTED;
    }
    let inventory = schedules::inventory(facts, &mut questions)?;
    let home = schedules::home(facts, &mut questions)?;
    let personal_sales = schedules::personal_sales(facts, &mut questions)?;
    let business_sales = disposals::of_year(facts, &plans, &mut questions)?;
    let mileage = schedules::mileage(facts, &mut questions)?;
    let gifts = schedules::gifts(facts, &mut questions)?;
    depreciation::ask(facts, &plans, &mut questions)?;

    let office = home_office::measured(facts)?;

    let before_179 = tools.special_allowance.plus(tools.yearly)?;
    let mut given = FromSchedules {
        depreciation: before_179,
        recaptured: tools.recaptured,
        small_tools_by_election: tools.small_tools_by_election,
        small_tools_as_supplies: tools.small_tools_as_supplies,
        opening_stock: inventory.pieces_opening,
        closing_stock: inventory.pieces_closing,
        miles: mileage.miles,
        home_office: office.as_ref().map(|measured| measured.allowable),
    };
    // A home office is taken before section 179: so neither is cut by the other twice, and what section 179 leaves
    // carries over, while a home office would be lost.
    let income = form::exact(&form::fill(facts, &given)?, "31", facts)?;
    let limit = depreciation::dollar_limit_of_year(&plans, facts.year(), &ground)?;
    let section_179 =
        Section179::reckon(tools.section_179, limit, facts.section_179_brought_forward, income)?;
    given.depreciation = before_179.plus(section_179.allowed)?;
    let lines = form::fill(facts, &given)?;

    let home_office = home_office::schedule(facts, office, &lines)?;
    let mut not_deducted = schedules::not_deducted(facts, &personal_sales)?;
    not_deducted.extend(home_office.iter().flat_map(|one| home_office::not_deducted(facts, one)));

    ask_section_179(&section_179, &mut questions);
    home_office::ask(facts, home_office.as_ref(), &lines, &mut questions)?;
    ask_form(facts, &lines, &mut questions)?;
    amended::ask(facts, &lines, &mut questions)?;
    ask_posted(facts, &tools, &section_179, &mut questions)?;
    ask_records(facts, &mut questions)?;
    let reconciliation = reconciliation::reconcile(facts, &mut questions)?;
    Ok(YearSummary {
        jurisdiction: facts.profile.jurisdiction,
        year: facts.year(),
        currency: base,
        form: facts.profile.form,
        caution: CAUTION,
        lines,
        depreciation: tools,
        section_179,
        inventory,
        home,
        home_office,
        not_deducted,
        off_the_form: schedules::off_the_form(facts)?,
        personal_sales,
        business_sales,
        mileage,
        gifts,
        information_returns: payees::information_returns(facts, &mut questions)?,
        reconciliation,
        figures: facts.profile.figures(),
        elections: elections::in_force(facts),
        questions: questions.in_order(),
    })
}

fn ask_section_179(section_179: &Section179, questions: &mut Questions) {
    if section_179.carried_over.is_positive() {
        questions.ask(
            Topic::Section179,
            format!(
                "Section 179 of {} is elected or brought forward, and this business allows {} of it: {} goes to next \
                 year. Is there other active income, such as wages, that allows more?",
                section_179.elected, section_179.allowed, section_179.carried_over
            ),
            Vec::new(),
        );
    }
}

fn ask_form(facts: &YearFacts, lines: &[TaxLine], questions: &mut Questions) -> Result<(), Refusal> {
    if facts.profile.standing == FormStanding::Provisional {
        questions.ask(
            Topic::FormNotSeen,
            format!(
                "The form of {} had not been seen when this was written; its lines follow the year before. Are they \
                 still right?",
                facts.year()
            ),
            Vec::new(),
        );
    }
    let amount = |line| form::exact(lines, line, facts);
    if amount("16b")?.is_positive() {
        questions.ask(
            Topic::Interest,
            "Is any of the interest for a mortgage paid to a bank? It has a line of its own (16a).",
            [form::postings(facts, &[TaxClass::Interest])],
        );
    }
    if amount("31")?.is_negative() {
        questions.ask(
            Topic::Loss,
            "The year ends with a loss. Is everything put into the business at risk, and is it run for profit?",
            Vec::new(),
        );
    }
    if facts.profile.tips_deduction.is_some() && !facts.of_classes(&[TaxClass::Tips])?.is_zero() {
        questions.ask(
            Topic::Tips,
            "Supporters gave tips. Were they voluntary and in money, and what did platforms keep of them? Such tips may \
             have a deduction of their own on the owner's return, which is not worked out here (IRC 224, seen).",
            [form::postings(facts, &[TaxClass::Tips])],
        );
    }
    Ok(())
}

/// Compares what the year's closing posted with what is worked out here; nothing posted means not closed yet.
fn ask_posted(
    facts: &YearFacts,
    tools: &DepreciationSchedule,
    section_179: &Section179,
    questions: &mut Questions,
) -> Result<(), MoneyFinding> {
    let at_the_end = || facts.postings.iter().filter(|sum| sum.kind == EntryKind::Depreciation);
    if at_the_end().all(|sum| sum.amount.is_zero()) {
        return Ok(());
    }
    let (depreciation, small_tools) = (ExpenseClass::Depreciation, ExpenseClass::SmallTools);
    for (account, class, worked_out) in [
        (Account::Expense(depreciation), depreciation.tax_class(), depreciation_to_post(tools, section_179)?),
        (Account::Expense(small_tools), small_tools.tax_class(), tools.small_tools()?),
        (Account::Income(Stream::Other), TaxClass::OtherIncome, tools.recaptured.negated()),
    ] {
        let of_account = at_the_end().filter(|sum| sum.account == account).map(|sum| sum.amount);
        let posted = Money::sum(facts.books.base, of_account)?;
        if posted != worked_out {
            questions.ask(
                Topic::PostedDepreciation,
                format!(
                    "The year was closed with {} of {class}, but its tools now come to {}: was a tool or a choice \
                     changed after closing?",
                    posted.absolute(),
                    worked_out.absolute()
                ),
                [format!("/v1/postings?tax_year={}&class={class}", facts.year())],
            );
        }
    }
    Ok(())
}

fn ask_records(facts: &YearFacts, questions: &mut Questions) -> Result<(), MoneyFinding> {
    if facts.opening == OpeningStated::NotStated && facts.first_year == facts.year() {
        questions.ask(
            Topic::OpeningPosition,
            "The books begin this year and no opening position is stated. Was there stock, a tool, a carry-over or an \
             unpaid deal on the first day?",
            ["/v1/openings".to_owned()],
        );
    }
    if facts.purchases_without_document > 0 {
        questions.ask(
            Topic::ReceiptsMissing,
            format!(
                "No document is stored here with {} of the year's purchases. Are the receipts kept elsewhere, and can \
                 what is lost be proved otherwise?",
                facts.purchases_without_document
            ),
            ["/v1/purchases".to_owned()],
        );
    }
    for held in &facts.foreign_accounts {
        questions.ask(
            Topic::ForeignMoney,
            format!(
                "{} is kept in {}: the rates of its records leave {} {} on it at the year's end. What is it worth at \
                 that day's rate, and what was gained or lost on what left it? Such a gain of a business is ordinary \
                 income, and it is not worked out here (IRC 988, from memory).",
                held.name, held.currency, facts.books.base, held.balance
            ),
            [format!("/v1/accounts/{}/standing?on={}-12-31", held.account, facts.year())],
        );
    }
    for paid in &facts.family {
        questions.ask(
            Topic::PaymentsToFamily,
            format!(
                "{} was paid to {}, who is family. Was it for real work at a usual price, and what has to be withheld \
                 or reported?",
                paid.amount, paid.name
            ),
            [paid.name.clone()],
        );
    }
    let unclassed = facts.postings.iter().filter(|sum| {
        let of_the_result = matches!(
            sum.account,
            Account::Income(_)
                | Account::GoodsForPromotion
                | Account::ReturnsAllowances
                | Account::Expense(_)
        );
        let counts = !matches!(sum.kind, EntryKind::Closing | EntryKind::Depreciation);
        of_the_result && counts && sum.class.is_none() && !sum.amount.is_zero()
    });
    questions.ask_about(
        Topic::WithoutClass,
        "These accounts have postings that say nothing to the tax office, so that they are on no line. What are they?",
        unclassed
            .map(|sum| {
                format!("/v1/postings?tax_year={}&account={}", facts.year(), sum.account.code())
            })
            .collect(),
    );
    Ok(())
}
