//! Episodes over HTTP.

use actix_web::{get, post};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use crate::rules::episodes::{self, NewEpisode};

listed!(Episodes, "episodes", list_episodes "/v1/episodes", read_episode "/v1/episodes/{id}");

/// Plans an episode of a project.
#[utoipa::path(tag = "episodes", request_body = NewEpisode)]
#[post("/v1/episodes")]
pub async fn plan_episode(door: Door<Records>, body: Checked<NewEpisode>) -> Answer {
    door.record(body, async |desk, new| Ok(episodes::plan(&mut desk.pen(), new)?)).await
}
