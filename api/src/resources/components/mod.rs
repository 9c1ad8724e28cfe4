//! Components: individual parts.

pub mod http;
pub mod store;
