//! A series of readings against use: limits, the line since the last re-work, and where it meets them.

use preen_domain::answers::WearSeries;
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
    /// Whether it belongs to the series that is fitted.
    pub is_fitted: bool,
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
    /// The band in which the next reading will lie, as the points of its outline.
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

/// Draws the readings that are fitted, and those before the re-work left of them where they share the count.
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
    // As far as the next limit, but never so far that the readings shrink to a point.
    let ahead = meets.fold(f64::INFINITY, f64::min).min(newest * 2.5 + 10.0);
    let end = if ahead.is_finite() { newest.max(ahead) } else { newest }.max(1.0);
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
        is_fitted: one.is_fitted,
        tone: one.class.map_or("good", |class| words::severity(class).tone),
        text: format!("{} {} at {}", short(one.value), series.unit, short(one.count)),
    });
    let line = series.line.as_ref().map(|line| {
        let value = |count: f64| line.intercept + line.slope * count;
        ((x.at(0.0), inside(value(0.0))), (x.at(end), inside(value(end))))
    });
    let band = series.line.as_ref().map(|line| {
        // For the eye: the scatter about the line, widening with the bounds of the slope. Verdicts come from the forecast.
        let middle = shown.iter().map(|one| one.count).sum::<f64>() / count_of(shown.len());
        let edge = |count: f64, side: f64| {
            let lean = if (count - middle) * side >= 0.0 { line.slope_high } else { line.slope_low };
            line.intercept + line.slope * middle + lean * (count - middle) + side * 1.645 * line.residual_sd
        };
        let steps = || (0..=24_u32).map(|step| end * f64::from(step) / 24.0);
        let above = steps().map(|count| (x.at(count), inside(edge(count, 1.0))));
        let below = steps().rev().map(|count| (x.at(count), inside(edge(count, -1.0))));
        above.chain(below).map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ")
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

fn count_of(len: usize) -> f64 {
    u32::try_from(len).map_or(1.0, f64::from).max(1.0)
}
