//! Fills in a profile's form: entered lines from the books, the rest from other lines.

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::journal::TaxClass;
use super::super::money::{Money, MoneyFinding};
use super::super::refusal::Refusal;
use super::TaxFinding;
use super::facts::YearFacts;
use super::profile::{Feed, FormLine, Item, ItemFeed, Part, Sign};

/// A line of the form, filled in.
///
/// `whole` is what a return in whole units takes. An entered line adds the cents of everything that feeds it and
/// is rounded once, half up; a line worked out from others is worked out from their whole units, as a person with
/// the form would do it, so it may differ from its own `exact` rounded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TaxLine {
    pub part: Part,
    /// The line's number; `item` for a row of the list of other expenses.
    pub line: &'static str,
    pub label: String,
    /// To the cent; on the line of business miles, miles. None where the line takes words.
    #[schema(value_type = Option<String>)]
    pub exact: Option<Decimal>,
    /// In whole units.
    #[schema(value_type = Option<String>)]
    pub whole: Option<Decimal>,
    /// Where the records behind an entered line are.
    pub drill_down: Option<String>,
    /// Where the rest of it comes from, on a line that has two sources.
    pub also_from: Option<String>,
    /// What a line that is not entered is worked out from, such as `1 - 2`.
    pub worked_out: Option<String>,
    /// On lines that take words.
    pub words: Option<String>,
}

/// What schedules give to the form.
#[derive(Clone, Copy, Debug)]
pub(super) struct FromSchedules {
    pub depreciation: Money,
    /// Of earlier depreciation, what comes back into income.
    pub recaptured: Money,
    pub small_tools_by_election: Money,
    pub small_tools_as_supplies: Money,
    pub opening_stock: Money,
    pub closing_stock: Money,
    pub miles: Decimal,
    /// A home office by the simplified method, before the limit by income.
    pub home_office: Option<Money>,
}

/// # Errors
/// [`MoneyFinding`] if a sum is too large, [`TaxFinding::FormHasNoLine`] if the form's data do not hold together.
pub(super) fn fill(facts: &YearFacts, given: &FromSchedules) -> Result<Vec<TaxLine>, Refusal> {
    let mut lines = Vec::new();
    for line in facts.profile.form_lines() {
        match line.feed {
            Feed::Items(items) => {
                for item in items {
                    lines.extend(row_of_item(facts, given, line, item)?);
                }
            }
            _ => lines.push(entered(facts, given, line)?),
        }
    }
    work_out(facts, given, &mut lines)?;
    Ok(lines)
}

/// The line of that number.
pub(super) fn line<'a>(lines: &'a [TaxLine], number: &'static str) -> Result<&'a TaxLine, TaxFinding> {
    lines.iter().find(|line| line.line == number).ok_or(TaxFinding::FormHasNoLine { line: number })
}

/// The exact amount of a line.
pub(super) fn exact(lines: &[TaxLine], number: &'static str, facts: &YearFacts) -> Result<Money, Refusal> {
    let amount = line(lines, number)?.exact.ok_or(TaxFinding::FormHasNoLine { line: number })?;
    Ok(Money::rounded(amount, facts.books.base)?)
}

fn blank(line: &FormLine) -> TaxLine {
    TaxLine {
        part: line.part,
        line: line.line,
        label: line.label.to_owned(),
        exact: None,
        whole: None,
        drill_down: None,
        also_from: None,
        worked_out: None,
        words: None,
    }
}

fn entered(facts: &YearFacts, given: &FromSchedules, line: &FormLine) -> Result<TaxLine, MoneyFinding> {
    let blank = blank(line);
    let schedule = |name: &str| Some(format!("/v1/tax-years/{}/summary#{name}", facts.year()));
    let amount = |amount: Decimal, drill_down| filled(facts, blank.clone(), amount, drill_down);
    match line.feed {
        Feed::Income(classes) => {
            amount(facts.of_classes(classes)?.negated().amount(), Some(postings(facts, classes)))
        }
        Feed::IncomeAndRecapture(classes) => {
            let postings = Some(postings(facts, classes));
            let income = facts.of_classes(classes)?.negated();
            if given.recaptured.is_zero() {
                return amount(income.amount(), postings);
            }
            let both = amount(income.plus(given.recaptured)?.amount(), schedule("depreciation"))?;
            Ok(TaxLine { also_from: postings.filter(|_| !income.is_zero()), ..both })
        }
        Feed::Cost(classes) => amount(facts.of_classes(classes)?.amount(), Some(postings(facts, classes))),
        Feed::Share(class, percent) => {
            let whole = facts.of_classes(&[class])?.amount();
            let part = whole * Decimal::from(percent) / Decimal::ONE_HUNDRED;
            amount(part, Some(postings(facts, &[class])))
        }
        Feed::Depreciation => amount(given.depreciation.amount(), schedule("depreciation")),
        Feed::HomeOffice { no_more_than, .. } if given.home_office.is_some() => Ok(TaxLine {
            worked_out: Some(format!("simplified method, no more than {no_more_than}")),
            drill_down: schedule("home_office"),
            ..blank
        }),
        Feed::HomeOffice { actual, .. } => {
            amount(facts.of_classes(&[actual])?.amount(), Some(postings(facts, &[actual])))
        }
        Feed::OpeningStock => amount(given.opening_stock.amount(), schedule("inventory")),
        Feed::ClosingStock => amount(given.closing_stock.amount(), schedule("inventory")),
        Feed::BusinessMiles => Ok(TaxLine {
            exact: Some(given.miles.normalize()),
            whole: Some(whole(given.miles)),
            drill_down: schedule("mileage"),
            ..blank
        }),
        Feed::Nothing => amount(Decimal::ZERO, None),
        Feed::Words(words) => Ok(TaxLine { words: Some(words.to_owned()), ..blank }),
        Feed::Sum(parts) => Ok(TaxLine { worked_out: Some(formula(parts)), ..blank }),
        Feed::SumOfItems => Ok(TaxLine { worked_out: Some("sum of the items".to_owned()), ..blank }),
        Feed::Items(_) => Ok(blank),
    }
}

