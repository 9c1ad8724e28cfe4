//! Classes: limits of contest classes, as dated data.

pub mod http;
pub mod store;
