//! Inspections: checks that were done.

pub mod http;
pub mod store;
