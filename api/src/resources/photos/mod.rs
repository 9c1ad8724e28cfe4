//! Photos: what is to be seen of a model or a part, and the pictures that are kept for them.

pub mod files;
pub mod http;
pub mod joined;
pub mod pictures;
pub mod store;
pub mod sweep;
