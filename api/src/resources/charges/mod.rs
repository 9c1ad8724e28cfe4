//! Charges: of packs.

pub mod http;
pub mod store;
