//! Campaigns: fleet-wide actions.

pub mod http;
pub mod store;
