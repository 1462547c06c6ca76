//! Recording a choice for a tax year.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::elections::{Elections, chosen_words};
use super::profile::Profile;
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{Explain, Findings, Refusal, Said};
use crate::rules::rows::{Election, ElectionKind, RecoveryClass, Row};

/// The one year of the lower allowance (IRC 168(k)(10), from memory).
const LOWER_ALLOWANCE_YEAR: i32 = 2025;

/// A choice that the owner makes for a tax year.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewElection {
    pub kind: ElectionKind,
    /// With `no_special_allowance` and `straight_line`, which are chosen class by class: the recovery class in years.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<RecoveryClass>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why a choice is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ElectionFinding {
    ClassMissing { kind: ElectionKind },
    NotByClass { kind: ElectionKind },
    NotOfThatYear { kind: ElectionKind, year: i32, only: i32 },
    OtherLimitChosen { year: i32, chosen: ElectionKind },
    ChosenAlready { year: i32, kind: ElectionKind, class: Option<RecoveryClass> },
}

impl Explain for ElectionFinding {
    fn say(&self) -> Said {
        match self {
            Self::ClassMissing { kind } => Said::invalid(
                format!("{kind} is chosen class by class, and no class is given"),
                "give class, the recovery class in years: 3, 5 or 7; one request a class",
            ),
            Self::NotByClass { kind } => Said::invalid(
                format!("{kind} is chosen for the whole year, and a class is given"),
                "leave class out",
            ),
            Self::NotOfThatYear { kind, year, only } => Said::invalid(
                format!("{kind} is a choice of {only} alone, not of {year}"),
                format!("leave it, or choose it for {only}"),
            ),
            Self::OtherLimitChosen { year, chosen } => Said::conflict(
                format!("{chosen} is recorded for {year}, and the year has one limit of the safe harbor"),
                "take that choice back first: reverse its record (POST /v1/records/{id}/reversal)",
            ),
            Self::ChosenAlready { year, kind, class } => Said::conflict(
                format!("{} is recorded for {year} already", named(*kind, *class)),
                "nothing is left to do; to take it back, reverse its record (POST /v1/records/{id}/reversal)",
            ),
        }
    }
}

/// The choice with its class where it has one.
fn named(kind: ElectionKind, class: Option<RecoveryClass>) -> String {
    class.map_or_else(|| kind.to_string(), |class| format!("{kind} for the {class}-year class"))
}

const fn is_by_class(kind: ElectionKind) -> bool {
    matches!(kind, ElectionKind::NoSpecialAllowance | ElectionKind::StraightLine)
}

/// Records a choice for `year`; `profile` is that year's where there is one, `chosen` are the choices that stand so
/// far, of all years. It posts nothing: the summary of the year, and of later ones where the choice concerns a tool's
/// life, reads it. Years before the books are taken too, for they decide how a tool of the opening position goes on.
/// # Errors
/// [`ElectionFinding`] and those of a year that is closed or out of reach, all at once.
/// # Source
/// Which choices are by class: IRC 168(k)(7) and 168(b)(5); the de minimis safe harbor is for the whole year: Reg.
/// 1.263(a)-1(f)(5); all from memory.
pub fn elect(
    pen: &Pen<'_>,
    year: i32,
    profile: Option<&Profile>,
    chosen: &[Election],
    new: &NewElection,
) -> Result<Recording, Refusal> {
    let (kind, class) = (new.kind, new.class);
    let mut findings = Findings::new();
    match (is_by_class(kind), class) {
        (true, None) => findings.add(Refusal::new("/class", ElectionFinding::ClassMissing { kind })),
        (false, Some(_)) => findings.add(Refusal::new("/class", ElectionFinding::NotByClass { kind })),
        _ => {}
    }
    if kind == ElectionKind::LowerAllowance2025 && year != LOWER_ALLOWANCE_YEAR {
        let why = ElectionFinding::NotOfThatYear { kind, year, only: LOWER_ALLOWANCE_YEAR };
        findings.add(Refusal::new("/kind", why));
    }
    let election = Election { tax_year: year, kind, class };
    if chosen.contains(&election) {
        findings.add(Refusal::new("/kind", ElectionFinding::ChosenAlready { year, kind, class }));
    }
    let other = match kind {
        ElectionKind::DeMinimis => Some(ElectionKind::DeMinimisWithStatement),
        ElectionKind::DeMinimisWithStatement => Some(ElectionKind::DeMinimis),
        _ => None,
    };
    if let Some(other) = other.filter(|other| Elections(chosen).chose(year, *other)) {
        findings.add(Refusal::new("/kind", ElectionFinding::OtherLimitChosen { year, chosen: other }));
    }
    let last_day = findings.keep(pen.open_year(year));
    findings.or_refuse()?;
    let date = last_day.unwrap_or(pen.books.began_on);
    let mut recording = Recording::new(
        Word::TaxYears,
        "election",
        date,
        format!("chosen for {year}: {}", named(kind, class)),
    );
    recording.notes.extend(profile.map(|profile| chosen_words(kind, class, profile)));
    recording.rows.push(Row::Election(election));
    Ok(recording)
}
