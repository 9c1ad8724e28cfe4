//! Records that come in and go out as files, one folder per format.
//!
//! * [`archive`]: a club as one file, to be taken away and had again.
//! * [`tables`]: a club as a folder of CSV tables with a strict grammar.
//! * [`calendar`]: the days ahead, for calendar programs.
//! * [`programme`]: the inspection programme that every new club gets, kept in the same tables.
//!
//! Nothing here writes to a database. What stands in tables goes in through the public routes like anything else.

pub mod archive;
pub mod calendar;
pub mod programme;
pub mod tables;
