//! Deferrals: the terms on which defects are flown with.

pub mod http;
pub mod store;
