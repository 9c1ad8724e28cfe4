//! Pairings: accepted fits outside a set.

pub mod http;
pub mod store;
