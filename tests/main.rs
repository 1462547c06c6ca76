//! The trade's tests: real HTTP against real PostgreSQL, one database a test, a file for each word.

mod world;

mod accounts;
mod attributions;
mod cluster;
mod costing;
mod deals;
mod entries;
mod furniture;
mod gifts;
mod labour;
mod materials;
mod openings;
mod payouts;
mod projects;
mod purchases;
mod tools;
mod trips;
mod verify;
