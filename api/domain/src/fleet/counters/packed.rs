//! How rows of usage are written in a snapshot: bare numbers of fixed width one after the other, the least significant
//! byte first; sums left out, since they follow.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FlightLog, FlightRow, RiggingLog};
use crate::{text::Tag, time::Instant, words::Landing};

/// Flights of one model.
#[derive(Serialize, Deserialize)]
pub(super) struct Flights {
    #[serde(with = "serde_bytes")]
    rows: Vec<u8>,
    hard_tags: Vec<(Uuid, Tag)>,
}

/// Riggings of one model.
#[derive(Serialize, Deserialize)]
pub(super) struct Riggings(#[serde(with = "serde_bytes")] Vec<u8>);

/// Rows that are none.
#[derive(Debug, thiserror::Error)]
#[error("rows of usage that cannot be read")]
pub(super) struct Unreadable;

/// Bytes of a flight.
const FLIGHT: usize = 38;
/// Bytes of a rigging.
const RIGGING: usize = 28;

/// What is left of the bytes of a row.
struct Rest<'a>(&'a [u8]);

impl Rest<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], Unreadable> {
        let (taken, rest) = self.0.split_first_chunk().ok_or(Unreadable)?;
        self.0 = rest;
        Ok(*taken)
    }

    fn moment(&mut self) -> Result<Instant, Unreadable> {
        Ok(Instant::from_micros(i64::from_le_bytes(self.take()?)))
    }

    fn id(&mut self) -> Result<Uuid, Unreadable> {
        Ok(Uuid::from_bytes(self.take()?))
    }

    fn number(&mut self) -> Result<u32, Unreadable> {
        Ok(u32::from_le_bytes(self.take()?))
    }
}

fn unpacked<T>(
    bytes: &[u8],
    width: usize,
    row: impl Fn(&mut Rest<'_>) -> Result<T, Unreadable>,
) -> Result<Vec<T>, Unreadable> {
    bytes.chunks(width).map(|bytes| row(&mut Rest(bytes))).collect()
}

impl From<FlightLog> for Flights {
    fn from(log: FlightLog) -> Self {
        let mut rows = Vec::with_capacity(log.rows().len() * FLIGHT);
        for row in log.rows() {
            rows.extend(row.at.micros().to_le_bytes());
            rows.extend(row.id.as_bytes());
            for number in [row.launches, row.airtime_s, row.motor_s] {
                rows.extend(number.to_le_bytes());
            }
            let landing = Landing::ALL.iter().zip(0_u8..).find(|(known, _)| **known == row.landing);
            rows.push(landing.map_or(u8::MAX, |(_, number)| number));
            rows.push(u8::from(row.is_post_flight_logged));
        }
        Self { rows, hard_tags: log.hard_tags }
    }
}

impl TryFrom<Flights> for FlightLog {
    type Error = Unreadable;

    fn try_from(flights: Flights) -> Result<Self, Unreadable> {
        let rows = unpacked(&flights.rows, FLIGHT, |rest| {
            let (at, id) = (rest.moment()?, rest.id()?);
            let (launches, airtime_s, motor_s) = (rest.number()?, rest.number()?, rest.number()?);
            let [landing, is_post_flight_logged] = rest.take()?;
            let landing = *Landing::ALL.get(usize::from(landing)).ok_or(Unreadable)?;
            let is_post_flight_logged = is_post_flight_logged != 0;
            Ok(FlightRow { at, id, launches, airtime_s, motor_s, landing, is_post_flight_logged })
        })?;
        Ok(Self::of(rows.into_iter(), flights.hard_tags))
    }
}

impl From<RiggingLog> for Riggings {
    fn from(log: RiggingLog) -> Self {
        let mut rows = Vec::with_capacity(log.rows().len() * RIGGING);
        for (at, id, cycles) in log.rows() {
            rows.extend(at.micros().to_le_bytes());
            rows.extend(id.as_bytes());
            rows.extend(cycles.to_le_bytes());
        }
        Self(rows)
    }
}

impl TryFrom<Riggings> for RiggingLog {
    type Error = Unreadable;

    fn try_from(riggings: Riggings) -> Result<Self, Unreadable> {
        let rows = unpacked(&riggings.0, RIGGING, |rest| Ok((rest.moment()?, rest.id()?, rest.number()?)))?;
        Ok(Self::of(rows.into_iter()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_come_back_and_broken_ones_are_told() {
        let id = Uuid::from_u128(7);
        let row = |micros: i64, landing| FlightRow {
            at: Instant::from_micros(micros),
            id,
            launches: 1,
            airtime_s: 600,
            motor_s: u32::MAX,
            landing,
            is_post_flight_logged: landing == Landing::Hard,
        };
        let rows: Vec<FlightRow> =
            Landing::ALL.iter().zip(-2_i64..).map(|(landing, at)| row(at, *landing)).collect();
        let hard_tags = vec![(id, "FL-1".parse().unwrap())];
        let log = FlightLog::of(rows.iter().copied(), hard_tags);
        assert_eq!(log.rows().collect::<Vec<_>>(), rows, "sums that went round give the same rows");
        let mut packed = Flights::from(log.clone());
        assert_eq!(packed.rows.len(), 38 * Landing::ALL.len());
        packed.rows.pop();
        assert!(FlightLog::try_from(packed).is_err(), "a row without its end");
        let mut packed = Flights::from(log.clone());
        packed.rows[36] = 200;
        assert!(FlightLog::try_from(packed).is_err(), "no such landing");
        assert_eq!(FlightLog::try_from(Flights::from(log.clone())).unwrap(), log);

        let riggings = RiggingLog::of([(Instant::from_micros(5), id, 2)].into_iter());
        assert_eq!(RiggingLog::try_from(Riggings::from(riggings.clone())).unwrap(), riggings);
        assert!(RiggingLog::try_from(Riggings(vec![0; 29])).is_err());
    }
}
