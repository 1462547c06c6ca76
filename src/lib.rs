//! Ledgerboard: books for a renovation channel.

pub mod api;
pub mod export;
pub mod rules;
pub mod store;
pub mod web;
