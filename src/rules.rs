//! The rules: pure decisions about money. They take facts and return a
//! [`Recording`](recording::Recording) or a [`Refusal`](refusal::Refusal); they know of no database, no network,
//! no clock and no chance.
//!
//! Ground (every word may lean on it): [`money`], [`split`], [`ids`], [`objects`], [`treatment`], [`tool_terms`],
//! [`pieces`], [`vehicles`], [`units`], [`journal`], [`chain`], [`tie`], [`rows`], [`recording`], [`refusal`], [`revisions`],
//! [`write_offs`].
//! No word imports another word;
//! what looks across all of them is a reader: [`costing`], [`ledger`], [`tax_year`], [`verify`].

pub mod accounts;
pub mod attributions;
pub mod books;
pub mod chain;
pub mod costing;
pub mod deals;
pub mod documents;
pub mod entries;
pub mod episodes;
pub mod furniture;
pub mod gifts;
pub mod ids;
pub mod journal;
pub mod labour;
pub mod ledger;
pub mod materials;
pub mod money;
pub mod objects;
pub mod openings;
pub mod parties;
pub mod payouts;
pub mod pieces;
pub mod projects;
pub mod purchases;
pub mod recording;
pub mod refusal;
pub mod revisions;
pub mod rows;
pub mod split;
pub mod tax_year;
pub mod tie;
pub mod tokens;
pub mod tool_terms;
pub mod tools;
pub mod treatment;
pub mod trips;
pub mod units;
pub mod vehicles;
pub mod verify;
pub mod write_offs;

mod named;
#[cfg(test)]
pub(crate) mod trial;
