//! Defects: what was found wrong.

pub mod http;
pub mod store;
