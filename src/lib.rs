//! Ledgerboard: books for a renovation channel.

pub mod export;
pub mod rules;
