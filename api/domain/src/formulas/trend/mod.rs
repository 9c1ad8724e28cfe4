//! Wear: how a reading grows with use, when it will reach a limit, and whether one group wears faster than another.
//!
//! * [`rank`]: exact rank test of two samples

pub mod rank;
