mod asked;
mod asked_of_tools;
mod asked_where;
mod beside;
mod choices;
mod filings;
mod going;
mod home_offices;
mod homes;
mod last_years;
mod leavings;
mod limits;
mod named;
mod payees;
mod received;
mod shares;
mod side_by_side;
mod stock;
mod summaries;
mod tables;
mod tools;
mod two_bases;
mod vehicles;
mod whole_lives;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::facts::{GiftFacts, PostingSum, ToolFacts};
use super::summary::YearSummary;
use super::{Profile, YearFacts};
use crate::rules::ids::{PartyId, RecordId, SourceId, ToolId};
use crate::rules::journal::{Account, EntryKind, TaxClass};
use crate::rules::money::{Currency, Money, parse_decimal};
use crate::rules::recording::{AccountingMethod, BooksFacts, MaterialsFlow, MaterialsTiming};
use crate::rules::rows::{
    AttributionPlan, BusinessShare, DisposalKind, Election, ElectionKind, Gift, GiftFate, GiftRelation,
    PropertyType, RecoveryClass, TaxChoice, Tool, ToolDisposal, ToolOrigin,
};

fn dec(text: &str) -> Decimal {
    parse_decimal(text, 8).unwrap_or_else(|| panic!("{text} is no decimal"))
}

fn usd(text: &str) -> Money {
    Money::exact(dec(text), Currency::find("USD").unwrap()).unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn books() -> BooksFacts {
    BooksFacts {
        base: Currency::find("USD").unwrap(),
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        began_on: NaiveDate::from_ymd_opt(2020, 1, 1).unwrap(),
        first_open: day("2023-01-01"),
    }
}

/// Goods as they came, with nothing known of their value.
fn goods(what: &str, relation: GiftRelation, received_on: &str, fate: GiftFate) -> GiftFacts {
    let gift = Gift {
        gift: None,
        deal: None,
        party: PartyId(Uuid::from_u128(9)),
        what: what.to_owned(),
        relation,
        received_on: day(received_on),
        value: None,
        evidence: None,
        fate,
        fate_on: None,
        source: None,
    };
    GiftFacts { record: RecordId(Uuid::from_u128(9)), gift, from: "Brandywell Tools".to_owned() }
}

/// The facts of a year, of books that began in 2023.
fn year(year: i32) -> YearFacts {
    let profile = Profile::find("us", year).unwrap();
    YearFacts { first_year: 2023, ..YearFacts::empty(profile, books()) }
}

/// A seven-year tool bought and put into service on a day, used for the business alone.
fn tool(number: u128, cost: &str, on: &str) -> ToolFacts {
    let tool = Tool {
        id: ToolId(Uuid::from_u128(number)),
        source: SourceId(Uuid::from_u128(number)),
        name: format!("Tool {number}"),
        origin: ToolOrigin::Bought,
        acquired_on: day(on),
        in_service_on: day(on),
        cost: usd(cost),
        basis_for_gain: usd(cost),
        invoice_price: usd(cost),
        salvage: usd("0.00"),
        plan: AttributionPlan::EqualShare,
        class: RecoveryClass::Seven,
        property: PropertyType::Ordinary,
        vehicle: None,
        choice: TaxChoice::ByLaw,
        section_179: usd("0.00"),
        business_share: Decimal::ONE_HUNDRED,
        prior: None,
        hours_before: Decimal::ZERO,
    };
    ToolFacts { tool, shares: Vec::new(), disposal: None }
}

impl ToolFacts {
    fn five(mut self) -> Self {
        self.tool.class = RecoveryClass::Five;
        self
    }

    fn but(mut self, change: impl FnOnce(&mut Tool)) -> Self {
        change(&mut self.tool);
        self
    }

    fn section_179(self, amount: &str) -> Self {
        self.but(|tool| {
            tool.choice = TaxChoice::Section179;
            tool.section_179 = usd(amount);
        })
    }

    /// The share of business use of a year, and of those after it.
    fn used(mut self, tax_year: i32, share: &str) -> Self {
        let share = BusinessShare { tool: self.tool.id, tax_year, share: dec(share) };
        self.shares.push(share);
        self
    }

    fn gone(mut self, on: &str, proceeds: &str) -> Self {
        let tool = self.tool.id;
        let (date, proceeds) = (day(on), usd(proceeds));
        self.disposal = Some(ToolDisposal { tool, date, kind: DisposalKind::Sold, proceeds });
        self
    }
}

/// Leaves the special allowance for every class of the year.
fn no_allowance(year: i32) -> Election {
    Election { tax_year: year, kind: ElectionKind::NoSpecialAllowance, class: None }
}

fn posted(account: Account, class: TaxClass, amount: &str) -> PostingSum {
    PostingSum { account, class: Some(class), kind: EntryKind::Ordinary, amount: usd(amount) }
}

impl YearSummary {
    fn exact(&self, line: &str) -> String {
        self.figure(line, |line| line.exact)
    }

    fn whole(&self, line: &str) -> String {
        self.figure(line, |line| line.whole)
    }

    fn figure(&self, number: &str, which: fn(&super::form::TaxLine) -> Option<Decimal>) -> String {
        let line = self.lines.iter().find(|line| line.line == number).unwrap();
        which(line).unwrap().to_string()
    }

    /// The numbers of the tools that the questions with those words are about.
    fn names(&self, words: &str) -> Vec<u128> {
        let standing = |number: u128| format!("/v1/tools/{}/standing", ToolId(Uuid::from_u128(number)));
        let asked = self.questions.iter().filter(|one| one.question.contains(words));
        let numbers =
            asked.flat_map(|one| &one.about).map(|about| (1..20).find(|one| *about == standing(*one)));
        numbers.map(Option::unwrap).collect()
    }

    /// Whether the preparer is asked about it.
    fn asks(&self, topic: super::questions::Topic) -> bool {
        self.questions.iter().any(|question| question.topic == topic)
    }
}
