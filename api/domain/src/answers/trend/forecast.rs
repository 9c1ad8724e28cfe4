//! From fitted readings to counts, days and sentences: when each limit will be reached, or why that cannot be said.

use chrono::NaiveDate;

use super::told::{LimitForecast, Refusal, UseRate, WearLine, WearSeries};
use crate::{
    formulas::{
        calendar::add_days,
        trend::{
            Confidence, FitError, Point, Sides,
            crossing::CrossingError,
            wear::{LimitReached, Trouble, WearError, WearFit, fit_wear},
        },
    },
    words::{Severity, WearCounter},
};

/// A forecast reaches no further than this.
const FURTHEST_DAYS: f64 = 3_652.0;

/// From here on the points are many enough not to be mentioned.
const MANY_POINTS: usize = 6;

const METHOD: &str = "least squares since the last restart; earliest and latest by the one-sided 95 % prediction band of \
                      one reading; robust slope after Theil and Sen; days at the counted rate";

/// Fits the points and fills in line, forecast or refusal.
pub(super) fn forecast(said: &mut WearSeries, points: &[Point], trouble: Trouble, today: NaiveDate) {
    let fit = match fit_wear(points, trouble) {
        Ok(fit) => fit,
        Err(why) => {
            said.refusal = Some(refuse(why, said.counter));
            return;
        }
    };
    said.line = line(&fit);
    let Some(limits) = said.limits.clone() else {
        let text =
            format!("no limit is known for {} in {}, so there is nothing to reach", said.quantity, said.unit);
        said.refusal = Some(Refusal::new("no_limit", text));
        return;
    };
    let last = said.readings.last().map_or(0.0, |reading| reading.value);
    let classes = [
        (Severity::Watch, limits.watch),
        (Severity::Restrict, limits.restrict),
        (Severity::Ground, limits.ground),
    ];
    for (severity, limit) in classes.into_iter().filter_map(|(severity, limit)| Some((severity, limit?))) {
        match fit.reaches(limit, said.now_count, Confidence::WEAR) {
            Ok(reached) => {
                let is_reached = limits.direction.is_reached(last, limit);
                let row = told(said, severity, &reached, is_reached, today);
                said.forecast.push(row);
            }
            Err(why) => {
                said.refusal = Some(refuse(why, said.counter));
                return;
            }
        }
    }
}

fn line(fit: &WearFit) -> Option<WearLine> {
    let line = fit.line;
    let (slope_low, slope_high) = line.slope_interval(Confidence { level: 0.9, sides: Sides::Two }).ok()?;
    Some(WearLine {
        slope: line.slope,
        slope_se: line.slope_se,
        slope_low,
        slope_high,
        intercept: line.intercept,
        residual_sd: line.residual_sd,
        r_squared: line.r_squared,
        points: line.points,
        robust_slope: fit.robust.map(|robust| robust.slope),
        robust_interval: fit.robust.and_then(|robust| robust.interval),
        method: METHOD.to_owned(),
    })
}

fn refuse(why: WearError, counter: WearCounter) -> Refusal {
    let code = match why {
        WearError::TooFewReadings { .. } => "too_few_readings",
        WearError::Crossing(CrossingError::NoGrowth) => "no_wear_seen",
        WearError::Fit(FitError::NoSpread) => {
            let text = format!("no forecast: no {counter} were counted between the readings");
            return Refusal::new("no_use_between", text);
        }
        WearError::Fit(_) | WearError::Crossing(_) => "cannot_fit",
    };
    Refusal::new(code, why.to_string())
}

fn told(
    said: &WearSeries,
    severity: Severity,
    reached: &LimitReached,
    is_reached: bool,
    today: NaiveDate,
) -> LimitForecast {
    let day =
        |left: f64| said.rate.as_ref().filter(|_| !is_reached).and_then(|rate| day_after(today, left, rate));
    let (on, earliest_on) = (day(reached.count_left), day(reached.earliest_left));
    let mut row = LimitForecast {
        severity,
        limit: reached.limit,
        is_reached,
        at_count: reached.at_count,
        count_left: reached.count_left,
        earliest_count: reached.earliest_count,
        earliest_left: reached.earliest_left,
        latest_count: reached.latest_count,
        robust_left: reached.robust_left,
        on,
        earliest_on,
        text: String::new(),
    };
    row.text = sentence(said, &row);
    row
}

fn sentence(said: &WearSeries, row: &LimitForecast) -> String {
    let (limit, unit, counter) = (row.limit, &said.unit, said.counter.as_str().replace('_', " "));
    let head = format!("{} at {limit} {unit}", row.severity);
    if row.is_reached {
        return format!("{head}: the last reading has reached it");
    }
    let points = said.line.as_ref().map_or(0, |line| line.points);
    let few = if points < MANY_POINTS {
        format!("; {points} readings only, so mind the band")
    } else {
        String::new()
    };
    if row.count_left <= 0.0 {
        return format!("{head}: reached by the line, though not by the last reading; measure now{few}");
    }
    let about = row.on.map(|on| format!(", about {on}")).unwrap_or_default();
    let earliest = if row.earliest_left <= 0.0 {
        "it may be reached already".to_owned()
    } else {
        let from = row.earliest_on.map(|on| format!(", from {on}")).unwrap_or_default();
        format!("earliest {:.1} more{from}", row.earliest_left)
    };
    let latest = if row.latest_count.is_none() { "; growth too unsure to name a latest" } else { "" };
    format!("{head}: in {:.1} {counter}{about}; {earliest}{latest}{few}", row.count_left)
}

/// Today plus the whole days elapsed until so much more use; none beyond ten years.
fn day_after(today: NaiveDate, left: f64, rate: &UseRate) -> Option<NaiveDate> {
    let days = left / rate.per_day;
    if !(0.0..=FURTHEST_DAYS).contains(&days) {
        return None;
    }
    #[expect(clippy::as_conversions, reason = "between 0 and ten years: checked above")]
    add_days(today, days.floor() as i64).ok()
}
