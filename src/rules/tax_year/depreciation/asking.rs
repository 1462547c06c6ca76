//! What a preparer would ask about tools.

use chrono::Datelike;
use rust_decimal::Decimal;

use super::super::super::money::{Money, MoneyFinding};
use super::super::super::refusal::Refusal;
use super::super::super::rows::{PropertyType, TaxChoice, Tool, ToolOrigin, Vehicle};
use super::super::elections::Elections;
use super::super::facts::YearFacts;
use super::super::macrs::Averaging;
use super::super::questions::{Questions, Topic};
use super::{
    Ground, HALF, Opened, Plan, SmallToolRule, Standing, heavy_vehicle_cap, may_elect_section_179,
    section_179_limit,
};

fn path(tool: &Tool) -> String {
    format!("/v1/tools/{}/standing", tool.id)
}

/// The addresses of the plans that pass.
fn those<'a>(plans: &[Plan<'a>], passes: impl Fn(&Plan<'a>) -> bool) -> Vec<String> {
    plans.iter().filter(|plan| passes(plan)).map(|plan| path(plan.opened.tool)).collect()
}

/// Asks about the tools of the year.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(in super::super) fn ask(
    facts: &YearFacts,
    plans: &[Plan<'_>],
    questions: &mut Questions,
) -> Result<(), Refusal> {
    let year = facts.year();
    let here: Vec<Plan<'_>> = plans.iter().filter(|plan| plan.opened.stands_in(year)).cloned().collect();
    let new: Vec<Plan<'_>> = here.iter().filter(|plan| plan.opened.year() == year).cloned().collect();
    ask_convention(&new, questions);
    ask_small_tools(facts, &new, questions);
    ask_section_179(facts, plans, &new, questions)?;
    ask_use(facts, &here, questions);
    ask_recapture(facts, &here, questions)?;
    ask_straight_line(facts, &new, questions);
    ask_repairs(facts, questions);
    ask_days(&new, questions);
    ask_prior(facts, &here, questions)?;
    Ok(())
}

fn ask_convention(new: &[Plan<'_>], questions: &mut Questions) {
    let late = |plan: &Plan<'_>| {
        plan.opened.standing == Standing::Depreciable && matches!(plan.averaging, Averaging::MidQuarter(_))
    };
    questions.ask_about(
        Topic::MidQuarter,
        "More than 40 % of the basis of the year's tools came into service in October to December, so each of them \
         counts by its quarter (mid-quarter convention). Is anything missing that came into service earlier?",
        those(new, late),
    );
}

fn ask_small_tools(facts: &YearFacts, new: &[Plan<'_>], questions: &mut Questions) {
    let profile = facts.profile;
    let elected = Elections(&facts.elections).de_minimis_limit(facts.year(), profile);
    let limit = elected.unwrap_or(profile.de_minimis_per_item).value;
    let could = |plan: &Plan<'_>| {
        plan.opened.standing == Standing::Depreciable
            && plan.opened.tool.invoice_price.amount() <= limit
            && !matches!(plan.opened.tool.origin, ToolOrigin::ConvertedFromPersonal)
    };
    if elected.is_some() {
        questions.ask_about(
            Topic::DeMinimis,
            format!(
                "These tools came for one price with others, and that price is above {limit}. The safe harbor goes by \
                 what the invoice proves for an item: does it name a price for each?"
            ),
            those(new, |plan| {
                let tool = plan.opened.tool;
                let within = tool.cost.amount() <= limit && tool.invoice_price.amount() > limit;
                within && plan.opened.standing == Standing::Depreciable && tool.choice != TaxChoice::Capitalise
            }),
        );
        questions.ask_about(
            Topic::DeMinimis,
            "The year elects the de minimis safe harbor, but these tools are recorded as capitalised though they \
             qualify. The election takes everything that qualifies: should they be written off too?",
            those(new, |plan| could(plan) && plan.opened.tool.choice == TaxChoice::Capitalise),
        );
    } else {
        questions.ask_about(
            Topic::DeMinimis,
            format!(
                "The de minimis safe harbor is not elected though these tools cost no more than {limit} each. Should \
                 the year elect it (POST /v1/tax-years/{}/elections)?",
                facts.year()
            ),
            those(new, |plan| could(plan) && plan.opened.tool.choice != TaxChoice::Capitalise),
        );
    }
    questions.ask_about(
        Topic::GoodsNobodyPaidFor,
        "These tools were received for promotion, not bought, and are written off at once. Their value is in income; may \
         it be deducted in the same year?",
        those(new, |plan| {
            plan.opened.tool.origin == ToolOrigin::ForPromotion
                && (matches!(plan.opened.standing, Standing::Small(_))
                    || plan.opened.section_179.is_positive()
                    || plan.special_allowance.is_positive())
        }),
    );
    questions.ask_about(
        Topic::GoodsNobodyPaidFor,
        "These tools were personal gifts and are not written off. Does the giver's basis carry over to the owner? \
         If you know it, such a tool comes in from private use: that basis as cost, its value as value.",
        those(new, |plan| plan.opened.tool.origin == ToolOrigin::PersonalGift),
    );
}

