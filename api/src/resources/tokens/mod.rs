//! Tokens: access for programs, made by members for themselves and by the keeper for others.

pub mod http;
pub mod store;
