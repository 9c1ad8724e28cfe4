//! Models: model aircraft.

pub mod http;
pub mod store;
