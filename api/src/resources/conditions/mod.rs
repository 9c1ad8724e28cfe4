//! Conditions: changes of a part's kept state.

pub mod http;
pub mod store;
