//! The pure heart of Preen. Nothing here reads a clock, a file, the network or a database.
//!
//! * [`words`], [`text`], [`ids`], [`time`]: the small types that everything is made of.
//! * [`facts`]: what is recorded, one shape per fact.
//! * [`finding`]: what an answer or a rule has to say against something.
//! * [`formulas`]: engineering and statistics over plain numbers.

#![deny(missing_docs)]

pub mod facts;
pub mod finding;
pub mod formulas;
pub mod ids;
pub mod text;
pub mod time;
pub mod words;
