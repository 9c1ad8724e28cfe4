//! The pure heart of Preen. Nothing here reads a clock, a file, the network or a database.
//!
//! * [`words`], [`text`], [`ids`], [`time`], [`digest`]: the small types that everything is made of.
//! * [`json`]: how JSON is read, so that nothing of it is lost.
//! * [`facts`]: what is recorded, one shape per fact.
//! * [`fleet`]: all facts of one club, arranged for answering.
//! * [`quantities`]: what is known of the quantities that are measured.
//! * [`classes`]: the contest classes that come along, as data.
//! * [`rules`]: may this fact be recorded?
//! * [`finding`]: what an answer or a rule has to say against something.
//! * [`answers`]: what is asked of all that.
//! * [`asked`]: questions in words, a path and parameters, answered from a Fleet.
//! * [`worksheets`]: how repairs are done, as data.
//! * [`formulas`]: engineering and statistics over plain numbers.

#![deny(missing_docs)]

pub mod answers;
pub mod asked;
pub mod classes;
pub mod digest;
pub mod facts;
pub mod finding;
pub mod fleet;
pub mod formulas;
pub mod ids;
pub mod json;
pub mod quantities;
pub mod rules;
pub mod text;
pub mod time;
pub mod words;
pub mod worksheets;
