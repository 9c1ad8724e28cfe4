//! Loans: parts and models lent.

pub mod http;
pub mod store;
