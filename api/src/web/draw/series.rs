//! A series of readings against use: limits, the line since the last re-work, and where it meets them.

use preen_domain::answers::WearSeries;
use preen_domain::formulas::trend::line::{Band, fit_line};
use preen_domain::formulas::trend::{Confidence, Point};
use preen_domain::words::Severity;

use super::scale::{Scale, ticks};
use crate::told::short;
use crate::web::words;

/// A reading on the drawing.
#[derive(Debug, Clone)]
pub struct Dot {
    /// Across.
    pub x: f64,
    /// Down.
    pub y: f64,
    /// How it is classed.
    pub tone: &'static str,
    /// In words.
    pub text: String,
}

/// A limit on the drawing.
#[derive(Debug, Clone)]
pub struct Edge {
    /// Down.
    pub y: f64,
    /// Its class.
    pub tone: &'static str,
    /// In words.
    pub text: String,
}

/// The drawing; 800 by 320.
#[derive(Debug, Clone)]
pub struct Chart {
    /// Readings.
    pub dots: Vec<Dot>,
    /// Limits inside the drawing.
    pub edges: Vec<Edge>,
    /// The fitted line, from and to.
    pub line: Option<((f64, f64), (f64, f64))>,
    /// The prediction band of the next reading, by which the forecast names earliest and latest, as its outline.
    pub band: Option<String>,
    /// Marks of the axis across.
    pub across: Vec<(f64, String)>,
    /// Marks of the axis down.
    pub down: Vec<(f64, String)>,
    /// Where the use by now is.
    pub now: f64,
}

const LEFT: f64 = 64.0;
const RIGHT: f64 = 780.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 276.0;

/// Draws the readings that are fitted: those since the last re-work.
pub fn chart(series: &WearSeries) -> Chart {
    let shown: Vec<_> = series.readings.iter().filter(|one| one.is_fitted).collect();
    let limits: Vec<(Severity, f64)> = series
        .limits
        .iter()
        .flat_map(|limits| {
            [
                (Severity::Watch, limits.watch),
                (Severity::Restrict, limits.restrict),
                (Severity::Ground, limits.ground),
            ]
            .into_iter()
            .filter_map(|(severity, limit)| limit.map(|limit| (severity, limit)))
        })
        .collect();
    let meets = series.forecast.iter().filter(|one| !one.is_reached).map(|one| one.at_count);
    let newest = shown.iter().map(|one| one.count).fold(series.now_count, f64::max);
    // As far as the next limit, but never so far that the readings shrink to a point; without one, no further than now.
    let ahead = meets.reduce(f64::min).map_or(newest, |ahead| ahead.min(newest * 2.5 + 10.0));
    let end = newest.max(ahead).max(1.0);
    let values = shown.iter().map(|one| one.value).chain(limits.iter().map(|(_, limit)| *limit));
    let (low, high) =
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one), high.max(one)));
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    let margin = ((high - low).abs() * 0.12).max(1e-9);
    let (low, high) = (if low >= 0.0 { (low - margin).max(0.0) } else { low - margin }, high + margin);
    let x = Scale::new((0.0, end * 1.04), (LEFT, RIGHT));
    let y = Scale::new((low, high), (BOTTOM, TOP));
    let inside = |value: f64| y.at(value.clamp(low, high));
    let dots = shown.iter().map(|one| Dot {
        x: x.at(one.count),
        y: y.at(one.value),
        tone: one.class.map_or("good", |class| words::severity(class).tone),
        text: format!("{} {} at {}", short(one.value), series.unit, short(one.count)),
    });
    let line = series.line.as_ref().map(|line| {
        let value = |count: f64| line.intercept + line.slope * count;
        ((x.at(0.0), inside(value(0.0))), (x.at(end), inside(value(end))))
    });
    let points: Vec<Point> = shown.iter().map(|one| Point::new(one.count, one.value)).collect();
    let band = series.line.as_ref().and_then(|_| fit_line(&points).ok()).and_then(|line| {
        let edge = |step: u32, side: f64| {
            let count = end * f64::from(step) / 24.0;
            let half = line.half_width(count, Band::Reading, Confidence::WEAR).ok()?;
            Some((x.at(count), inside(line.at(count) + side * half)))
        };
        let outline = (0..=24).map(|step| edge(step, 1.0)).chain((0..=24).rev().map(|step| edge(step, -1.0)));
        let outline: Option<Vec<String>> = outline.map(|at| at.map(|(x, y)| format!("{x},{y}"))).collect();
        Some(outline?.join(" "))
    });
    Chart {
        dots: dots.collect(),
        edges: limits
            .iter()
            .map(|(severity, limit)| {
                let word = words::severity(*severity);
                Edge {
                    y: y.at(*limit),
                    tone: word.tone,
                    text: format!("{} from {} {}", word.text, short(*limit), series.unit),
                }
            })
            .collect(),
        line,
        band,
        across: ticks(0.0, end, 6).into_iter().map(|one| (x.at(one), short(one))).collect(),
        down: ticks(low, high, 5).into_iter().map(|one| (y.at(one), short(one))).collect(),
        now: x.at(series.now_count.clamp(0.0, end)),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// The readings of the e-Handbook's formulas worked by hand in `formulas/trend/line.rs`: s = √0.1, Sxx = 5, mean 1.5.
    /// t(0.95; 2) = 2.9200 (NIST/SEMATECH e-Handbook 1.3.6.7.2), so that at the mean the next reading lies within
    /// 2.9200·√0.1·√(1 + 1/4) = 1.0324 of the line.
    #[test]
    fn the_band_is_the_one_of_the_forecast() {
        let readings: Vec<_> = [(0.0, 1.0), (1.0, 3.0), (2.0, 4.0), (3.0, 6.0)]
            .iter()
            .map(|(count, value)| {
                json!({ "tag": null, "at": "2026-05-01T08:00:00Z", "count": count, "value": value, "class": null,
                    "is_fitted": true, "note": null })
            })
            .collect();
        let line = json!({ "slope": 1.6, "slope_se": 0.141, "slope_low": 1.2, "slope_high": 2.0, "intercept": 1.1,
            "residual_sd": 0.316, "r_squared": 0.98, "points": 4, "robust_slope": null, "robust_interval": null,
            "method": "" });
        let series: WearSeries =
            serde_json::from_value(json!({ "quantity": "play", "unit": "mm", "method": null,
            "duty": null, "counter": "flights", "counter_note": null,
            "counted_from": { "at": null, "text": "from the start" }, "now_count": 3.0, "readings": readings,
            "restarts": [], "limits": null, "line": line, "rate": null, "forecast": [], "refusal": null }))
            .unwrap();
        let drawn = chart(&series);
        let band = drawn.band.unwrap();
        let down: Vec<f64> =
            band.split(' ').map(|point| point.split_once(',').unwrap().1.parse().unwrap()).collect();
        assert_eq!(down.len(), 50);
        // Twenty-four steps from 0 to 3 and back: the mean is the twelfth either way.
        let (top, bottom) = (down[12], down[37]);
        let (one, other) = (drawn.down.first().unwrap(), drawn.down.last().unwrap());
        let per_px = (other.1.parse::<f64>().unwrap() - one.1.parse::<f64>().unwrap()) / (one.0 - other.0);
        assert!(((bottom - top) * per_px / 2.0 - 1.0324).abs() < 0.01, "{}", (bottom - top) * per_px / 2.0);
        // Without a limit to come the drawing ends with the readings.
        assert!(drawn.across.last().unwrap().1 == "3", "{:?}", drawn.across);
    }
}
