//! Installations: parts put into positions.

pub mod http;
pub mod store;
