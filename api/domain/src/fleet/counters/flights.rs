//! Flights of one model in order of time, kept by columns: a search reads moments alone, and no row has room to spare.

use std::{ops::Range, sync::Arc};

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

/// Rows in order of time, by columns, with running sums; what a single flight adds follows from them.
#[derive(Debug, Clone, Default)]
struct Columns {
    at: Vec<Instant>,
    ids: Vec<Uuid>,
    sums: Vec<Sums>,
    /// How each landed, and whether its after-flight check was logged.
    landed: Vec<(Landing, bool)>,
}

impl Columns {
    fn with_capacity(count: usize) -> Self {
        Self {
            at: Vec::with_capacity(count),
            ids: Vec::with_capacity(count),
            sums: Vec::with_capacity(count),
            landed: Vec::with_capacity(count),
        }
    }

    fn len(&self) -> usize {
        self.at.len()
    }

    fn bytes(&self) -> usize {
        size::rows(&self.at) + size::rows(&self.ids) + size::rows(&self.sums) + size::rows(&self.landed)
    }

    /// Whether a row comes after all that are here.
    fn ends_before(&self, row: &FlightRow) -> bool {
        self.at.last().zip(self.ids.last()).is_none_or(|(at, id)| (*at, *id) < (row.at, row.id))
    }

    /// Puts a row in its place; `false` if it was here.
    fn insert(&mut self, row: &FlightRow) -> bool {
        let place = place_of(&self.at, &self.ids, row.at, row.id);
        let is_new = self.ids.get(place) != Some(&row.id);
        if is_new {
            self.put(place, row);
        }
        is_new
    }

    fn push(&mut self, row: &FlightRow) {
        self.put(self.len(), row);
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
    fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let place = self.ids.iter().position(|known| *known == id)?;
        let own = self.sum_of_first(place + 1).minus(self.sum_of_first(place));
        self.ids.remove(place);
        self.landed.remove(place);
        self.sums.remove(place);
        for later in self.sums.iter_mut().skip(place) {
            *later = later.minus(own);
        }
        Some(self.at.remove(place))
    }

    fn sum_of_first(&self, count: usize) -> Sums {
        count.checked_sub(1).and_then(|last| self.sums.get(last)).copied().unwrap_or_default()
    }

    fn row(&self, place: usize) -> Option<FlightRow> {
        let (at, id) = (*self.at.get(place)?, *self.ids.get(place)?);
        let (landing, is_post_flight_logged) = *self.landed.get(place)?;
        let Sums { launches, airtime_s, motor_s } = self.sums.get(place)?.minus(self.sum_of_first(place));
        Some(FlightRow { at, id, launches, airtime_s, motor_s, landing, is_post_flight_logged })
    }
}

/// How many of the newest flights lie apart from the older ones.
const NEWEST: usize = 64;

/// All flights of one model in order of time. Those of long ago are shared by copies, so that a copy that takes in a flight
/// of today copies but the last few.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(try_from = "packed::Flights", into = "packed::Flights")]
pub struct FlightLog {
    older: Arc<Columns>,
    /// None of these is before any of the older.
    newest: Columns,
    /// Tags of flights that answers name: those graded hard.
    pub(super) hard_tags: Vec<(Uuid, Tag)>,
}

/// Where the line between older and newest lies says nothing about the flights.
impl PartialEq for FlightLog {
    fn eq(&self, other: &Self) -> bool {
        self.rows().eq(other.rows()) && self.hard_tags == other.hard_tags
    }
}

impl FlightLog {
    /// Of rows in order of time, and the tags of those graded hard.
    pub(super) fn of(rows: impl ExactSizeIterator<Item = FlightRow>, hard_tags: Vec<(Uuid, Tag)>) -> Self {
        let mut older = Columns::with_capacity(rows.len());
        for row in rows {
            older.push(&row);
        }
        Self { older: Arc::new(older), newest: Columns::default(), hard_tags }
    }

    /// Bytes of memory that it takes: 38 for each flight, and for one graded hard with a tag as much again.
    pub(in crate::fleet) fn bytes(&self) -> usize {
        self.older.bytes() + self.newest.bytes() + 2 * size::rows(&self.hard_tags)
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
        let is_new = if self.older.ends_before(&row) {
            self.newest.insert(&row)
        } else {
            Arc::make_mut(&mut self.older).insert(&row)
        };
        if !is_new {
            return false;
        }
        if let (Landing::Hard, Some(tag)) = (fact.landing, &fact.tag) {
            self.hard_tags.push((row.id, tag.clone()));
            self.hard_tags.sort();
        }
        if self.newest.len() > NEWEST {
            self.join();
        }
        true
    }

    /// Puts the newest flights to the older ones.
    fn join(&mut self) {
        let newest = std::mem::take(&mut self.newest);
        let older = Arc::make_mut(&mut self.older);
        for row in (0..newest.len()).filter_map(|place| newest.row(place)) {
            older.push(&row);
        }
    }

