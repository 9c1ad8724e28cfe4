//! Entries of the club's pilots to contests.

pub mod http;
pub mod store;
