//! Tax profiles: what a jurisdiction's year asks for and allows, as data with dates, each figure beside its source.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::journal::TaxClass;
use super::super::named::named;
use super::{TaxFinding, us_2023, us_2024, us_2025, us_2026};

named! {
    /// How far a figure was checked.
    pub enum Mark {
        /// Read in a published source or a copy of it.
        Seen => "seen",
        /// Known, but not looked up again: check it before relying on it.
        FromMemory => "from_memory",
    }
}

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cited {
    pub publication: &'static str,
    pub mark: Mark,
}

pub(super) const fn seen(publication: &'static str) -> Cited {
    Cited { publication, mark: Mark::Seen }
}

pub(super) const fn from_memory(publication: &'static str) -> Cited {
    Cited { publication, mark: Mark::FromMemory }
}

/// A figure of the law with its source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Figure {
    pub value: Decimal,
    pub source: Cited,
}

/// `units` with `scale` digits behind the point: `figure(655, 3, …)` is 0.655.
pub(super) const fn figure(units: u32, scale: u32, source: Cited) -> Figure {
    Figure { value: Decimal::from_parts(units, 0, 0, false, scale), source }
}

/// Year, month, day; tuples compare as dates do.
pub type Day = (i32, u32, u32);

pub(super) fn day_of(date: NaiveDate) -> Day {
    (date.year(), date.month(), date.day())
}

/// The special allowance for property acquired and placed in service between those days, both included.
#[derive(Clone, Copy, Debug)]
pub struct AllowanceRate {
    pub acquired: (Day, Day),
    pub in_service: (Day, Day),
    /// Percent of what section 179 left.
    pub percent: u32,
    pub source: Cited,
}

/// The yearly limit of section 179 and where it begins to shrink, dollar for dollar.
#[derive(Clone, Copy, Debug)]
pub struct Section179Limits {
    pub maximum: Figure,
    pub shrinks_from: Figure,
    /// The most for one heavy vehicle that carries people.
    pub heavy_vehicle: Figure,
}

/// The standard rate for a business mile.
#[derive(Clone, Copy, Debug)]
pub struct MileageRate {
    pub per_mile: Figure,
    /// The part of it that counts as depreciation and lowers the vehicle's basis.
    pub depreciation_part: Figure,
}

/// The simplified method for a home office.
#[derive(Clone, Copy, Debug)]
pub struct HomeOfficeRate {
    pub per_square_foot: Figure,
    /// The largest area that counts, in square feet.
    pub most: Figure,
    /// A month counts with what was in use on so many of its days.
    pub days: usize,
}

named! {
    /// The parts of the form.
    pub enum Part {
        Income => "I",
        Expenses => "II",
        GoodsSold => "III",
        Vehicle => "IV",
        OtherExpenses => "V",
    }
}

/// What an entered line takes, or what a worked-out line is made of.
#[derive(Clone, Copy, Debug)]
pub enum Feed {
    /// The year's postings of these classes, credits as positive amounts.
    Income(&'static [TaxClass]),
    /// The same, with what of earlier depreciation comes back into income.
    IncomeAndRecapture(&'static [TaxClass]),
    /// The year's postings of these classes, debits as positive amounts.
    Cost(&'static [TaxClass]),
    /// A percentage of the postings of a class.
    Share(TaxClass, u32),
    /// What the depreciation schedule comes to.
    Depreciation,
    /// The simplified method for a home office where it is recorded, no more than another line; else the year's postings
    /// of the class.
    HomeOffice {
        actual: TaxClass,
        no_more_than: &'static str,
    },
    OpeningStock,
    ClosingStock,
    /// Miles driven for the business.
    BusinessMiles,
    /// Each item with its classes on a row of its own; only rows with an amount are shown.
    Items(&'static [Item]),
    /// Other lines, added or taken off.
    Sum(&'static [(Sign, &'static str)]),
    /// All rows of [`Feed::Items`].
    SumOfItems,
    /// The books have no record that would belong there.
    Nothing,
    /// Words instead of an amount.
    Words(&'static str),
}

/// Whether a line is added or taken off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    Plus,
    Minus,
}

/// A row of the list of other expenses.
#[derive(Clone, Copy, Debug)]
pub struct Item {
    pub label: &'static str,
    pub feed: ItemFeed,
}

#[derive(Clone, Copy, Debug)]
pub enum ItemFeed {
    Class(TaxClass),
    /// Small tools written off in their first year, from the depreciation schedule.
    SmallToolsByElection,
    SmallToolsAsSupplies,
}

/// A line of a form.
#[derive(Clone, Copy, Debug)]
pub struct FormLine {
    pub part: Part,
    pub line: &'static str,
    pub label: &'static str,
    pub feed: Feed,
}

impl FormLine {
    pub(super) const fn new(part: Part, line: &'static str, label: &'static str, feed: Feed) -> Self {
        Self { part, line, label, feed }
    }
}

named! {
    /// How sure the lines of a form are.
    pub enum FormStanding {
        Published => "published",
        /// The form of that year has not been seen: its lines follow the year before.
        Provisional => "provisional",
    }
}

/// One jurisdiction's year.
#[derive(Debug)]
pub struct Profile {
    pub jurisdiction: &'static str,
    pub year: i32,
    /// ISO 4217 code of the currency the form is filled in.
    pub currency: &'static str,
    pub form: &'static str,
    pub standing: FormStanding,
    /// Blocks of lines, in the order of the form.
    pub lines: &'static [&'static [FormLine]],
    /// The line to which the list of other expenses is carried.
    pub other_expenses_line: &'static str,
    pub lines_source: Cited,
    pub section_179: Section179Limits,
    pub special_allowance: &'static [AllowanceRate],
    /// A tool of no more than this can be expensed where the year elects it.
    pub de_minimis_per_item: Figure,
    /// The same where the year has an applicable financial statement, such as an audited one.
    pub de_minimis_with_statement: Figure,
    /// A thing of no more than this is a material or supply.
    pub materials_per_unit: Figure,
    pub mileage: MileageRate,
    pub home_office: HomeOfficeRate,
    /// Payments of so much to one person for services, or for rent, are reported.
    pub information_return: Figure,
    /// Average gross receipts up to which stock may be treated simply.
    pub simple_stock_receipts: Figure,
    /// Whether voluntary tips get a deduction of their own outside this form.
    pub tips_deduction: Option<Cited>,
}

/// A figure of the law that a summary leans on, for the reader to check.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct FigureOfLaw {
    /// What the figure is of.
    pub what: &'static str,
    /// None for what is no figure, such as the numbers of the form's lines.
    #[schema(value_type = Option<String>)]
    pub value: Option<Decimal>,
    /// The publication it stands in.
    pub source: &'static str,
    pub mark: Mark,
}

