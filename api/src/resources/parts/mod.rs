//! Parts: part types.

pub mod http;
pub mod store;
