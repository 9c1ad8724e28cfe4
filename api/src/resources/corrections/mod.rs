//! Corrections: facts that take the place of wrong ones.

pub mod http;
pub mod store;
