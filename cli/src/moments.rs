//! Times as people type and read them: in the club's zone, with the service's clock.
//!
//! Typed: RFC 3339 with a zone (`2026-05-23T14:10:00+01:00`), or a time of the club's day
//! (`2026-05-23 14:10`, `14:10` for today). What time it is now, the service says: this machine's clock
//! may be wrong and is never asked.

use chrono::{LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone};
use chrono_tz::Tz;
use preen_domain::time::{Instant, day_of};

use crate::failure::Failure;

const FORMS: &[&str] = &["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"];

/// Reads a moment.
pub fn parse_moment(text: &str, zone: Tz, now: Instant) -> Result<Instant, Failure> {
    if let Ok(instant) = text.parse::<Instant>() {
        return Ok(instant);
    }
    let local = FORMS
        .iter()
        .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
        .or_else(|| {
            let time = NaiveTime::parse_from_str(text, "%H:%M").ok()?;
            Some(day_of(now, zone).and_time(time))
        })
        .ok_or_else(|| {
            Failure::bad_input(format!("`{text}` is not a time."))
                .hint("Write 14:10 (today), \"2026-05-23 14:10\" (club time) or 2026-05-23T14:10:00+01:00.")
        })?;
    match zone.from_local_datetime(&local) {
        LocalResult::Single(at) => Ok(Instant::from(at.to_utc())),
        LocalResult::Ambiguous(first, second) => Err(Failure::bad_input(format!(
            "{local} happens twice in {zone}, because the clocks go back then."
        ))
        .hint(format!("Write {} or {}.", first.to_rfc3339(), second.to_rfc3339()))),
        LocalResult::None => Err(Failure::bad_input(format!(
            "{local} does not exist in {zone}, because the clocks go forward then."
        ))
        .hint("Write the time that the clock showed.")),
    }
}

/// Reads what a question may be asked `as of`: a moment, or a day, which the service takes as its end.
pub fn parse_moment_or_day(text: &str, zone: Tz, now: Instant) -> Result<String, Failure> {
    if text.parse::<NaiveDate>().is_ok() {
        return Ok(text.to_owned());
    }
    Ok(parse_moment(text, zone, now)?.to_string())
}

/// A moment as people of the club read it.
pub fn show_moment(at: Instant, zone: Tz) -> String {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).format("%Y-%m-%d %H:%M %Z").to_string()
}

/// A moment of the club's day without its zone, for columns.
pub fn show_short(at: Instant, zone: Tz) -> String {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).format("%Y-%m-%d %H:%M").to_string()
}

/// A day with the name of its weekday.
pub fn show_day(day: NaiveDate) -> String {
    day.format("%A %Y-%m-%d").to_string()
}

/// A length of time in minutes, from `9.5` or `9:30` (minutes and seconds).
pub fn parse_minutes(text: &str) -> Result<f64, String> {
    let wrong = || format!("`{text}` is not a time in the air: write 9.5 or 9:30 (minutes and seconds)");
    let minutes = match text.split_once(':') {
        Some((minutes, seconds)) => {
            let (minutes, seconds): (u32, u32) = (
                minutes.parse().map_err(|_not_whole| wrong())?,
                seconds.parse().map_err(|_not_whole| wrong())?,
            );
            if seconds >= 60 {
                return Err(wrong());
            }
            f64::from(minutes) + f64::from(seconds) / 60.0
        }
        None => text.parse().map_err(|_not_a_number| wrong())?,
    };
    if minutes.is_finite() && minutes >= 0.0 { Ok(minutes) } else { Err(wrong()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LONDON: Tz = chrono_tz::Europe::London;

    fn read(text: &str) -> Result<String, String> {
        let now: Instant = "2026-05-21T08:00:00Z".parse().unwrap();
        parse_moment(text, LONDON, now).map(|at| at.to_string()).map_err(|failure| failure.text)
    }

    #[test]
    fn moments_are_read_in_the_clubs_zone() {
        assert_eq!(read("2026-05-23 14:10").unwrap(), "2026-05-23T13:10:00Z");
        assert_eq!(read("2026-01-23 14:10").unwrap(), "2026-01-23T14:10:00Z");
        assert_eq!(read("2026-05-23T14:10:00+02:00").unwrap(), "2026-05-23T12:10:00Z");
        assert_eq!(read("06:45").unwrap(), "2026-05-21T05:45:00Z");
    }

    #[test]
    fn moments_that_do_not_exist_or_happen_twice_are_refused() {
        assert!(read("2026-03-29 01:30").unwrap_err().contains("does not exist"));
        assert!(read("2026-10-25 01:30").unwrap_err().contains("happens twice"));
        assert!(read("tomorrow").unwrap_err().contains("is not a time"));
    }

    #[test]
    fn moments_are_shown_with_the_zone_of_their_season() {
        let at = |text: &str| text.parse::<Instant>().unwrap();
        assert_eq!(show_moment(at("2026-05-21T08:00:00Z"), LONDON), "2026-05-21 09:00 BST");
        assert_eq!(show_moment(at("2026-01-21T08:00:00Z"), LONDON), "2026-01-21 08:00 GMT");
    }

    #[test]
    fn minutes_are_read_as_numbers_or_with_seconds() {
        assert_eq!(parse_minutes("9.5"), Ok(9.5));
        assert_eq!(parse_minutes("9:30"), Ok(9.5));
        for bad in ["9:75", "-1", "NaN", "inf", "long", "9:"] {
            assert!(parse_minutes(bad).is_err(), "{bad}");
        }
    }
}
