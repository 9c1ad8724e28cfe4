//! Repairs: repairs under way or done.

pub mod http;
pub mod store;
