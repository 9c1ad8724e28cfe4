//! Releases: club releases of repairs.

pub mod http;
pub mod store;
