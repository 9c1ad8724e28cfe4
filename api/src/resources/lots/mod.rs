//! Lots: consumables with one date.

pub mod http;
pub mod store;
