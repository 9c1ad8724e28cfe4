//! Usage counted by prefix sums: how often and how long between two moments, in two binary searches.

use uuid::Uuid;

use crate::time::Instant;

mod flights;
mod packed;
mod riggings;

pub use flights::{FlightLog, FlightRow, Flown};
pub use riggings::RiggingLog;

/// Usage between two moments.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Usage {
    /// Flights; a hand-launch session is one.
    pub flights: u64,
    /// Launches.
    pub launches: u64,
    /// Time in the air, s.
    pub airtime_s: u64,
    /// Motor time, s.
    pub motor_s: u64,
    /// Rigging cycles.
    pub riggings: u64,
}

impl std::ops::AddAssign for Usage {
    fn add_assign(&mut self, other: Self) {
        self.flights += other.flights;
        self.launches += other.launches;
        self.airtime_s += other.airtime_s;
        self.motor_s += other.motor_s;
        self.riggings += other.riggings;
    }
}

impl Usage {
    /// Time in the air, h, to a tenth; a half goes to the even tenth.
    #[must_use]
    pub fn airtime_h(self) -> f64 {
        let (tenths, rest) = (self.airtime_s / 360, self.airtime_s % 360);
        let up = rest > 180 || (rest == 180 && tenths % 2 == 1);
        f64::from(u32::try_from(tenths + u64::from(up)).unwrap_or(u32::MAX)) / 10.0
    }
}

/// How much of the log of a model lies before a moment: entries, not what they add up to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Reached {
    /// Flights.
    pub flights: usize,
    /// Entries of rigging.
    pub riggings: usize,
}

/// How many of some moments in order lie before one. Most questions are about now, which is past the last.
fn index_of(moments: &[Instant], at: Instant) -> usize {
    match moments.last() {
        Some(last) if *last < at => moments.len(),
        _ => moments.partition_point(|moment| *moment < at),
    }
}

/// Where an entry stands among others in order of (moment, id), or would.
fn place_of(moments: &[Instant], ids: &[Uuid], at: Instant, id: Uuid) -> usize {
    let first = index_of(moments, at);
    let same = moments.iter().zip(ids).skip(first);
    first + same.take_while(|(other, known)| **other == at && **known < id).count()
}

/// Whole seconds of a time in minutes.
pub(crate) fn seconds_of_minutes(minutes: f64) -> u32 {
    #[expect(
        clippy::as_conversions,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the range of u32 before"
    )]
    let seconds = (minutes * 60.0).round().clamp(0.0, f64::from(u32::MAX)) as u32;
    seconds
}
