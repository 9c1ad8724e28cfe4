//! What falls due when, on a line of days: forecasts as bars from earliest to latest, calendar dates as marks.

use chrono::{Datelike as _, Days, NaiveDate};
use preen_domain::answers::DueItem;

use super::scale::Scale;
use crate::web::words::{self, Word};

/// One check on the line.
#[derive(Debug, Clone)]
pub struct Line {
    /// Place of the row.
    pub y: f64,
    /// Code of the group and what it sits on.
    pub name: String,
    /// Where it stands.
    pub word: Word,
    /// From earliest to latest, where it is a forecast.
    pub bar: Option<(f64, f64)>,
    /// Where it is expected.
    pub at: f64,
    /// The day, in words.
    pub day: String,
}

/// The drawing; 800 wide.
#[derive(Debug, Clone)]
pub struct DueLine {
    /// Its height.
    pub height: f64,
    /// Its rows, the next to fall due first.
    pub lines: Vec<Line>,
    /// First days of months.
    pub months: Vec<(f64, String)>,
    /// The day asked about.
    pub today: f64,
    /// Checks whose day lies beyond the line, or has none.
    pub beyond: usize,
}

/// Days before and after the day asked about.
const BEFORE: i32 = 30;
const AFTER: i32 = 365;
const ROW: f64 = 26.0;
const TOP: f64 = 34.0;
const LEFT: f64 = 170.0;
const RIGHT: f64 = 780.0;

/// The day a check is expected to be due: by the calendar or by forecast, whichever is first.
pub fn expected(item: &DueItem) -> Option<NaiveDate> {
    [item.due_on, item.forecast_on].into_iter().flatten().min()
}

/// Draws the checks of a model about a day.
pub fn due_line(items: &[DueItem], on: NaiveDate) -> DueLine {
    let days = |day: NaiveDate| -> f64 { i32::try_from((day - on).num_days()).map_or(0.0, f64::from) };
    let (before, after) = (f64::from(BEFORE), f64::from(AFTER));
    let scale = Scale::new((-before, after), (LEFT, RIGHT));
    let at = |day: NaiveDate| scale.at(days(day).clamp(-before, after));
    let mut dated: Vec<(NaiveDate, &DueItem)> = items
        .iter()
        .filter_map(|item| expected(item).map(|day| (day, item)))
        .filter(|(day, _)| days(*day) <= after)
        .collect();
    dated.sort_by_key(|(day, _)| *day);
    let beyond = items.len().saturating_sub(dated.len());
    let mut y = TOP;
    let mut lines = Vec::new();
    for (day, item) in dated {
        let bar = match (item.forecast_from, item.forecast_to) {
            (Some(from), Some(to)) if item.forecast_on == Some(day) => Some((at(from), at(to))),
            _ => None,
        };
        let subject = if item.subject == item.model { String::new() } else { format!(" {}", item.subject) };
        lines.push(Line {
            y,
            name: format!("{}{subject}", item.group),
            word: words::check(item.state),
            bar,
            at: at(day),
            day: day.to_string(),
        });
        y += ROW;
    }
    DueLine { height: y + 6.0, lines, months: months(on, at), today: at(on), beyond }
}

fn months(on: NaiveDate, at: impl Fn(NaiveDate) -> f64) -> Vec<(f64, String)> {
    let end = on.checked_add_days(Days::new(AFTER.unsigned_abs().into())).unwrap_or(on);
    let mut made = Vec::new();
    let mut first = on.with_day(1).and_then(|day| day.checked_add_months(chrono::Months::new(1)));
    while let Some(day) = first.filter(|day| *day <= end) {
        made.push((at(day), day.format("%b").to_string()));
        first = day.checked_add_months(chrono::Months::new(1));
    }
    made
}
