//! Settlements: how questions were settled.

pub mod http;
pub mod store;
