//! The demo club: the invented Quillmarsh Soaring Club as tables, and `preen-server demo`.
//!
//! It uses the service as anybody would: over HTTP, with tokens. Nothing here writes to a database.

//! [`run`] is the command: a [`throwaway`] club is filled from [`tables`], [`show`] does the main job and tells of it.

pub mod access;
pub mod error;
pub mod grid;
pub mod load;
pub mod progress;
pub mod rest;
pub mod run;
pub mod show;
pub mod tables;
pub mod throwaway;
