//! The beginning of a club: its row, and the set-up code with which its first member lets himself in.

pub mod http;
pub mod store;