fn ask_section_179(
    facts: &YearFacts,
    plans: &[Plan<'_>],
    new: &[Plan<'_>],
    questions: &mut Questions,
) -> Result<(), Refusal> {
    let wanted = |plan: &Plan<'_>| {
        plan.opened.tool.choice == TaxChoice::Section179 && plan.opened.standing == Standing::Depreciable
    };
    questions.ask_about(
        Topic::Section179,
        "Section 179 is recorded for these tools, but not allowed: they were private before, or are used for the \
         business half of the time or less. Is that right?",
        those(new, |plan| {
            wanted(plan)
                && plan.opened.section_179.is_zero()
                && plan.opened.tool.section_179.is_positive()
                && (!may_elect_section_179(plan.opened.tool)
                    || plan.opened.first_share() <= HALF)
        }),
    );
    questions.ask_about(
        Topic::Section179,
        "These tools are to be written off under section 179, but no amount is recorded. How much is elected?",
        those(new, |plan| wanted(plan) && plan.opened.tool.section_179.is_zero()),
    );
    let ground = Ground::of(facts);
    for plan in new.iter().filter(|plan| wanted(plan)) {
        let tool = plan.opened.tool;
        let Some(cap) = heavy_vehicle_cap(tool, &ground)? else { continue };
        if tool.section_179.amount() > cap.amount() {
            let question = format!(
                "Section 179 of {} is recorded for '{}', a vehicle above 6,000 pounds that carries people: {} of it are \
                 allowed, and what is left is written off like any other cost. Are its weight and its build right?",
                tool.section_179, tool.name, plan.opened.section_179
            );
            questions.ask(Topic::Section179, question, [path(tool)]);
        }
    }
    questions.ask_about(
        Topic::Vehicle,
        "These vehicles weigh no more than 6,000 pounds. Of a passenger car the law caps each year's depreciation, section \
         179 and the special allowance included (IRC 280F(a), from memory); that is not worked out here. What is their cap?",
        those(new, |plan| {
            let depreciable = plan.opened.standing == Standing::Depreciable;
            depreciable && plan.opened.tool.vehicle.is_some_and(Vehicle::is_light)
        }),
    );
    let opened: Vec<Opened<'_>> = plans.iter().map(|plan| plan.opened).collect();
    let Some(limit) = section_179_limit(&opened, facts.year(), &ground)? else { return Ok(()) };
    let asked = Money::sum(
        facts.books.base,
        new.iter().filter(|plan| wanted(plan)).map(|plan| plan.opened.tool.section_179),
    )?;
    if asked.amount() > limit.amount() {
        questions.ask(
            Topic::Section179,
            format!(
                "Section 179 is recorded for {asked}, more than the year's limit of {limit}: the latest tools were cut. \
                 Which tools should have it?"
            ),
            those(new, wanted),
        );
    }
    Ok(())
}

fn ask_use(facts: &YearFacts, here: &[Plan<'_>], questions: &mut Questions) {
    questions.ask_about(
        Topic::ListedProperty,
        "Cameras, sound gear and the like are listed property unless they are used for the business alone or at its \
         regular place only. What shows the use of these? At half or less for the business they take a slower way, \
         and what was taken faster comes back into income.",
        those(here, |plan| plan.opened.tool.property == PropertyType::Listed),
    );
    questions.ask_about(
        Topic::BusinessShare,
        "These tools are used partly in private. Is the business share right for this year? A year's own is stated \
         with POST /v1/tools/{id}/business-shares.",
        those(here, |plan| {
            plan.opened.share_in(facts.year()) < Decimal::ONE_HUNDRED
                && plan.opened.standing != Standing::NoBasis
        }),
    );
}

/// What comes back into income, tool by tool; and what may have to, where the books can not know it.
fn ask_recapture(facts: &YearFacts, here: &[Plan<'_>], questions: &mut Questions) -> Result<(), Refusal> {
    let year = facts.year();
    for plan in here {
        let (_, charge) = plan.through(year)?;
        let tool = plan.opened.tool;
        if !charge.recaptured.is_positive() {
            continue;
        }
        let of_which = match tool.property {
            PropertyType::Listed => {
                "what was taken faster than the straight line over the longer life, which it keeps to from now on"
            }
            PropertyType::Ordinary => {
                "section 179 beyond what its table would have given by now. Where the special allowance would have \
                 been due instead of section 179, less may come back"
            }
        };
        let waiting = if plan.opened.section_179.is_positive()
            && facts.section_179_brought_forward.is_positive()
        {
            " Section 179 of earlier years was not all allowed: what was elected on it and never deducted does not \
             come back."
        } else {
            ""
        };
        let question = format!(
            "'{}' was used {} % for the business in {year}, so {} comes back into income on the line of other income \
             (Form 4797 Part IV): {of_which}.{waiting} What shows its use?",
            tool.name,
            plan.opened.share_in(year).normalize(),
            charge.recaptured,
        );
        questions.ask(Topic::Recapture, question, [path(tool)]);
    }
    questions.ask_about(
        Topic::Recapture,
        "These tools came with write-offs of their first year from before the books, and their use for the business \
         fell to half or less. Was section 179 among them? What it took beyond the table comes back into income, and \
         is not worked out here.",
        those(here, |plan| {
            let written_off = match plan.opened.standing {
                Standing::Opening(prior) => prior.first_year_write_off.is_positive(),
                _ => false,
            };
            let ordinary = plan.opened.tool.property == PropertyType::Ordinary;
            written_off && ordinary && plan.falls_in() == Some(year)
        }),
    );
    Ok(())
}

fn ask_straight_line(facts: &YearFacts, new: &[Plan<'_>], questions: &mut Questions) {
    let own_choice = |plan: &Plan<'_>| {
        plan.opened.standing == Standing::Depreciable && plan.opened.tool.choice == TaxChoice::StraightLine
    };
    let mixed = those(new, |plan| {
        own_choice(plan)
            && new.iter().any(|other| {
                other.opened.standing == Standing::Depreciable
                    && other.opened.tool.class == plan.opened.tool.class
                    && matches!(other.pattern, super::Pattern::Table)
            })
    });
    questions.ask_about(
        Topic::StraightLine,
        format!(
            "The straight line is chosen for these tools alone, but the law has it for a whole class and year: should \
             {} elect it for the class?",
            facts.year()
        ),
        mixed,
    );
}

/// # Source
/// Reg. 1.263(a)-3, betterment, restoration and adaptation (from memory).
fn ask_repairs(facts: &YearFacts, questions: &mut Questions) {
    let repaired = facts.repairs.iter().filter(|one| one.amount.is_positive());
    questions.ask_about(
        Topic::Repairs,
        "These tools were repaired, and what that cost is deducted in the year. Did all of it only keep them in working \
         order? What made one better, restored it or fitted it for another use is an improvement, written off over years \
         (POST /v1/tools/{id}/improvements).",
        repaired.map(|one| format!("/v1/tools/{}/standing", one.tool)).collect(),
    );
}

fn ask_days(new: &[Plan<'_>], questions: &mut Questions) {
    questions.ask_about(
        Topic::DeMinimis,
        "These small tools were acquired in another year than they came into service, and are written off in the year \
         of service. In which year were they paid for?",
        those(new, |plan| {
            matches!(plan.opened.standing, Standing::Small(SmallToolRule::DeMinimis))
                && plan.opened.tool.acquired_on.year() != plan.opened.year()
        }),
    );
    questions.ask_about(
        Topic::SpecialAllowance,
        "No special allowance is known for the days these tools were acquired and came into service. Are the days \
         right?",
        those(new, |plan| {
            plan.opened.standing == Standing::Depreciable
                && plan.opened.tool.acquired_on > plan.opened.tool.in_service_on
        }),
    );
}

fn ask_prior(facts: &YearFacts, here: &[Plan<'_>], questions: &mut Questions) -> Result<(), MoneyFinding> {
    questions.ask_about(
        Topic::PriorDepreciation,
        "These tools were in service before the books began, and what was taken on them then is not stated. The law \
         counts what could have been taken; it is worked out by the law's defaults. What do the old returns say?",
        those(here, |plan| {
            plan.opened.year() < facts.first_year
                && plan.opened.tool.prior.is_none()
                && plan.opened.standing != Standing::NoBasis
        }),
    );
    questions.ask_about(
        Topic::PriorDepreciation,
        "Depreciation before the books began is stated for these tools, but they came into service within the books' \
         own years, so it is not used. Which day is right?",
        those(here, |plan| {
            plan.opened.year() >= facts.first_year
                && plan.opened.tool.prior.is_some_and(|prior| !prior.taken.is_zero())
        }),
    );
    let mut differing = Vec::new();
    for plan in here {
        let Standing::Opening(prior) = plan.opened.standing else { continue };
        let apart = plan.before_the_books()?.minus(prior.taken)?.absolute();
        if apart.amount() > Decimal::ONE {
            differing.push(path(plan.opened.tool));
        }
    }
    questions.ask_about(
        Topic::PriorDepreciation,
        "What is stated as taken on these tools before the books began is not what the tables give for those years. \
         Basis goes down by what was allowed or allowable, the greater: which is right?",
        differing,
    );
    Ok(())
}
