//! How a request names what something is for: an episode, a project, a piece, or nothing in particular.

#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, PieceId, ProjectId};
use super::money::{Money, MoneyFinding, Share};
use super::recording::CostObject;
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::Target;
use super::split::{split_by_largest_remainder, split_by_shares};

/// One episode or one project.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectAsked {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
}

/// One episode or project with its share; shares of a list total 100, or are left out for equal parts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectShare {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<Share>,
}

/// Where a material or an hour went: one of episode, project and piece; none of them is overhead.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetAsked {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
}

/// What can be wrong with naming an object.
#[derive(Clone, Debug, PartialEq)]
pub enum ObjectFinding {
    NeitherNamed,
    MoreThanOneNamed,
    SomeSharesMissing,
}

impl Explain for ObjectFinding {
    fn say(&self) -> Said {
        match self {
            Self::NeitherNamed => {
                Said::invalid("neither an episode nor a project is named", "give episode or project")
            }
            Self::MoreThanOneNamed => Said::invalid(
                "more than one of episode, project and piece is named",
                "name one; split the record, or give shares, to serve several",
            ),
            Self::SomeSharesMissing => Said::invalid(
                "some shares are given and others are not",
                "give every share so that they total 100, or none for equal parts",
            ),
        }
    }
}

fn one_object(
    episode: Option<EpisodeId>,
    project: Option<ProjectId>,
) -> Result<Option<CostObject>, ObjectFinding> {
    match (episode, project) {
        (Some(_), Some(_)) => Err(ObjectFinding::MoreThanOneNamed),
        (Some(episode), None) => Ok(Some(CostObject::Episode(episode))),
        (None, Some(project)) => Ok(Some(CostObject::Project(project))),
        (None, None) => Ok(None),
    }
}

impl ObjectAsked {
    /// # Errors
    /// [`ObjectFinding`] unless exactly one is named.
    pub fn object(self) -> Result<CostObject, ObjectFinding> {
        self.optional()?.ok_or(ObjectFinding::NeitherNamed)
    }

    /// # Errors
    /// [`ObjectFinding::MoreThanOneNamed`].
    pub fn optional(self) -> Result<Option<CostObject>, ObjectFinding> {
        one_object(self.episode, self.project)
    }
}

impl TargetAsked {
    /// # Errors
    /// [`ObjectFinding::MoreThanOneNamed`].
    pub fn target(self) -> Result<Target, ObjectFinding> {
        match (one_object(self.episode, self.project)?, self.piece) {
            (Some(_), Some(_)) => Err(ObjectFinding::MoreThanOneNamed),
            (Some(object), None) => Ok(Target::Object(object)),
            (None, Some(piece)) => Ok(Target::Piece(piece)),
            (None, None) => Ok(Target::Overhead),
        }
    }
}

/// Splits `amount` over the objects named: by shares that total 100, or equally where none is given.
/// An empty list gives nothing: the amount stays unattributed.
/// # Errors
/// [`ObjectFinding`] at the place in the list, or the split's own finding.
pub fn split_over_objects(amount: Money, asked: &[ObjectShare]) -> Result<Vec<(CostObject, Money)>, Refusal> {
    if asked.is_empty() {
        return Ok(Vec::new());
    }
    let mut findings = Findings::new();
    let mut objects = Vec::with_capacity(asked.len());
    for (place, one) in asked.iter().enumerate() {
        let named = ObjectAsked { episode: one.episode, project: one.project }.object();
        objects.extend(findings.keep(named.at(&format!("/{place}"))));
    }
    findings.or_refuse()?;
    let shares: Vec<Share> = asked.iter().filter_map(|one| one.share).collect();
    let parts = if shares.is_empty() {
        split_by_largest_remainder(amount, &vec![rust_decimal::Decimal::ONE; asked.len()])?
    } else if shares.len() == asked.len() {
        split_by_shares(amount, &shares)?
    } else {
        return Err(ObjectFinding::SomeSharesMissing.into());
    };
    Ok(objects.into_iter().zip(parts).collect())
}

/// Splits `amount` the way `parts` share in `whole`; what of the whole is in no part takes its share too and stays
/// unattributed. A fee follows its income this way, and so does what goes back.
/// # Errors
/// [`MoneyFinding::Negative`] where the parts come to more than the whole; else as [`split_by_largest_remainder`].
pub fn split_like(
    amount: Money,
    parts: &[(CostObject, Money)],
    whole: Money,
) -> Result<Vec<(CostObject, Money)>, Refusal> {
    if parts.is_empty() || whole.is_zero() {
        return Ok(Vec::new());
    }
    let taken = Money::sum(whole.currency(), parts.iter().map(|(_, part)| *part))?;
    let rest = whole.minus(taken)?;
    if rest.is_negative() {
        return Err(MoneyFinding::Negative { amount: rest.amount() }.into());
    }
    let mut weights: Vec<_> = parts.iter().map(|(_, part)| part.amount()).collect();
    weights.push(rest.amount());
    let split = split_by_largest_remainder(amount, &weights)?;
    Ok(parts.iter().map(|(object, _)| *object).zip(split).collect())
}
