//! The trade's tests: real HTTP against real PostgreSQL, one database a test, a file for each word.

mod world;

mod accounts;
mod attributions;
mod audit;
mod batch;
mod books;
mod chance;
mod cluster;
mod contract;
mod costing;
mod deals;
mod demo;
mod differential;
mod door;
mod entries;
mod furniture;
mod gifts;
mod hangup;
mod labour;
mod ledger;
mod limits;
mod materials;
mod openapi;
mod openings;
mod parties;
mod payouts;
mod projects;
mod purchases;
mod readme;
mod store;
mod tax_years;
mod tokens;
mod tools;
mod trips;
mod verify;
