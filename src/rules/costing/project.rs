//! The cost statement of a project: its episodes' and its own, both shown, and their sum.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, ProjectId};
use super::super::money::Currency;
use super::super::recording::CostObject;
use super::super::refusal::Refusal;
use super::statement::{Figures, Gathered, Statement, sound_sources};
use super::{ObjectFacts, Period, SourceFacts};

/// One of the project's episodes.
#[derive(Clone, Debug)]
pub struct EpisodeFacts {
    pub episode: EpisodeId,
    pub facts: ObjectFacts,
}

/// What a project's statement is worked out from.
#[derive(Clone, Debug)]
pub struct ProjectFacts {
    pub project: ProjectId,
    pub currency: Currency,
    pub period: Period,
    /// In the order they are to be shown in.
    pub episodes: Vec<EpisodeFacts>,
    /// What is the project's and no episode's: its own attributions, and its budget lines that name no episode.
    pub own: ObjectFacts,
    /// Every source that any of the attributions names.
    pub sources: Vec<SourceFacts>,
}

/// What a project cost and earned.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ProjectStatement {
    pub project: ProjectId,
    pub currency: Currency,
    /// First day covered; null for the whole life.
    pub from: Option<NaiveDate>,
    /// Last day covered; null for the whole life.
    pub to: Option<NaiveDate>,
    /// Each episode's own statement.
    pub episodes: Vec<Statement>,
    /// What is the project's and no episode's. A budget line that names no episode stands here beside what was
    /// spent outside of episodes; read the total where the budget is for the whole project.
    pub own: Figures,
    /// Episodes and own together; pay for each hour is worked out from the sums.
    pub total: Figures,
}

/// A project's statement: the sum of its episodes' statements and its own attributions.
/// # Errors
/// As [`statement`](super::statement()).
pub fn project_statement(facts: &ProjectFacts) -> Result<ProjectStatement, Refusal> {
    let period = facts.period.checked()?;
    let sound = sound_sources(&facts.sources, period);
    let mut total = Gathered::of(&facts.own, facts.currency, period)?;
    let own = total.figures(&sound, Some((CostObject::Project(facts.project), period)))?;
    let mut episodes = Vec::with_capacity(facts.episodes.len());
    for EpisodeFacts { episode, facts: part } in &facts.episodes {
        let gathered = Gathered::of(part, facts.currency, period)?;
        total.include(&gathered)?;
        episodes.push(Statement {
            episode: *episode,
            currency: facts.currency,
            from: period.from,
            to: period.to,
            figures: gathered.figures(&sound, Some((CostObject::Episode(*episode), period)))?,
        });
    }
    Ok(ProjectStatement {
        project: facts.project,
        currency: facts.currency,
        from: period.from,
        to: period.to,
        episodes,
        own,
        total: total.figures(&sound, None)?,
    })
}
