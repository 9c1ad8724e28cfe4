//! Events: transport, lay-up and return, sale, loss, storage, radio change.

pub mod http;
pub mod store;
