//! When a count will be reached, from how it grew lately: a counting rate with bounds, and the days they give. Wear
//! trends and planned calendars are not here.

use std::sync::OnceLock;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::calendar::{CalendarError, add_days};
use super::quantile::chi_square_quantile;

/// A counting rate per day with 90 % bounds (5 % beyond each).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CountingRate {
    /// Events counted.
    pub events: u32,
    /// Days over which they were counted.
    pub days: u32,
    /// events / days.
    pub per_day: f64,
    /// Lower bound; 0 when nothing was counted.
    pub low_per_day: f64,
    /// Upper bound.
    pub high_per_day: f64,
}

/// Days until a count is reached. The bounds are 90 % for the *rate*; the scatter of the coming events comes on top.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DaysToGo {
    /// At the counted rate.
    pub days: f64,
    /// At the upper bound of the rate.
    pub earliest_days: f64,
    /// At the lower bound of the rate.
    pub latest_days: f64,
}

/// The same as calendar days: today plus the whole days elapsed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ForecastDates {
    /// At the counted rate.
    pub on: NaiveDate,
    /// At the upper bound of the rate.
    pub earliest_on: NaiveDate,
    /// At the lower bound of the rate.
    pub latest_on: NaiveDate,
}

/// Why there is no forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ForecastError {
    /// Counted over no time.
    #[error("a rate needs at least one day of counting")]
    NoDays,
    /// Nothing was counted, so the lower rate is zero and no last day can be named.
    #[error("nothing was counted in these days, so there is no forecast")]
    NothingCounted,
    /// No quantile for so many events.
    #[error("the rate's bounds cannot be computed for so many events")]
    NoBounds,
    /// The day lies outside the calendar.
    #[error(transparent)]
    Calendar(#[from] CalendarError),
}

/// Rate of `events` counted in `days` days: k/d, with 90 % bounds χ²(0.05; 2k)/2d and χ²(0.95; 2k+2)/2d per day.
///
/// # Errors
/// No days. Zero events are a rate of 0 with lower bound 0.
///
/// # Source
/// Exact Poisson limits by the χ² distribution (Garwood 1936), from memory.
///
/// ```
/// use preen_domain::formulas::forecast::counting_rate;
/// let rate = counting_rate(46, 56)?;
/// let shown = format!("{:.3} ({:.3}-{:.3})", rate.per_day, rate.low_per_day, rate.high_per_day);
/// assert_eq!(shown, "0.821 (0.633-1.050)");
/// # Ok::<(), preen_domain::formulas::forecast::ForecastError>(())
/// ```
pub fn counting_rate(events: u32, days: u32) -> Result<CountingRate, ForecastError> {
    if days == 0 {
        return Err(ForecastError::NoDays);
    }
    let (count, over) = (f64::from(events), f64::from(days));
    let (low, high) = bounds(events)?;
    let (low_per_day, high_per_day) = (low / (2.0 * over), high / (2.0 * over));
    Ok(CountingRate { events, days, per_day: count / over, low_per_day, high_per_day })
}

/// Bounds that were worked out already, by the number of events: a fleet asks for the same few hundred again and again,
/// and each takes a search.
static BOUNDS: [OnceLock<(f64, f64)>; 1024] = [const { OnceLock::new() }; 1024];

/// Both χ² of a number of events.
fn bounds(events: u32) -> Result<(f64, f64), ForecastError> {
    let kept = usize::try_from(events).ok().and_then(|number| BOUNDS.get(number));
    if let Some(known) = kept.and_then(OnceLock::get) {
        return Ok(*known);
    }
    let count = f64::from(events);
    let low = if events == 0 { 0.0 } else { chi_square(0.05, 2.0 * count)? };
    let both = (low, chi_square(0.95, 2.0 * count + 2.0)?);
    Ok(kept.map_or(both, |kept| *kept.get_or_init(|| both)))
}

fn chi_square(probability: f64, freedom: f64) -> Result<f64, ForecastError> {
    let quantile = chi_square_quantile(probability, freedom);
    quantile.filter(|value| value.is_finite() && *value > 0.0).ok_or(ForecastError::NoBounds)
}