    /// Takes a flight out again, and says when it was; `None` if it is not here.
    pub(in crate::fleet) fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let at = if self.older.ids.contains(&id) {
            Arc::make_mut(&mut self.older).remove(id)
        } else {
            self.newest.remove(id)
        }?;
        self.hard_tags.retain(|(tagged, _)| *tagged != id);
        Some(at)
    }

    fn len(&self) -> usize {
        self.older.len() + self.newest.len()
    }

    /// Flights that started before a moment.
    pub(in crate::fleet) fn index_of(&self, at: Instant) -> usize {
        let older = index_of(&self.older.at, at);
        // Where older ones are left, so are all the newest.
        if older < self.older.len() { older } else { older + index_of(&self.newest.at, at) }
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
        match count.checked_sub(self.older.len()) {
            None => self.older.sum_of_first(count),
            Some(newest) => {
                let older = self.older.sum_of_first(self.older.len());
                older.plus(self.newest.sum_of_first(newest))
            }
        }
    }

    /// Usage by the oldest flights, so many of them.
    pub(crate) fn usage_of_first(&self, count: usize) -> Usage {
        self.sum_of_first(count).usage(count)
    }

    fn row(&self, place: usize) -> Option<FlightRow> {
        match place.checked_sub(self.older.len()) {
            None => self.older.row(place),
            Some(place) => self.newest.row(place),
        }
    }

    /// Whether a flight is here.
    #[must_use]
    pub fn knows(&self, id: Uuid) -> bool {
        self.newest.ids.contains(&id) || self.older.ids.contains(&id)
    }

    /// All flights in order of time.
    #[must_use]
    pub fn rows(&self) -> Flown<'_> {
        Flown { log: self, places: 0..self.len() }
    }

    /// Those that started before a moment.
    #[must_use]
    pub fn before(&self, at: Instant) -> Flown<'_> {
        Flown { log: self, places: 0..self.index_of(at) }
    }

    /// Those that started at a moment or later.
    #[must_use]
    pub fn since(&self, at: Instant) -> Flown<'_> {
        Flown { log: self, places: self.index_of(at)..self.len() }
    }

    /// Those that had started by a moment, it included.
    #[must_use]
    pub fn until(&self, at: Instant) -> Flown<'_> {
        let is_past = |moment: &Instant| *moment <= at;
        let older = self.older.at.partition_point(is_past);
        let newest = if older < self.older.len() { 0 } else { self.newest.at.partition_point(is_past) };
        Flown { log: self, places: 0..older + newest }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn flight(number: u128, at: i64) -> Flight {
        let id = Uuid::from_u128(number);
        serde_json::from_value(serde_json::json!({
            "id": id, "model": Uuid::nil(), "occurred_at": Instant::from_micros(at), "launches": 1 + number % 3,
            "airtime_min": 1.5, "motor_s": number % 7, "pilot": Uuid::nil(), "landing": "normal",
            "is_post_flight_logged": true,
        }))
        .expect("a flight")
    }

    /// Many flights, several at each moment, in an order that leaps about.
    fn flights() -> Vec<Flight> {
        (0..500_u128).map(|number| flight(number, i64::try_from(number * 37 % 199).expect("small"))).collect()
    }

    fn log_of<'a>(flights: impl Iterator<Item = &'a Flight>) -> FlightLog {
        let mut log = FlightLog::default();
        for flight in flights {
            assert!(log.insert(flight));
            assert!(!log.insert(flight), "the same once more");
        }
        log
    }

    #[test]
    fn where_the_newest_begin_changes_no_answer() {
        let flights = flights();
        let mut in_order = flights.clone();
        in_order.sort_by_key(|flight| (flight.occurred_at, flight.id));
        let (leaping, ordered) = (log_of(flights.iter()), log_of(in_order.iter()));
        assert!(ordered.newest.len() > 0 && ordered.older.len() > 0, "both parts are there");
        let at_once = FlightLog::of(ordered.rows(), Vec::new());
        for log in [&leaping, &ordered, &at_once] {
            assert_eq!(log, &at_once);
            assert!(log.rows().map(|row| row.id).eq(in_order.iter().map(|flight| flight.id.0)));
            for at in (-1..201).map(Instant::from_micros) {
                let before: Vec<_> = in_order.iter().filter(|flight| flight.occurred_at < at).collect();
                let usage = log.usage_before(at);
                let launches: u64 = before.iter().map(|flight| u64::from(flight.launches)).sum();
                let motor_s: u64 = before.iter().map(|flight| u64::from(flight.motor_s)).sum();
                assert_eq!(
                    (usage.flights, usage.launches, usage.motor_s),
                    (u64::try_from(before.len()).expect("a count"), launches, motor_s)
                );
                assert_eq!(
                    log.until(at).len(),
                    in_order.iter().filter(|flight| flight.occurred_at <= at).count()
                );
                assert_eq!(log.since(at).len(), in_order.len() - before.len());
            }
        }
    }

    #[test]
    fn a_copy_shares_what_is_older_and_keeps_what_it_had() {
        let flights = flights();
        let log = log_of(flights.iter());
        let mut copy = log.clone();
        assert!(copy.insert(&flight(1_000, 500)));
        assert!(Arc::ptr_eq(&log.older, &copy.older), "a flight of today copies nothing older");
        assert_eq!((log.rows().len(), copy.rows().len()), (500, 501));
        for flight in flights.iter().rev() {
            assert_eq!(copy.remove(flight.id.0), Some(flight.occurred_at));
            assert_eq!(copy.remove(flight.id.0), None);
        }
        assert_eq!(
            copy.usage_before(Instant::from_micros(1_000)),
            log_of([flight(1_000, 500)].iter()).rows().log.usage_before(Instant::from_micros(1_000))
        );
        assert_eq!(log, log_of(flights.iter()), "the other has all of it");
    }
}
