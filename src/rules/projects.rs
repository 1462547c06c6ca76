//! Projects: one renovation or makeover each, with a place and a budget.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, ProjectId};
use super::money::Amount;
use super::recording::{Category, CostObject, Pen, RecordFinding, Recording, Word, words_of};
use super::refusal::{At, Findings, Refusal};
use super::revisions::{LabelledThing, Labels};
use super::rows::{BudgetLine, Place, Project, Row};

/// One renovation or makeover.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewProject {
    #[schema(min_length = 1, max_length = 200, example = "The Fernbank reading room")]
    pub name: String,
    /// Where it takes place.
    pub place: Place,
    /// The day from which the books have it; their first day where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// What the project as a whole may cost, by category.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub budget: Vec<NewBudgetLine>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What can change of a project. Its place does not: it decides what a cost left in the room is to the tax office.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProjectLabels {
    #[schema(min_length = 1, max_length = 200, example = "The Fernbank reading room")]
    pub name: String,
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

impl Labels for ProjectLabels {
    const THING: LabelledThing = LabelledThing::Project;
    const FIELDS: &'static [&'static str] = &["name", "note"];

    fn tidied(self) -> Result<Self, Refusal> {
        Ok(Self { name: words_of("name", &self.name).at("/name")?, ..self })
    }

    fn title(&self) -> &str {
        &self.name
    }
}

/// One line of a budget; an episode is named where it is that episode's.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBudgetLine {
    pub category: Category,
    pub amount: Amount,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
}

/// Budget lines added to a project; they add to the lines there are.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBudget {
    pub date: NaiveDate,
    /// The lines to add.
    #[schema(min_items = 1, max_items = 100)]
    pub budget: Vec<NewBudgetLine>,
}

fn budget_rows(
    pen: &Pen<'_>,
    recording: &mut Recording,
    project: ProjectId,
    lines: &[NewBudgetLine],
) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    for (place, line) in lines.iter().enumerate() {
        let amount = line.amount.not_negative(pen.base()).at(&format!("/budget/{place}/amount"));
        let Some(amount) = findings.keep(amount) else { continue };
        recording.about.extend(line.episode.map(CostObject::Episode));
        recording.rows.push(Row::BudgetLine(BudgetLine {
            project,
            episode: line.episode,
            category: line.category,
            amount,
        }));
    }
    findings.or_refuse()
}

/// # Errors
/// An empty name, a negative budget.
pub fn open(pen: &mut Pen<'_>, new: &NewProject) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    if new.name.trim().is_empty() {
        findings.add(Refusal::new("/name", RecordFinding::NeedsText { what: "name" }));
    }
    let id = ProjectId(pen.ids.next());
    let date = new.date.unwrap_or(pen.books.began_on);
    let mut recording = Recording::new(Word::Projects, "project", date, &new.name);
    recording.rows.push(Row::Project(Project { id, name: new.name.clone(), place: new.place }));
    recording.about.push(CostObject::Project(id));
    findings.keep(budget_rows(pen, &mut recording, id, &new.budget));
    findings.or_refuse()?;
    Ok(recording)
}

/// # Errors
/// A negative amount.
pub fn budget(pen: &mut Pen<'_>, project: &Project, new: &NewBudget) -> Result<Recording, Refusal> {
    let text = format!("budget of {}", project.name);
    let mut recording = Recording::new(Word::Projects, "budget", new.date, text);
    recording.about.push(CostObject::Project(project.id));
    budget_rows(pen, &mut recording, project.id, &new.budget)?;
    Ok(recording)
}

#[cfg(test)]
mod tests;
