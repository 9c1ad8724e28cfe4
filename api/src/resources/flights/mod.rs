//! Flights: flights and hand-launch sessions.

pub mod http;
pub mod store;
