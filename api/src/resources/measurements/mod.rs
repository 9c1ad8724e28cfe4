//! Measurements: readings.

pub mod http;
pub mod store;
