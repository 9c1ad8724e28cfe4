//! Matched sets: parts that belong together.

pub mod http;
pub mod store;
