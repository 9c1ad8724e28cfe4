//! Instants and club days. Nothing here knows what time it is now.

use chrono::{DateTime, Datelike, NaiveDate, SecondsFormat, TimeZone, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};
use utoipa::ToSchema;

const MICROS_PER_DAY: i64 = 86_400_000_000;

/// A moment, to the microsecond, in UTC. JSON: RFC 3339 with a zone.
///
/// ```
/// use preen_domain::time::Instant;
/// let noon: Instant = "2026-05-23T13:00:00+01:00".parse().unwrap();
/// assert_eq!(noon.to_string(), "2026-05-23T12:00:00Z");
/// assert!("2026-05-23T13:00:00".parse::<Instant>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, ToSchema)]
#[schema(value_type = String, format = DateTime, example = "2026-05-23T12:00:00Z")]
pub struct Instant(i64);

/// Why a text is no instant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAnInstant {
    /// No zone stands behind the time.
    #[error("`{0}` has no time zone: write `Z` or an offset behind it, as in 2026-05-23T14:00:00Z")]
    NoZone(String),
    /// Not RFC 3339 at all.
    #[error("`{0}` is not a time: write it as in 2026-05-23T14:00:00Z")]
    NotATime(String),
    /// Outside the years 1950 to 2199.
    #[error("`{0}` is outside the years 1950 to 2199")]
    OutOfRange(String),
}

impl Instant {
    /// From microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn from_micros(micros: i64) -> Self {
        Self(micros)
    }

    /// Microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// The same moment as a date and time.
    #[must_use]
    pub fn to_utc(self) -> DateTime<Utc> {
        DateTime::from_timestamp_micros(self.0).unwrap_or(DateTime::UNIX_EPOCH)
    }

    /// The moment this many seconds later (earlier if negative).
    #[must_use]
    pub const fn plus_seconds(self, seconds: i64) -> Self {
        Self(self.0.saturating_add(seconds.saturating_mul(1_000_000)))
    }

    /// The moment this many times 24 hours later.
    #[must_use]
    pub const fn plus_days(self, days: i64) -> Self {
        Self(self.0.saturating_add(days.saturating_mul(MICROS_PER_DAY)))
    }

    /// Seconds from `earlier` to this moment, negative if it is later.
    #[must_use]
    pub const fn seconds_since(self, earlier: Self) -> i64 {
        self.0.saturating_sub(earlier.0) / 1_000_000
    }
}

impl From<DateTime<Utc>> for Instant {
    fn from(value: DateTime<Utc>) -> Self {
        Self(value.timestamp_micros())
    }
}

impl std::fmt::Display for Instant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.to_utc().to_rfc3339_opts(SecondsFormat::AutoSi, true))
    }
}

impl std::str::FromStr for Instant {
    type Err = NotAnInstant;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let parsed = DateTime::parse_from_rfc3339(text).map_err(|_not_rfc3339| {
            if chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S%.f").is_ok()
                || chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M:%S%.f").is_ok()
            {
                NotAnInstant::NoZone(text.to_owned())
            } else {
                NotAnInstant::NotATime(text.to_owned())
            }
        })?;
        if !(1950..2200).contains(&parsed.year()) {
            return Err(NotAnInstant::OutOfRange(text.to_owned()));
        }
        Ok(Self(parsed.timestamp_micros()))
    }
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(D::Error::custom)
    }
}

/// The day of the club on which a moment falls.
///
/// ```
/// use preen_domain::time::{Instant, day_of};
/// let late: Instant = "2026-05-22T23:30:00Z".parse().unwrap();
/// assert_eq!(day_of(late, chrono_tz::Europe::London).to_string(), "2026-05-23");
/// ```
#[must_use]
pub fn day_of(at: Instant, zone: Tz) -> NaiveDate {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).date_naive()
}

/// The first moment of a club day; where midnight is skipped by a clock change, the first that exists.
#[must_use]
pub fn start_of_day(day: NaiveDate, zone: Tz) -> Instant {
    let midnight = day.and_time(chrono::NaiveTime::MIN);
    (0..=3)
        .find_map(|hour| zone.from_local_datetime(&(midnight + chrono::TimeDelta::hours(hour))).earliest())
        .map_or_else(|| Instant(midnight.and_utc().timestamp_micros()), |local| Instant::from(local.to_utc()))
}

/// The first moment after a club day: what happened by the end of the day happened before it.
#[must_use]
pub fn end_of_day(day: NaiveDate, zone: Tz) -> Instant {
    start_of_day(day.succ_opt().unwrap_or(day), zone)
}
