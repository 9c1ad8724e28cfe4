//! Closures: defects closed without a repair.

pub mod http;
pub mod store;
