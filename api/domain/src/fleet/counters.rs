//! Usage counted by prefix sums: how often and how long between two moments, in two binary searches.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::size;
use crate::{
    facts::{Flight, Recorded, Rigging},
    text::Tag,
    time::Instant,
    words::Landing,
};

mod packed;

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

/// One flight as the Fleet keeps it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FlightRow {
    /// Start.
    pub at: Instant,
    /// Id of the fact.
    pub id: Uuid,
    /// Launches.
    pub launches: u32,
    /// Time in the air, s.
    pub airtime_s: u32,
    /// Motor time, s.
    pub motor_s: u32,
    /// Grade of the landing.
    pub landing: Landing,
    /// Whether the after-flight check was logged.
    pub is_post_flight_logged: bool,
}

/// How much of the log of a model lies before a moment: entries, not what they add up to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Reached {
    /// Flights.
    pub flights: usize,
    /// Entries of rigging.
    pub riggings: usize,
}

/// Sums over a row and all before it; 136 years in the air fit in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Sums {
    launches: u32,
    airtime_s: u32,
    motor_s: u32,
}

/// All flights of one model in order of time, with running sums.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "packed::Flights", into = "packed::Flights")]
pub struct FlightLog {
    rows: Vec<FlightRow>,
    /// The moments of the rows once more, close together: a search reads few of them.
    at: Vec<Instant>,
    sums: Vec<Sums>,
    /// Tags of flights that answers name: those graded hard.
    hard_tags: Vec<(Uuid, Tag)>,
}

impl FlightLog {
    /// Bytes of memory that it takes: 64 for each flight at most.
    pub(super) fn bytes(&self) -> usize {
        size::rows(&self.rows)
            + size::rows(&self.at)
            + size::rows(&self.sums)
            + 2 * size::rows(&self.hard_tags)
    }

    /// Puts a flight in its place; `false` if it was here. The same id twice counts once.
    pub(super) fn insert(&mut self, flight: &Recorded<Flight>) -> bool {
        let fact = &flight.fact;
        let row = FlightRow {
            at: fact.occurred_at,
            id: fact.id.0,
            launches: fact.launches,
            airtime_s: seconds_of_minutes(fact.airtime_min),
            motor_s: fact.motor_s,
            landing: fact.landing,
            is_post_flight_logged: fact.is_post_flight_logged,
        };
        let place = self.rows.partition_point(|other| (other.at, other.id) < (row.at, row.id));
        if self.rows.get(place).is_some_and(|other| other.id == row.id) {
            return false;
        }
        if let (Landing::Hard, Some(tag)) = (fact.landing, &fact.tag) {
            self.hard_tags.push((row.id, tag.clone()));
            self.hard_tags.sort();
        }
        self.rows.insert(place, row);
        self.at.insert(place, row.at);
        self.sum_from(place);
        true
    }

