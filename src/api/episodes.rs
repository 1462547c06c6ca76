//! Episodes over HTTP.

use actix_web::{get, patch, post};

use super::batch::recorded;
use super::lists::listed;
use super::revisions::revised;
use crate::rules::episodes::{self, EpisodeLabels, NewEpisode};
use crate::rules::ids::EpisodeId;

listed!(Episodes, "episodes", list_episodes "/v1/episodes", read_episode "/v1/episodes/{id}");

recorded!(
    /// Plans an episode of a project.
    "episodes",
    plan_episode "/v1/episodes", plan_episode_batch "/v1/episodes/batch",
    NewEpisode, NewEpisodeBatch, async |desk, new| Ok(episodes::plan(&mut desk.pen(), new)?)
);

revised!(
    /// Changes what an episode is called, the day it is planned for, or its note.
    "episodes", EpisodeLabels, EpisodeLabelsPatch, EpisodeId, revise_episode "/v1/episodes/{id}"
);
