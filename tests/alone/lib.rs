//! The rules of Ledgerboard by themselves.

pub mod rules;
