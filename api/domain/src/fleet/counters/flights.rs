//! Flights of one model in order of time, kept by columns: a search reads moments alone, and no row has room to spare.

use std::ops::Range;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{Usage, index_of, packed, place_of, seconds_of_minutes};
use crate::{
    facts::Flight,
    fleet::{size, tight::put},
    text::Tag,
    time::Instant,
    words::Landing,
};

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

/// Sums over a row and all before it, modulo 2³²: of time in the air that is 136 years.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Sums {
    launches: u32,
    airtime_s: u32,
    motor_s: u32,
}

impl Sums {
    /// What a row adds.
    const fn of(row: &FlightRow) -> Self {
        Self { launches: row.launches, airtime_s: row.airtime_s, motor_s: row.motor_s }
    }

    fn plus(self, more: Self) -> Self {
        Self {
            launches: self.launches.wrapping_add(more.launches),
            airtime_s: self.airtime_s.wrapping_add(more.airtime_s),
            motor_s: self.motor_s.wrapping_add(more.motor_s),
        }
    }

    fn minus(self, less: Self) -> Self {
        Self {
            launches: self.launches.wrapping_sub(less.launches),
            airtime_s: self.airtime_s.wrapping_sub(less.airtime_s),
            motor_s: self.motor_s.wrapping_sub(less.motor_s),
        }
    }

    fn usage(self, flights: usize) -> Usage {
        Usage {
            flights: u64::try_from(flights).unwrap_or(u64::MAX),
            launches: u64::from(self.launches),
            airtime_s: u64::from(self.airtime_s),
            motor_s: u64::from(self.motor_s),
            riggings: 0,
        }
    }
}

/// All flights of one model in order of time, with running sums; what a single flight adds follows from them.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "packed::Flights", into = "packed::Flights")]
pub struct FlightLog {
    at: Vec<Instant>,
    ids: Vec<Uuid>,
    sums: Vec<Sums>,
    /// How each landed, and whether its after-flight check was logged.
    landed: Vec<(Landing, bool)>,
    /// Tags of flights that answers name: those graded hard.
    pub(super) hard_tags: Vec<(Uuid, Tag)>,
}

impl FlightLog {
    /// Of rows in order of time, and the tags of those graded hard.
    pub(super) fn of(rows: impl ExactSizeIterator<Item = FlightRow>, hard_tags: Vec<(Uuid, Tag)>) -> Self {
        let count = rows.len();
        let mut log = Self {
            at: Vec::with_capacity(count),
            ids: Vec::with_capacity(count),
            sums: Vec::with_capacity(count),
            landed: Vec::with_capacity(count),
            hard_tags,
        };
        for row in rows {
            log.put(log.at.len(), &row);
        }
        log
    }

    /// Bytes of memory that it takes: 38 for each flight, and for one graded hard with a tag as much again.
    pub(in crate::fleet) fn bytes(&self) -> usize {
        size::rows(&self.at)
            + size::rows(&self.ids)
            + size::rows(&self.sums)
            + size::rows(&self.landed)
            + 2 * size::rows(&self.hard_tags)
    }

    /// Puts a flight in its place; `false` if it was here. The same id twice counts once.
    pub(in crate::fleet) fn insert(&mut self, fact: &Flight) -> bool {
        let row = FlightRow {
            at: fact.occurred_at,
            id: fact.id.0,
            launches: fact.launches,
            airtime_s: seconds_of_minutes(fact.airtime_min),
            motor_s: fact.motor_s,
            landing: fact.landing,
            is_post_flight_logged: fact.is_post_flight_logged,
        };
        let place = place_of(&self.at, &self.ids, row.at, row.id);
        if self.ids.get(place) == Some(&row.id) {
            return false;
        }
        if let (Landing::Hard, Some(tag)) = (fact.landing, &fact.tag) {
            self.hard_tags.push((row.id, tag.clone()));
            self.hard_tags.sort();
        }
        self.put(place, &row);
        true
    }

