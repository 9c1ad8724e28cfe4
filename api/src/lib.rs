//! The Preen service.

pub mod demo;
pub mod exchange;