/// Both figures come from the same unrounded amount, so that nothing is rounded twice.
fn filled(
    facts: &YearFacts,
    blank: TaxLine,
    amount: Decimal,
    drill_down: Option<String>,
) -> Result<TaxLine, MoneyFinding> {
    let exact = Money::rounded(amount, facts.books.base)?.amount();
    Ok(TaxLine { exact: Some(exact), whole: Some(whole(amount)), drill_down, ..blank })
}

/// Half up to whole units, without a negative zero.
fn whole(amount: Decimal) -> Decimal {
    let rounded = amount.round_dp_with_strategy(0, rust_decimal::RoundingStrategy::MidpointAwayFromZero);
    if rounded.is_zero() { Decimal::ZERO } else { rounded }
}

fn row_of_item(
    facts: &YearFacts,
    given: &FromSchedules,
    line: &FormLine,
    item: &Item,
) -> Result<Option<TaxLine>, MoneyFinding> {
    let schedule = format!("/v1/tax-years/{}/summary#depreciation", facts.year());
    let (amount, drill_down) = match item.feed {
        ItemFeed::Class(class) => (facts.of_classes(&[class])?, postings(facts, &[class])),
        ItemFeed::SmallToolsByElection => (given.small_tools_by_election, schedule),
        ItemFeed::SmallToolsAsSupplies => (given.small_tools_as_supplies, schedule),
    };
    if amount.is_zero() {
        return Ok(None);
    }
    let blank = TaxLine { label: item.label.to_owned(), ..blank(line) };
    filled(facts, blank, amount.amount(), Some(drill_down)).map(Some)
}

pub(super) fn postings(facts: &YearFacts, classes: &[TaxClass]) -> String {
    let names: Vec<_> = classes.iter().map(|class| class.as_str()).collect();
    format!("/v1/postings?tax_year={}&class={}", facts.year(), names.join(","))
}

fn formula(parts: &[(Sign, &str)]) -> String {
    let mut text = String::new();
    for (place, (sign, line)) in parts.iter().enumerate() {
        match (place, sign) {
            (0, Sign::Plus) => {}
            (0, Sign::Minus) => text.push('-'),
            (_, Sign::Plus) => text.push_str(" + "),
            (_, Sign::Minus) => text.push_str(" - "),
        }
        text.push_str(line);
    }
    text
}

/// Works out the lines made of others, round by round, until a round brings nothing new.
fn work_out(facts: &YearFacts, given: &FromSchedules, lines: &mut [TaxLine]) -> Result<(), Refusal> {
    let mut moved = true;
    while moved {
        moved = false;
        for form in facts.profile.form_lines() {
            let worked = match form.feed {
                Feed::Sum(parts) => add_up(lines, parts),
                Feed::SumOfItems => Some(add_items(lines)),
                Feed::HomeOffice { no_more_than, .. } => {
                    given.home_office.and_then(|amount| no_more(lines, amount, no_more_than))
                }
                _ => None,
            };
            let open = lines.iter_mut().find(|line| line.line == form.line && line.exact.is_none());
            if let (Some((exact, whole)), Some(line)) = (worked, open) {
                line.exact = Some(Money::rounded(exact, facts.books.base)?.amount());
                line.whole = Some(whole);
                moved = true;
            }
        }
    }
    let open = lines.iter().find(|line| line.worked_out.is_some() && line.exact.is_none());
    open.map_or(Ok(()), |line| Err(TaxFinding::FormHasNoLine { line: line.line }.into()))
}

fn add_up(lines: &[TaxLine], parts: &[(Sign, &str)]) -> Option<(Decimal, Decimal)> {
    let mut exact = Decimal::ZERO;
    let mut whole = Decimal::ZERO;
    for (sign, number) in parts {
        let line = lines.iter().find(|line| line.line == *number)?;
        let (one, rounded) = (line.exact?, line.whole?);
        match sign {
            Sign::Plus => {
                exact = exact.checked_add(one)?;
                whole = whole.checked_add(rounded)?;
            }
            Sign::Minus => {
                exact = exact.checked_sub(one)?;
                whole = whole.checked_sub(rounded)?;
            }
        }
    }
    Some((exact, whole))
}

/// The amount, no more than another line has and never less than nothing.
fn no_more(lines: &[TaxLine], amount: Money, number: &str) -> Option<(Decimal, Decimal)> {
    let line = lines.iter().find(|line| line.line == number)?;
    let most = |most: Decimal| most.max(Decimal::ZERO);
    Some((amount.amount().min(most(line.exact?)), whole(amount.amount()).min(most(line.whole?))))
}

fn add_items(lines: &[TaxLine]) -> (Decimal, Decimal) {
    let items = || lines.iter().filter(|line| line.line == "item");
    (items().filter_map(|line| line.exact).sum(), items().filter_map(|line| line.whole).sum())
}
