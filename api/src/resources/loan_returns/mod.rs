//! Loan returns: what came back.

pub mod http;
pub mod store;
