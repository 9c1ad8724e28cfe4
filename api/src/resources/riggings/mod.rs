//! Riggings: assemblies of models.

pub mod http;
pub mod store;
