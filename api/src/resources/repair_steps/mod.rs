//! Repair steps: work done on repairs, ticked on their sheets.

pub mod http;
pub mod store;
