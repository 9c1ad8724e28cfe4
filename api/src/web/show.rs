//! How templates show values: they hand on references, so these take either.

use std::borrow::Borrow;

use chrono_tz::Tz;
use preen_domain::time::Instant;
use preen_domain::words::Severity;

use super::words::{self, Word};
use crate::told;

/// A number with so many places.
pub fn fixed(value: impl Borrow<f64>, places: usize) -> String {
    told::fixed(*value.borrow(), places)
}

/// A number as short as it can be said.
pub fn short(value: impl Borrow<f64>) -> String {
    told::short(*value.borrow())
}

/// The club day of a moment.
pub fn day(at: impl Borrow<Instant>, zone: impl Borrow<Tz>) -> String {
    told::day(*at.borrow(), *zone.borrow())
}

/// Day and minute by the club's clock.
pub fn moment(at: impl Borrow<Instant>, zone: impl Borrow<Tz>) -> String {
    told::moment(*at.borrow(), *zone.borrow())
}

/// A word of a list as people write it.
pub fn spaced(word: &str) -> String {
    word.replace('_', " ")
}

/// How bad something is.
pub fn severity(one: impl Borrow<Severity>) -> Word {
    words::severity(*one.borrow())
}

/// A new id for what a form records.
pub fn new_id() -> String {
    uuid::Uuid::now_v7().to_string()
}
