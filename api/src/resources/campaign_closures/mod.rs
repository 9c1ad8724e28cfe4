//! Closings of campaigns.

pub mod http;
pub mod store;
