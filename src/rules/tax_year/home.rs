//! What stayed in the owner's home, by project.

use std::collections::BTreeMap;

use super::super::ids::ProjectId;
use super::super::money::{Currency, Money};
use super::super::named::named;
use super::super::refusal::Refusal;
use super::super::split::split_by_largest_remainder;
use super::facts::HomeCost;

named! {
    /// What a cost that stayed in the home is there.
    pub enum HomeSide { Improvement => "home_improvement", Repair => "home_repair" }
}

/// A project as the schedule names it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct HomeProject {
    pub name: String,
    pub id: ProjectId,
}

/// A cost of the year of which a part, or all, stayed in the home.
#[derive(Clone, Debug)]
pub struct HomeLine {
    pub side: HomeSide,
    /// What of it stayed in the home.
    pub part: Money,
    /// The whole cost that projects bear shares of.
    pub whole: Money,
    /// What each project came to bear of the whole in the year, by its own attributions or its episodes'; negative
    /// where some of it went back to the vendor or moved on.
    pub borne: Vec<(HomeProject, Money)>,
}

/// Adds the lines up by project, in the order of their names. A project that bears a share of a cost has that share
/// of what of it stayed in the home; what no project bears is left out, and the schedule shows it as the rest.
/// # Errors
/// [`MoneyFinding`](super::super::money::MoneyFinding) if a sum is too large.
pub fn by_project(lines: &[HomeLine], base: Currency) -> Result<Vec<HomeCost>, Refusal> {
    let zero = Money::zero(base);
    let mut sums: BTreeMap<&HomeProject, (Money, Money)> = BTreeMap::new();
    for line in lines {
        for ((project, _), part) in line.borne.iter().zip(parts(line)?) {
            let (improvements, repairs) = sums.entry(project).or_insert((zero, zero));
            let side = match line.side {
                HomeSide::Improvement => improvements,
                HomeSide::Repair => repairs,
            };
            *side = side.plus(part)?;
        }
    }
    let rows = sums.into_iter().filter(|(_, (one, other))| !one.is_zero() || !other.is_zero());
    Ok(rows
        .map(|(project, (improvements, repairs))| HomeCost {
            project: Some(project.id),
            name: project.name.clone(),
            improvements,
            repairs,
        })
        .collect())
}

/// Exactly to the cent where the shares are shares of the whole; else each share by itself, and a cent too much or
/// too little stays with the rest.
fn parts(line: &HomeLine) -> Result<Vec<Money>, Refusal> {
    let borne = Money::sum(line.whole.currency(), line.borne.iter().map(|(_, amount)| *amount))?;
    let rest = line.whole.minus(borne)?;
    let are_shares = !rest.is_negative() && line.borne.iter().all(|(_, amount)| !amount.is_negative());
    if line.whole.is_zero() {
        return Ok(vec![line.whole; line.borne.len()]);
    }
    if are_shares && !line.part.is_negative() {
        let weights: Vec<_> =
            line.borne.iter().map(|(_, amount)| amount.amount()).chain([rest.amount()]).collect();
        return split_by_largest_remainder(line.part, &weights);
    }
    let each = line.borne.iter().map(|(_, amount)| line.part.portion(amount.amount(), line.whole.amount()));
    Ok(each.collect::<Result<_, _>>()?)
}
