//! Slugs: counted ballast and nose weights.

pub mod http;
pub mod store;