    fn put(&mut self, place: usize, row: &FlightRow) {
        let own = Sums::of(row);
        let before = self.sum_of_first(place);
        put(&mut self.at, place, row.at);
        put(&mut self.ids, place, row.id);
        put(&mut self.landed, place, (row.landing, row.is_post_flight_logged));
        for later in self.sums.iter_mut().skip(place) {
            *later = later.plus(own);
        }
        put(&mut self.sums, place, before.plus(own));
    }

    /// Takes a flight out again, and says when it was; `None` if it is not here.
    pub(in crate::fleet) fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let place = self.ids.iter().position(|known| *known == id)?;
        let gone = self.row(place)?;
        let own = Sums::of(&gone);
        self.at.remove(place);
        self.ids.remove(place);
        self.landed.remove(place);
        self.sums.remove(place);
        for later in self.sums.iter_mut().skip(place) {
            *later = later.minus(own);
        }
        self.hard_tags.retain(|(tagged, _)| *tagged != id);
        Some(gone.at)
    }

    /// Flights that started before a moment.
    pub(in crate::fleet) fn index_of(&self, at: Instant) -> usize {
        index_of(&self.at, at)
    }

    /// Usage by flights that started in `[from, to)`.
    #[must_use]
    pub fn usage(&self, from: Instant, to: Instant) -> Usage {
        if to <= from {
            return Usage::default();
        }
        let (low, high) = (self.index_of(from), self.index_of(to));
        self.sum_of_first(high).minus(self.sum_of_first(low)).usage(high - low)
    }

    /// Usage by all flights that started before a moment.
    #[must_use]
    pub fn usage_before(&self, to: Instant) -> Usage {
        self.usage_of_first(self.index_of(to))
    }

    fn sum_of_first(&self, count: usize) -> Sums {
        count.checked_sub(1).and_then(|last| self.sums.get(last)).copied().unwrap_or_default()
    }

    /// Usage by the oldest flights, so many of them.
    pub(crate) fn usage_of_first(&self, count: usize) -> Usage {
        self.sum_of_first(count).usage(count)
    }

    fn row(&self, place: usize) -> Option<FlightRow> {
        let (at, id) = (*self.at.get(place)?, *self.ids.get(place)?);
        let (landing, is_post_flight_logged) = *self.landed.get(place)?;
        let own = self.sums.get(place)?.minus(self.sum_of_first(place));
        let Sums { launches, airtime_s, motor_s } = own;
        Some(FlightRow { at, id, launches, airtime_s, motor_s, landing, is_post_flight_logged })
    }

    /// Whether a flight is here.
    #[must_use]
    pub fn knows(&self, id: Uuid) -> bool {
        self.ids.contains(&id)
    }

    /// All flights in order of time.
    #[must_use]
    pub fn rows(&self) -> Flown<'_> {
        Flown { log: self, places: 0..self.at.len() }
    }

    /// Those that started before a moment.
    #[must_use]
    pub fn before(&self, at: Instant) -> Flown<'_> {
        Flown { log: self, places: 0..self.index_of(at) }
    }

    /// Those that started at a moment or later.
    #[must_use]
    pub fn since(&self, at: Instant) -> Flown<'_> {
        Flown { log: self, places: self.index_of(at)..self.at.len() }
    }

    /// Those that had started by a moment, it included.
    #[must_use]
    pub fn until(&self, at: Instant) -> Flown<'_> {
        Flown { log: self, places: 0..self.at.partition_point(|moment| *moment <= at) }
    }

    /// Tag of a flight graded hard, where it has one.
    #[must_use]
    pub fn hard_tag(&self, id: Uuid) -> Option<&Tag> {
        self.hard_tags.iter().find(|(tagged, _)| *tagged == id).map(|(_, tag)| tag)
    }
}

/// Flights of one model that follow each other, the oldest first.
#[derive(Debug, Clone)]
pub struct Flown<'a> {
    log: &'a FlightLog,
    places: Range<usize>,
}

impl Iterator for Flown<'_> {
    type Item = FlightRow;

    fn next(&mut self) -> Option<FlightRow> {
        self.log.row(self.places.next()?)
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        self.places.size_hint()
    }
}

impl DoubleEndedIterator for Flown<'_> {
    fn next_back(&mut self) -> Option<FlightRow> {
        self.log.row(self.places.next_back()?)
    }
}

impl ExactSizeIterator for Flown<'_> {}
