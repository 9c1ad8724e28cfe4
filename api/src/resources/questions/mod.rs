//! Questions: what was sent and could not be recorded.

pub mod http;
pub mod settle;
pub mod store;
