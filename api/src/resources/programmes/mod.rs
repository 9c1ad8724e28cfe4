//! Programmes: inspection programmes.

pub mod http;
pub mod store;