const PROFILES: [&Profile; 4] = [&us_2023::PROFILE, &us_2024::PROFILE, &us_2025::PROFILE, &us_2026::PROFILE];

impl Profile {
    /// # Errors
    /// [`TaxFinding::NoProfile`], naming the years there are.
    pub fn find(jurisdiction: &str, year: i32) -> Result<&'static Self, TaxFinding> {
        Self::all().find(|profile| profile.jurisdiction == jurisdiction && profile.year == year).ok_or_else(
            || {
                let known: Vec<_> =
                    Self::all().map(|profile| format!("{} {}", profile.jurisdiction, profile.year)).collect();
                TaxFinding::NoProfile { jurisdiction: jurisdiction.to_owned(), year, known: known.join(", ") }
            },
        )
    }

    pub fn all() -> impl Iterator<Item = &'static Self> {
        PROFILES.into_iter()
    }

    /// What the year's figures are and where they come from.
    pub fn figures(&self) -> Vec<FigureOfLaw> {
        let cited = |what, value, source: Cited| FigureOfLaw {
            what,
            value,
            source: source.publication,
            mark: source.mark,
        };
        let figure = |what, figure: Figure| cited(what, Some(figure.value), figure.source);
        let mut all = vec![
            cited("lines of the form", None, self.lines_source),
            figure("section 179, most a year", self.section_179.maximum),
            figure("section 179, shrinks from", self.section_179.shrinks_from),
            figure("section 179, a heavy vehicle", self.section_179.heavy_vehicle),
            figure("de minimis safe harbor, an item", self.de_minimis_per_item),
            figure("the same with an applicable financial statement", self.de_minimis_with_statement),
            figure("material or supply, a unit", self.materials_per_unit),
            figure("standard rate, a mile", self.mileage.per_mile),
            figure("depreciation in it, a mile", self.mileage.depreciation_part),
            figure("home office, a square foot", self.home_office.per_square_foot),
            figure("home office, most square feet", self.home_office.most),
            figure("information return, a payee", self.information_return),
            figure("gross receipts for simple stock", self.simple_stock_receipts),
        ];
        for rate in self.special_allowance {
            let ((from, ..), (until, ..)) = rate.in_service;
            let (_, (acquired_until, ..)) = rate.acquired;
            if (from..=until).contains(&self.year) {
                let what = if acquired_until < 9999 {
                    "special allowance in percent, acquired through 2025-01-19"
                } else {
                    "special allowance in percent, acquired later"
                };
                all.push(cited(what, Some(Decimal::from(rate.percent)), rate.source));
            }
        }
        all.extend(self.tips_deduction.map(|source| cited("deduction for tips", None, source)));
        all
    }

    /// The lines in the order of the form.
    pub fn form_lines(&self) -> impl Iterator<Item = &'static FormLine> + use<> {
        self.lines.iter().flat_map(|block| block.iter())
    }

    /// The line a class of postings is entered on, `item` for the list of other expenses; none where it is no
    /// business of this form or is worked out from a schedule.
    pub fn line_of(&self, class: TaxClass) -> Option<&'static str> {
        let takes = |feed: &Feed| match feed {
            Feed::Income(classes) | Feed::IncomeAndRecapture(classes) | Feed::Cost(classes) => {
                classes.contains(&class)
            }
            Feed::Share(one, _) | Feed::HomeOffice { actual: one, .. } => *one == class,
            Feed::Items(items) => {
                items.iter().any(|item| matches!(item.feed, ItemFeed::Class(listed) if listed == class))
            }
            _ => false,
        };
        self.form_lines().find(|line| takes(&line.feed)).map(|line| line.line)
    }

    /// The special allowance in percent, none where no rule covers the days.
    pub fn special_allowance(
        &self,
        acquired: NaiveDate,
        in_service: NaiveDate,
    ) -> Option<&'static AllowanceRate> {
        let (acquired, in_service) = (day_of(acquired), day_of(in_service));
        let within = |day: Day, (from, to): (Day, Day)| from <= day && day <= to;
        self.special_allowance
            .iter()
            .find(|rate| within(acquired, rate.acquired) && within(in_service, rate.in_service))
    }
}
