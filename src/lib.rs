//! Ledgerboard: books for a renovation channel.

pub mod rules;
