//! A tool comes in by a record of its own: bought, brought in from private use, lent, or given privately.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rules::ids::{MoneyAccountId, PartyId, ToolId};
use crate::rules::journal::Account;
use crate::rules::money::{Amount, Currency, Exchange, Hours, Money, MoneyFinding, Rate, Share};
use crate::rules::recording::{MoneyAccount, Pen, Recording, Side, Source, SourceKind, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{AttributionPlan, PropertyType, RecoveryClass, Row, TaxChoice, Tool, ToolOrigin};
use crate::rules::tool_terms::{PlanName, ToolArrival, ToolAsked, ToolTermsFinding, VehicleAsked};
use crate::rules::vehicles::VehiclesAtRate;

/// A tool with a record of its own. One bought on a receipt with other things is a line of that purchase;
/// one received for promotion is a gift.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTool {
    /// What it is called, such as "table saw".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The day it came into the business: bought, brought in, lent or given.
    pub date: NaiveDate,
    /// How it came: `bought`, `converted_from_personal`, `personal_gift` or `loan`.
    pub origin: ToolOrigin,
    /// The day it was ready for use in the business; `date` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_service_on: Option<NaiveDate>,
    /// The day of a binding contract to buy it, where that was earlier than `date`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contract_on: Option<NaiveDate>,
    /// What was paid for it, tax included: now, or back then for private use. None for a loan or a private gift.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Amount>,
    /// With `converted_from_personal`: what it was worth on `date`; the lower of cost and value counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// With `bought`: the money account that paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of a foreign `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// What it will still be worth in the end; zero where it is left out. Never attributed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salvage: Option<Amount>,
    pub method: PlanName,
    /// With `per_use_hour`: the hours it is expected to run in its whole life.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_expected: Option<Hours>,
    /// With `per_use_hour`: the hours of that life it had run before it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_before: Option<Hours>,
    /// With `straight_line`: the months it is expected to last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub months: Option<u32>,
    /// The recovery class in years; 7 where it is left out. Computers and vehicles are 5: say so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<RecoveryClass>,
    /// Whether the law lists the property by type, as it does cameras; `ordinary` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub property: Option<PropertyType>,
    /// Where it is a vehicle: section 179 has a cap for heavy ones that carry people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<VehicleAsked>,
    /// The recorded tax choice; `by_law` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<TaxChoice>,
    /// With the choice `section_179`: the amount elected, at most the business share of the cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section_179: Option<Amount>,
    /// Business share of its use in percent; 100 where it is left out. Touches tax only, not the cost statement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub business_share: Option<Share>,
    /// The seller, lender or giver.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why a tool is not taken in.
#[derive(Clone, Debug, PartialEq)]
pub enum AcquireFinding {
    IsAGift,
    CostMissing { origin: ToolOrigin },
    CostWithoutBasis { origin: ToolOrigin },
    ValueMissing,
    ValueNotAsked { origin: ToolOrigin },
    PaidFromMissing,
    NothingWasPaid { origin: ToolOrigin },
}

impl Explain for AcquireFinding {
    fn say(&self) -> Said {
        match self {
            Self::IsAGift => Said::invalid(
                "a tool received for promotion is income at its value, and this record posts none",
                "record it as a gift (POST /v1/gifts) that is kept for business; that makes the tool",
            ),
            Self::CostMissing { origin } => Said::invalid(
                format!("the origin is {origin}, and no cost is given"),
                "give cost, what was paid for it with tax",
            ),
            Self::CostWithoutBasis { origin } => Said::invalid(
                format!("the origin is {origin}: nothing was paid for it, but a cost is given"),
                "leave cost out; such a tool has no basis. A gift whose giver's basis you know comes in from private use: \
                 \"origin\": \"converted_from_personal\", the giver's basis as cost, its value as value",
            ),
            Self::ValueMissing => Said::invalid(
                "a tool brought in from private use counts at the lower of cost and value; no value is given",
                "give value, what it was worth on the day it was brought in",
            ),
            Self::ValueNotAsked { origin } => Said::invalid(
                format!("a value is given, but the origin is {origin}"),
                "leave value out; only converted_from_personal goes by it",
            ),
            Self::PaidFromMissing => Said::invalid(
                "the tool was bought, and no money account is named",
                "give paid_from; money from the owner's own purse has an account of kind own_pocket",
            ),
            Self::NothingWasPaid { origin } => Said::invalid(
                format!("a money account is named, but the origin is {origin}: nothing is paid"),
                "leave paid_from out, or say \"origin\": \"bought\"",
            ),
        }
    }
}

/// What a tool counts at: the two differ only where it was private before and was worth less than it had cost.
#[derive(Clone, Copy)]
struct Bases {
    in_books: Money,
    for_gain: Money,
}

impl NewTool {
    fn terms(&self) -> ToolAsked {
        ToolAsked {
            name: self.name.clone(),
            in_service_on: self.in_service_on,
            contract_on: self.contract_on,
            salvage: self.salvage,
            method: self.method,
            hours_expected: self.hours_expected,
            months: self.months,
            class: self.class,
            property: self.property,
            vehicle: self.vehicle,
            choice: self.choice,
            section_179: self.section_179,
            business_share: self.business_share,
        }
    }

    /// What it stands in the books at and what a gain is counted from, in the base currency.
    fn bases(&self, exchange: Exchange) -> Result<Bases, Refusal> {
        let mut findings = Findings::new();
        let origin = self.origin;
        let nothing = Money::zero(exchange.base);
        let cost = match (origin, self.cost) {
            (ToolOrigin::ForPromotion, _) => {
                findings.add(Refusal::new("/origin", AcquireFinding::IsAGift));
                None
            }
            (ToolOrigin::Bought | ToolOrigin::ConvertedFromPersonal, None) => {
                findings.add(Refusal::new("/cost", AcquireFinding::CostMissing { origin }));
                None
            }
            (ToolOrigin::Bought | ToolOrigin::ConvertedFromPersonal, Some(cost)) => {
                findings.keep(positive(exchange, cost).at("/cost"))
            }
            (ToolOrigin::Loan | ToolOrigin::PersonalGift, Some(cost)) if !cost.decimal().is_zero() => {
                findings.add(Refusal::new("/cost", AcquireFinding::CostWithoutBasis { origin }));
                None
            }
            (ToolOrigin::Loan | ToolOrigin::PersonalGift, _) => Some(nothing),
        };
        let value = match (origin, self.value) {
            (ToolOrigin::ConvertedFromPersonal, None) => {
                findings.add(Refusal::new("/value", AcquireFinding::ValueMissing));
                None
            }
            (ToolOrigin::ConvertedFromPersonal, Some(value)) => {
                findings.keep(positive(exchange, value).at("/value"))
            }
            (_, Some(_)) => {
                findings.add(Refusal::new("/value", AcquireFinding::ValueNotAsked { origin }));
                None
            }
            (_, None) => cost,
        };
        findings.or_refuse()?;
        let for_gain = cost.unwrap_or(nothing);
        Ok(Bases { in_books: for_gain.at_most(value.unwrap_or(nothing)), for_gain })
    }

    fn payer(&self, paid_from: Option<MoneyAccount>) -> Result<Option<MoneyAccount>, AcquireFinding> {
        match (self.origin, paid_from) {
            (ToolOrigin::Bought, None) => Err(AcquireFinding::PaidFromMissing),
            (ToolOrigin::Bought, Some(_)) | (_, None) => Ok(paid_from),
            (origin, Some(_)) => Err(AcquireFinding::NothingWasPaid { origin }),
        }
    }

    /// Of a tool that came used, its cost is spread over the hours that were left in it.
    fn hours_left(&self, mut tool: Tool) -> Result<Tool, Refusal> {
        let before = self.hours_before.map_or(Decimal::ZERO, Hours::decimal);
        if before.is_zero() {
            return Ok(tool);
        }
        let AttributionPlan::PerUseHour { hours_expected } = tool.plan else {
            let why = ToolTermsFinding::NotOfThisMethod { field: "hours_before", method: self.method };
            return Err(Refusal::new("/hours_before", why));
        };
        if before >= hours_expected {
            let why = ToolTermsFinding::HoursExpectedRun { before, expected: hours_expected };
            return Err(Refusal::new("/hours_expected", why));
        }
        tool.plan = AttributionPlan::PerUseHour { hours_expected: hours_expected - before };
        Ok(tool)
    }
}

fn positive(exchange: Exchange, amount: Amount) -> Result<Money, MoneyFinding> {
    amount.positive(exchange.currency)?;
    exchange.base_of(amount)
}

/// Takes a tool in. Bought: tools at cost against money. Brought in from private use: tools at cost against
/// the owner's contribution, at the lower of cost and value. Lent or given privately: no entry, no basis.
///
/// # Errors
/// [`AcquireFinding`], [`ToolTermsFinding`] and those of money, all at once, at the fields' names.
///
/// # Source
/// Lower of cost and value on conversion to business use, and the cost still for a gain: Pub. 551, property changed to
/// business or rental use (its example of a sale seen).
pub fn acquire(
    pen: &mut Pen<'_>,
    paid_from: Option<MoneyAccount>,
    at_rate: &VehiclesAtRate,
    new: &NewTool,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    let payer = findings.keep(new.payer(paid_from).at("/paid_from")).flatten();
    let exchange = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let bases = exchange.and_then(|exchange| findings.keep(new.bases(exchange)));
    let tool = exchange.zip(bases).and_then(|(exchange, bases)| {
        let arrival = ToolArrival {
            exchange,
            basis_for_gain: Some(bases.for_gain),
            ..ToolArrival::new(new.origin, new.date, bases.in_books, at_rate)
        };
        let tool = new.terms().tool(ToolId(pen.ids.next()), pen.new_source(), &arrival);
        findings.keep(tool.and_then(|tool| new.hours_left(tool)))
    });
    findings.or_refuse()?;
    let tool = tool.ok_or(AcquireFinding::IsAGift)?;
    written(pen, payer, new, tool)
}

fn written(
    pen: &Pen<'_>,
    payer: Option<MoneyAccount>,
    new: &NewTool,
    tool: Tool,
) -> Result<Recording, Refusal> {
    let how = match tool.origin {
        ToolOrigin::Bought | ToolOrigin::ForPromotion => "bought",
        ToolOrigin::ConvertedFromPersonal => "brought in from private use",
        ToolOrigin::PersonalGift => "given privately",
        ToolOrigin::Loan => "lent",
    };
    let text = format!("{}: {how}", tool.name);
    let mut recording = Recording::new(Word::Tools, "tool", new.date, text.as_str());
    recording.party = new.party;
    let mut entry = pen.entry(new.date, text);
    entry.debit(Account::ToolsAtCost, tool.cost, None);
    entry.credit(payer.map_or(Account::OwnerContribution, MoneyAccount::paying), tool.cost, None);
    let posted = recording.post(entry)?;
    let source =
        Source { id: tool.source, side: Side::Cost, kind: SourceKind::Tool, text: tool.name.clone() };
    recording.open_source(source, new.date, tool.cost, posted);
    recording.notes = notes(&tool);
    recording.rows.push(Row::Tool(tool));
    Ok(recording)
}

/// What to say of a tool that has one basis for a gain and a lower one for a loss.
pub(super) fn two_bases(tool: &Tool) -> Option<String> {
    (tool.basis_for_gain != tool.cost).then(|| {
        format!(
            "it has two bases: {} counts for a gain, {} for a loss, each less depreciation; a sale between them gives \
             neither",
            tool.basis_for_gain, tool.cost
        )
    })
}

fn notes(tool: &Tool) -> Vec<String> {
    let mut notes = Vec::new();
    notes.push(if tool.cost.is_zero() {
        "nothing was paid for it: no entry, no basis; its uses are kept and cost nothing".to_owned()
    } else {
        format!(
            "{} stands in tools at cost; it reaches episodes as uses are logged (POST /v1/tools/{{id}}/uses)",
            tool.cost
        )
    });
    if tool.origin == ToolOrigin::ConvertedFromPersonal {
        notes.push("brought in at the lower of cost and value; no section 179, no allowance".to_owned());
        notes.extend(two_bases(tool));
    }
    if tool.business_share < Decimal::ONE_HUNDRED {
        notes.push(format!(
            "{} % of its use is business: that is what the tax year takes; the cost statement charges what is used",
            tool.business_share
        ));
    }
    notes
}