    /// Takes a flight out again, and says when it was; `None` if it is not here.
    pub(super) fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let place = self.rows.iter().position(|row| row.id == id)?;
        let row = self.rows.remove(place);
        self.at.remove(place);
        self.hard_tags.retain(|(tagged, _)| *tagged != id);
        self.sum_from(place);
        Some(row.at)
    }

    fn sum_from(&mut self, place: usize) {
        self.sums.truncate(place);
        let mut sum = self.sums.last().copied().unwrap_or_default();
        for row in self.rows.iter().skip(place) {
            sum.launches = sum.launches.saturating_add(row.launches);
            sum.airtime_s = sum.airtime_s.saturating_add(row.airtime_s);
            sum.motor_s = sum.motor_s.saturating_add(row.motor_s);
            self.sums.push(sum);
        }
    }

    /// Flights that started before a moment.
    pub(super) fn index_of(&self, at: Instant) -> usize {
        index_of(&self.at, at, |moment| *moment)
    }

    /// Usage by flights that started in `[from, to)`.
    #[must_use]
    pub fn usage(&self, from: Instant, to: Instant) -> Usage {
        if to <= from {
            return Usage::default();
        }
        let (low, high) = (self.usage_before(from), self.usage_before(to));
        Usage {
            flights: high.flights - low.flights,
            launches: high.launches - low.launches,
            airtime_s: high.airtime_s - low.airtime_s,
            motor_s: high.motor_s - low.motor_s,
            riggings: 0,
        }
    }

    /// Usage by all flights that started before a moment.
    #[must_use]
    pub fn usage_before(&self, to: Instant) -> Usage {
        self.usage_of_first(self.index_of(to))
    }

    /// Usage by the oldest flights, so many of them.
    pub(crate) fn usage_of_first(&self, count: usize) -> Usage {
        let sums = count.checked_sub(1).and_then(|last| self.sums.get(last)).copied().unwrap_or_default();
        Usage {
            flights: u64::try_from(count).unwrap_or(u64::MAX),
            launches: u64::from(sums.launches),
            airtime_s: u64::from(sums.airtime_s),
            motor_s: u64::from(sums.motor_s),
            riggings: 0,
        }
    }

    /// All flights in order of time.
    #[must_use]
    pub fn rows(&self) -> &[FlightRow] {
        &self.rows
    }

    /// Tag of a flight graded hard, where it has one.
    #[must_use]
    pub fn hard_tag(&self, id: Uuid) -> Option<&Tag> {
        self.hard_tags.iter().find(|(tagged, _)| *tagged == id).map(|(_, tag)| tag)
    }
}

/// How many of some rows in order of time lie before a moment. Most questions are about now, which is past the last.
fn index_of<T>(rows: &[T], at: Instant, moment: impl Fn(&T) -> Instant) -> usize {
    match rows.last() {
        Some(last) if moment(last) < at => rows.len(),
        _ => rows.partition_point(|row| moment(row) < at),
    }
}

/// All rigging cycles of one model in order of time, with running sums.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "packed::Riggings", into = "packed::Riggings")]
pub struct RiggingLog {
    rows: Vec<(Instant, Uuid, u32)>,
    sums: Vec<u64>,
}

impl RiggingLog {
    /// Bytes of memory that it takes.
    pub(super) fn bytes(&self) -> usize {
        size::rows(&self.rows) + size::rows(&self.sums)
    }

    /// Puts a rigging in its place; `false` if it was here. The same id twice counts once.
    pub(super) fn insert(&mut self, rigging: &Recorded<Rigging>) -> bool {
        let row = (rigging.fact.occurred_at, rigging.fact.id.0, rigging.fact.cycles);
        let place = self.rows.partition_point(|other| (other.0, other.1) < (row.0, row.1));
        if self.rows.get(place).is_some_and(|other| other.1 == row.1) {
            return false;
        }
        self.rows.insert(place, row);
        self.sum_from(place);
        true
    }

    /// Takes a rigging out again, and says when it was; `None` if it is not here.
    pub(super) fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let place = self.rows.iter().position(|row| row.1 == id)?;
        let row = self.rows.remove(place);
        self.sum_from(place);
        Some(row.0)
    }

    fn sum_from(&mut self, place: usize) {
        self.sums.truncate(place);
        let mut sum = self.sums.last().copied().unwrap_or_default();
        for row in self.rows.iter().skip(place) {
            sum += u64::from(row.2);
            self.sums.push(sum);
        }
    }

    /// Entries before a moment.
    pub(super) fn index_of(&self, at: Instant) -> usize {
        index_of(&self.rows, at, |(moment, ..)| *moment)
    }

    /// Rigging cycles before a moment.
    #[must_use]
    pub fn count_before(&self, at: Instant) -> u64 {
        self.count_of_first(self.index_of(at))
    }

    /// Rigging cycles of the oldest entries, so many of them.
    pub(crate) fn count_of_first(&self, count: usize) -> u64 {
        count.checked_sub(1).and_then(|last| self.sums.get(last)).copied().unwrap_or_default()
    }

    /// Rigging cycles in `[from, to)`.
    #[must_use]
    pub fn count(&self, from: Instant, to: Instant) -> u64 {
        self.count_before(to).saturating_sub(self.count_before(from))
    }
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
