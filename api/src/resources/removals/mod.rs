//! Removals: parts taken out of positions.

pub mod http;
pub mod store;
