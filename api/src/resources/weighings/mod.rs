//! Weighings: weighings of models.

pub mod http;
pub mod store;
