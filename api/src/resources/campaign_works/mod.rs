//! Works on campaigns: parts looked at for an action.

pub mod http;
pub mod store;
