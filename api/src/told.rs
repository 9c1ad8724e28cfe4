//! Moments, days and numbers in the words of sheets and pages: by the club's clock, never by the reader's.

use chrono::{NaiveDate, TimeZone};
use chrono_tz::Tz;
use preen_domain::time::{Instant, day_of};

/// Day and minute by the club's clock.
pub fn moment(at: Instant, zone: Tz) -> String {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).format("%Y-%m-%d %H:%M %Z").to_string()
}

/// The club day of a moment.
pub fn day(at: Instant, zone: Tz) -> String {
    day_of(at, zone).to_string()
}

/// A club day with its name.
pub fn weekday(day: NaiveDate) -> String {
    day.format("%A %Y-%m-%d").to_string()
}

/// A number with so many places behind the point, and a true minus sign never on a zero.
pub fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let is_zero = text.chars().all(|one| matches!(one, '-' | '0' | '.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text.replace('-', "−") }
}

/// A number as short as it can be said without loss, up to four places.
pub fn short(value: f64) -> String {
    let text = fixed(value, 4);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_short_and_with_a_true_minus() {
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(-1.25, 2), "−1.25");
        assert_eq!(short(0.071), "0.071");
        assert_eq!(short(12.0), "12");
        assert_eq!(short(-335.0), "−335");
    }
}
