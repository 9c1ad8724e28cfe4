//! The demo club: the invented Quillmarsh Soaring Club as tables, and `preen-server demo`.
//!
//! It uses the service as anybody would: over HTTP, with tokens. Nothing here writes to a database.

pub mod grid;
pub mod load;
pub mod progress;
pub mod rest;
pub mod tables;