/// Days until `left` more events have happened: left/rate, with the bounds of the rate.
///
/// # Errors
/// [`ForecastError::NothingCounted`] when the rate or its lower bound is zero (and something is left).
///
/// ```
/// use preen_domain::formulas::forecast::{counting_rate, days_to_go};
/// let to_go = days_to_go(&counting_rate(46, 56)?, 18)?;
/// let shown = format!("{:.1} ({:.1}-{:.1})", to_go.days, to_go.earliest_days, to_go.latest_days);
/// assert_eq!(shown, "21.9 (17.1-28.4)");
/// # Ok::<(), preen_domain::formulas::forecast::ForecastError>(())
/// ```
pub fn days_to_go(rate: &CountingRate, left: u32) -> Result<DaysToGo, ForecastError> {
    if left == 0 {
        return Ok(DaysToGo { days: 0.0, earliest_days: 0.0, latest_days: 0.0 });
    }
    if rate.events == 0 || rate.low_per_day <= 0.0 {
        return Err(ForecastError::NothingCounted);
    }
    let left = f64::from(left);
    Ok(DaysToGo {
        days: left / rate.per_day,
        earliest_days: left / rate.high_per_day,
        latest_days: left / rate.low_per_day,
    })
}

/// The days of a forecast made today: today plus the whole days elapsed.
///
/// # Errors
/// A day outside the calendar.
///
/// ```
/// use preen_domain::formulas::forecast::{counting_rate, days_to_go, forecast_dates};
/// let dates = forecast_dates("2026-05-21".parse()?, &days_to_go(&counting_rate(46, 56)?, 18)?)?;
/// assert_eq!((dates.earliest_on.to_string(), dates.latest_on.to_string()),
///     ("2026-06-07".to_owned(), "2026-06-18".to_owned()));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn forecast_dates(today: NaiveDate, to_go: &DaysToGo) -> Result<ForecastDates, ForecastError> {
    let after = |days: f64| -> Result<NaiveDate, CalendarError> { add_days(today, whole_days(days)?) };
    Ok(ForecastDates {
        on: after(to_go.days)?,
        earliest_on: after(to_go.earliest_days)?,
        latest_on: after(to_go.latest_days)?,
    })
}

fn whole_days(days: f64) -> Result<i64, CalendarError> {
    // Twelve figures of a float are exact in an i64; the calendar ends long before.
    if !days.is_finite() || days.abs() > 1e12 {
        return Err(CalendarError::OutOfRange);
    }
    #[expect(clippy::as_conversions, reason = "in range: checked above")]
    Ok(days.floor() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_counted_gives_a_rate_but_no_forecast() {
        let rate = counting_rate(0, 56).expect("a rate");
        assert_eq!((rate.per_day, rate.low_per_day), (0.0, 0.0));
        // Upper bound of zero events: -ln(0.05) over the time.
        assert!((rate.high_per_day - 20f64.ln() / 56.0).abs() < 1e-9);
        assert_eq!(days_to_go(&rate, 5), Err(ForecastError::NothingCounted));
    }

    #[test]
    fn what_is_reached_already_is_today() {
        let rate = counting_rate(0, 56).expect("a rate");
        let today = NaiveDate::from_ymd_opt(2026, 5, 21).expect("a day");
        let dates = forecast_dates(today, &days_to_go(&rate, 0).expect("nothing left")).expect("today");
        assert_eq!((dates.on, dates.latest_on), (today, today));
    }

    #[test]
    fn what_cannot_be_forecast_is_an_error() {
        assert_eq!(counting_rate(3, 0), Err(ForecastError::NoDays));
        let today = NaiveDate::from_ymd_opt(2026, 5, 21).expect("a day");
        for days in [f64::NAN, f64::INFINITY, 1e13, 1e11] {
            let to_go = DaysToGo { days, earliest_days: 0.0, latest_days: 0.0 };
            let refused = ForecastError::Calendar(CalendarError::OutOfRange);
            assert_eq!(forecast_dates(today, &to_go), Err(refused), "{days}");
        }
    }
}
