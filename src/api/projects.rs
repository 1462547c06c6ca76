//! Projects over HTTP.

use actix_web::{get, patch, post, web};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use super::revisions::revised;
use crate::rules::ids::ProjectId;
use crate::rules::projects::{self, NewBudget, NewProject, ProjectLabels};

listed!(Projects, "projects", list_projects "/v1/projects", read_project "/v1/projects/{id}");

recorded!(
    /// Opens a project with its place and budget.
    "projects",
    open_project "/v1/projects", open_project_batch "/v1/projects/batch",
    NewProject, NewProjectBatch, async |desk, new| Ok(projects::open(&mut desk.pen(), new)?)
);

revised!(
    /// Changes what a project is called, or its note.
    "projects", ProjectLabels, ProjectLabelsPatch, ProjectId, revise_project "/v1/projects/{id}"
);

/// Adds lines to a project's budget, an episode named where wanted.
#[utoipa::path(tag = "projects", request_body = NewBudget)]
#[post("/v1/projects/{id}/budget")]
pub async fn budget_project(
    door: Door<Records>,
    id: web::Path<ProjectId>,
    body: Checked<NewBudget>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let project = desk.tx.project(id).await?;
        Ok(projects::budget(&mut desk.pen(), &project, new)?)
    })
    .await
}
