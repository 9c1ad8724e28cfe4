//! Designs: what models are built to.

pub mod http;
pub mod store;
