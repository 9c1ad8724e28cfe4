//! Setting passwords. They are no facts: their rows are `access`'s work.

pub mod http;
