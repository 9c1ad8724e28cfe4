//! Members: people of the club: the only place where names are kept.

pub mod erasure;
pub mod http;
pub mod store;
