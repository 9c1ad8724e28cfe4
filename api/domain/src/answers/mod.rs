//! Answers: pure functions of what is known and a moment. No clock, no database.
//!
//! * [`compute`]: bench calculators that need no fleet.

pub mod compute;
