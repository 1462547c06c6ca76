//! The rules: pure decisions about money. They take facts and return a
//! [`Recording`](recording::Recording) or a [`Refusal`](refusal::Refusal); they know of no database, no network,
//! no clock and no chance.
//!
//! Ground (every word may lean on it): [`money`], [`split`], [`ids`], [`treatment`], [`journal`], [`rows`],
//! [`recording`], [`refusal`]. No word imports another word; what looks across all of them is a reader.

pub mod ids;
pub mod journal;
pub mod money;
mod named;
pub mod objects;
pub mod recording;
pub mod refusal;
pub mod rows;
pub mod split;
pub mod tax_year;
pub mod treatment;
