//! The trade's tests: real HTTP against real PostgreSQL, one database a test, a file for each word.

mod world;

mod accounts;
mod cluster;
mod deals;
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
