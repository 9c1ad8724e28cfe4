//! Limits: the club's own, in the place of the programme's.

pub mod http;
pub mod store;
