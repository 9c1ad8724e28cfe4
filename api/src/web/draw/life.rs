//! The life of a part on a line of time: the models it sat in one after another, and its repairs.

use chrono::Datelike as _;
use chrono_tz::Tz;
use preen_domain::answers::UsageSpan;
use preen_domain::time::{Instant, day_of};

use super::scale::Scale;

/// A stretch in one position.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// From and to.
    pub reach: (f64, f64),
    /// Down.
    pub y: f64,
    /// The model, and the position in it.
    pub text: String,
    /// Whether it lasts.
    pub lasts: bool,
}

/// The drawing; 800 wide.
#[derive(Debug, Clone)]
pub struct LifeLine {
    /// Its height.
    pub height: f64,
    /// Stretches, each a row down from the one before.
    pub stretches: Vec<Stretch>,
    /// Repairs.
    pub repairs: Vec<(f64, String)>,
    /// First days of years or quarters.
    pub marks: Vec<(f64, String)>,
}

const LEFT: f64 = 16.0;
const RIGHT: f64 = 784.0;
const TOP: f64 = 40.0;
const ROW: f64 = 24.0;

/// Draws the stretches of a part until a moment; nothing if it never sat anywhere.
pub fn life_line(
    spans: &[UsageSpan],
    repairs: &[(Instant, String)],
    until: Instant,
    zone: Tz,
) -> Option<LifeLine> {
    let first = spans.iter().map(|span| span.from).chain(repairs.iter().map(|(at, _)| *at)).min()?;
    // Hours are fine enough, and exact as numbers.
    let hours =
        |at: Instant| i32::try_from(at.seconds_since(first) / 3600).map_or(f64::from(i32::MAX), f64::from);
    let scale = Scale::new((0.0, hours(until).max(1.0)), (LEFT, RIGHT));
    let mut y = TOP;
    let mut stretches = Vec::new();
    for span in spans {
        let to = span.to.filter(|to| *to <= until);
        stretches.push(Stretch {
            reach: (scale.at(hours(span.from)), scale.at(hours(to.unwrap_or(until)))),
            y,
            text: format!("{} {} · {} flights", span.model, span.path, span.flights),
            lasts: to.is_none(),
        });
        y += ROW;
    }
    let (from, to) = (day_of(first, zone), day_of(until, zone));
    let months = if (to - from).num_days() > 900 { 12 } else { 3 };
    let mut marks = Vec::new();
    let mut mark = from.with_day(1).and_then(|day| day.checked_add_months(chrono::Months::new(1)));
    while let Some(day) = mark.filter(|day| *day <= to) {
        if day.month0() % months == 0 {
            let at = i32::try_from((day - from).num_days() * 24).map_or(0.0, f64::from);
            let name = if day.month() == 1 { day.format("%Y") } else { day.format("%b") };
            marks.push((scale.at(at), name.to_string()));
        }
        mark = day.checked_add_months(chrono::Months::new(1));
    }
    let repairs = repairs.iter().map(|(at, name)| (scale.at(hours(*at)), name.clone())).collect();
    Some(LifeLine { height: y + 8.0, stretches, repairs, marks })
}
