//! The API: callers' scripts lean on it. Handlers parse, ask and answer; rules decide and the store does.

mod answer;
mod batch;
mod checked;
pub mod clients;
pub mod command;
mod descriptors;
mod door;
mod formats;
mod json;
pub mod limits;
mod lists;
pub mod metrics;
mod openapi;
mod places;
mod problem;
mod revisions;
mod routes;
pub mod serve;
pub mod setup;
mod stop;

mod accounts;
mod attributions;
mod audit;
mod books;
mod costing;
mod deals;
mod documents;
mod entries;
mod episodes;
mod furniture;
mod gifts;
mod labour;
mod ledger;
mod materials;
mod openings;
mod parties;
mod payouts;
mod projects;
mod purchases;
mod tax_years;
pub mod tls;
mod tokens;
mod tools;
mod trips;

pub use openapi::document;
