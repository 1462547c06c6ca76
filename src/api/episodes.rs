//! Episodes over HTTP.

use actix_web::{get, post};

use super::batch::recorded;
use super::lists::listed;
use crate::rules::episodes::{self, NewEpisode};

listed!(Episodes, "episodes", list_episodes "/v1/episodes", read_episode "/v1/episodes/{id}");

recorded!(
    /// Plans an episode of a project.
    "episodes",
    plan_episode "/v1/episodes", plan_episode_batch "/v1/episodes/batch",
    NewEpisode, NewEpisodeBatch, async |desk, new| Ok(episodes::plan(&mut desk.pen(), new)?)
);
