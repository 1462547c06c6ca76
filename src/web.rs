//! The pages: for the tired person with a phone. One so far, which says where things are.

pub mod pages;
