//! The pure heart of Preen. Nothing here reads a clock, a file, the network or a database.
//!
//! * [`formulas`]: engineering and statistics over plain numbers.

#![deny(missing_docs)]

pub mod formulas;
