//! How rows of usage are written in a snapshot: bare numbers one after the other, sums left out, since they follow.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FlightLog, FlightRow, RiggingLog};
use crate::{text::Tag, time::Instant, words::Landing};

/// Moment in µs, id in two halves, launches, air time in s, motor time in s, landing, whether the after-flight check was
/// logged.
type FlightNumbers = (i64, u64, u64, u32, u32, u32, Landing, bool);

/// Flights of one model.
#[derive(Serialize, Deserialize)]
pub(super) struct Flights {
    rows: Vec<FlightNumbers>,
    hard_tags: Vec<(Uuid, Tag)>,
}

impl From<FlightLog> for Flights {
    fn from(log: FlightLog) -> Self {
        let numbers = |row: &FlightRow| {
            let (high, low) = row.id.as_u64_pair();
            let (airtime_s, motor_s) = (row.airtime_s, row.motor_s);
            (
                row.at.micros(),
                high,
                low,
                row.launches,
                airtime_s,
                motor_s,
                row.landing,
                row.is_post_flight_logged,
            )
        };
        Self { rows: log.rows.iter().map(numbers).collect(), hard_tags: log.hard_tags }
    }
}

impl From<Flights> for FlightLog {
    fn from(flights: Flights) -> Self {
        let row = |numbers: FlightNumbers| {
            let (at, high, low, launches, airtime_s, motor_s, landing, is_post_flight_logged) = numbers;
            FlightRow {
                at: Instant::from_micros(at),
                id: Uuid::from_u64_pair(high, low),
                launches,
                airtime_s,
                motor_s,
                landing,
                is_post_flight_logged,
            }
        };
        let rows: Vec<FlightRow> = flights.rows.into_iter().map(row).collect();
        let at = rows.iter().map(|row| row.at).collect();
        let mut log = Self { rows, at, sums: Vec::new(), hard_tags: flights.hard_tags };
        log.sum_from(0);
        log
    }
}

/// Riggings of one model: moment in µs, id in two halves, cycles.
#[derive(Serialize, Deserialize)]
pub(super) struct Riggings(Vec<(i64, u64, u64, u32)>);

impl From<RiggingLog> for Riggings {
    fn from(log: RiggingLog) -> Self {
        let numbers = |(at, id, cycles): &(Instant, Uuid, u32)| {
            let (high, low) = id.as_u64_pair();
            (at.micros(), high, low, *cycles)
        };
        Self(log.rows.iter().map(numbers).collect())
    }
}

impl From<Riggings> for RiggingLog {
    fn from(riggings: Riggings) -> Self {
        let row = |(at, high, low, cycles): (i64, u64, u64, u32)| {
            (Instant::from_micros(at), Uuid::from_u64_pair(high, low), cycles)
        };
        let mut log = Self { rows: riggings.0.into_iter().map(row).collect(), sums: Vec::new() };
        log.sum_from(0);
        log
    }
}
