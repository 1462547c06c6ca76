//! The year's recorded choices, and what the law does where nothing was chosen.

use serde::Serialize;
use utoipa::ToSchema;

use super::super::rows::{Election, ElectionKind, RecoveryClass};
use super::facts::YearFacts;
use super::profile::{Figure, Profile};

/// The recorded choices of all years.
#[derive(Clone, Copy, Debug)]
pub(super) struct Elections<'a>(pub &'a [Election]);

impl Elections<'_> {
    pub fn chose(self, year: i32, kind: ElectionKind) -> bool {
        self.0.iter().any(|one| one.tax_year == year && one.kind == kind)
    }

    /// The limit of the de minimis safe harbor in a year that elects it.
    pub fn de_minimis_limit(self, year: i32, profile: &Profile) -> Option<Figure> {
        if self.chose(year, ElectionKind::DeMinimisWithStatement) {
            Some(profile.de_minimis_with_statement)
        } else {
            self.chose(year, ElectionKind::DeMinimis).then_some(profile.de_minimis_per_item)
        }
    }

    /// An election by class that names none is for every class.
    pub fn chose_for(self, year: i32, kind: ElectionKind, class: RecoveryClass) -> bool {
        self.0.iter().any(|one| {
            one.tax_year == year && one.kind == kind && one.class.is_none_or(|named| named == class)
        })
    }
}

/// A choice that is in force, or the default that holds instead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ElectionInForce {
    pub kind: ElectionKind,
    /// The recovery class in years, with elections by class.
    pub class: Option<RecoveryClass>,
    /// False where nobody chose and the law gives it.
    pub chosen: bool,
    pub says: String,
}

/// Every election of the year, chosen or not. The 2025-only choice is listed for 2025; of the two limits of the de
/// minimis safe harbor the one that is chosen, or the usual one.
pub(super) fn in_force(facts: &YearFacts) -> Vec<ElectionInForce> {
    let year = facts.year();
    let mut all = Vec::new();
    for kind in ElectionKind::ALL.iter().copied() {
        if kind == ElectionKind::LowerAllowance2025 && year != 2025 {
            continue;
        }
        let chosen: Vec<_> =
            facts.elections.iter().filter(|one| one.tax_year == year && one.kind == kind).collect();
        let other_limit = match kind {
            ElectionKind::DeMinimis => {
                Elections(&facts.elections).chose(year, ElectionKind::DeMinimisWithStatement)
            }
            ElectionKind::DeMinimisWithStatement => true,
            _ => false,
        };
        if chosen.is_empty() && !other_limit {
            let says = format!("not chosen: the law's default is {}", default_of(kind, facts));
            all.push(ElectionInForce { kind, class: None, chosen: false, says });
        }
        for one in chosen {
            let says = chosen_words(kind, one.class, facts.profile);
            all.push(ElectionInForce { kind, class: one.class, chosen: true, says });
        }
    }
    all
}

fn default_of(kind: ElectionKind, facts: &YearFacts) -> String {
    match kind {
        ElectionKind::DeMinimis | ElectionKind::DeMinimisWithStatement => format!(
            "that tools are depreciated, except a thing of no more than {} a unit, which is a supply ({})",
            facts.profile.materials_per_unit.value, facts.profile.materials_per_unit.source.publication
        ),
        ElectionKind::NoSpecialAllowance => {
            "that the special allowance is taken on everything that qualifies (IRC 168(k))".to_owned()
        }
        ElectionKind::StraightLine => {
            "the declining balance of the published tables (Pub. 946 ch. 4)".to_owned()
        }
        ElectionKind::LowerAllowance2025 => {
            "100 % on what was acquired after 2025-01-19, not 40 % (IRC 168(k)(10), from memory)".to_owned()
        }
        ElectionKind::InventoryAsMaterials => format!(
            "to keep stock at cost; a business whose gross receipts averaged {} or less over three years may \
             treat it as materials that are not incidental, deducted when sold (IRC 471(c))",
            facts.profile.simple_stock_receipts.value
        ),
    }
}

/// What a choice does, in words.
pub(super) fn chosen_words(kind: ElectionKind, class: Option<RecoveryClass>, profile: &Profile) -> String {
    let of_class = class.map_or_else(|| "every class".to_owned(), |class| format!("the {class}-year class"));
    match kind {
        ElectionKind::DeMinimis => format!(
            "everything of no more than {} an item is written off at once; a statement goes with the return ({})",
            profile.de_minimis_per_item.value, profile.de_minimis_per_item.source.publication
        ),
        ElectionKind::DeMinimisWithStatement => format!(
            "everything of no more than {} an item is written off at once, for the year has an applicable financial \
             statement; a statement goes with the return ({})",
            profile.de_minimis_with_statement.value, profile.de_minimis_with_statement.source.publication
        ),
        ElectionKind::NoSpecialAllowance => {
            format!("no special allowance on {of_class} that came into service this year (IRC 168(k)(7))")
        }
        ElectionKind::StraightLine => {
            format!("straight line for {of_class} that came into service this year (IRC 168(b)(5))")
        }
        ElectionKind::LowerAllowance2025 => {
            "40 % instead of 100 % on what came into service in 2025 (IRC 168(k)(10), from memory)".to_owned()
        }
        ElectionKind::InventoryAsMaterials => {
            "stock is treated as materials that are not incidental: deducted when it is sold, not when it is \
             paid for (IRC 471(c); Reg. 1.471-1(b)(4), from memory)"
                .to_owned()
        }
    }
}
