//! Contests that pilots of the club go to.

pub mod http;
pub mod store;
