//! Records that come in and go out as files, one folder per format.
//!
//! * [`tables`]: a club as a folder of CSV tables with a strict grammar.
//! * [`calendar`]: the days ahead, for calendar programs.
//! * [`programme`]: the inspection programme that every new club gets, kept in the same tables.
//!
//! Nothing here writes to a database: what is read goes in through the public routes like anything else.

pub mod calendar;
pub mod programme;
pub mod tables;
