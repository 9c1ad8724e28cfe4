//! A plan of work as bars on a line of time: one row a task, the work full, the cure behind it hatched.

use chrono_tz::Tz;
use preen_domain::answers::compute::PlanAnswer;
use preen_domain::time::{Instant, day_of, start_of_day};

use super::scale::Scale;
use crate::told::moment;

/// A task on the drawing.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Place of the row.
    pub y: f64,
    /// The task and who does it.
    pub name: String,
    /// From and to of the work.
    pub work: (f64, f64),
    /// Where its cure ends.
    pub cured: Option<f64>,
    /// Whether it is of the critical chain.
    pub is_critical: bool,
    /// In words.
    pub text: String,
}

/// The drawing; 900 wide.
#[derive(Debug, Clone)]
pub struct Bars {
    /// Its height.
    pub height: f64,
    /// Tasks in the order of their begin.
    pub bars: Vec<Bar>,
    /// Begins of days.
    pub days: Vec<(f64, String)>,
    /// The end of it all.
    pub end: f64,
    /// Now, where it lies inside.
    pub now: Option<f64>,
}

const LEFT: f64 = 12.0;
const RIGHT: f64 = 880.0;
const TOP: f64 = 34.0;
const ROW: f64 = 40.0;

/// Draws a plan; `named` gives a short name for a task where there is one.
pub fn bars(plan: &PlanAnswer, named: impl Fn(&str) -> Option<String>, now: Instant, zone: Tz) -> Bars {
    let from = plan.tasks.iter().map(|task| task.start_at).min().unwrap_or(plan.start_at);
    // Minutes are fine enough, and exact as numbers.
    let minutes =
        |at: Instant| i32::try_from(at.seconds_since(from) / 60).map_or(f64::from(i32::MAX), f64::from);
    let scale = Scale::new((0.0, minutes(plan.until_at).max(1.0)), (LEFT, RIGHT));
    let at = |instant: Instant| scale.at(minutes(instant));
    let mut y = TOP;
    let mut drawn = Vec::new();
    for task in &plan.tasks {
        let cure = task.cured_at.map(|end| format!(", cured {}", moment(end, zone))).unwrap_or_default();
        drawn.push(Bar {
            y,
            name: format!(
                "{} · {}",
                named(&task.task).unwrap_or_else(|| task.what.clone()),
                task.people.join(", ")
            ),
            work: (at(task.start_at), at(task.end_at)),
            cured: task.cured_at.map(at),
            is_critical: task.is_critical,
            text: format!("{} to {}{cure}", moment(task.start_at, zone), moment(task.end_at, zone)),
        });
        y += ROW;
    }
    let mut days = Vec::new();
    let mut day = day_of(from, zone).succ_opt();
    while let Some(one) = day.filter(|one| start_of_day(*one, zone) <= plan.until_at) {
        days.push((at(start_of_day(one, zone)), one.format("%a %-d").to_string()));
        day = one.succ_opt().filter(|_| days.len() < 60);
    }
    Bars {
        height: y + 6.0,
        bars: drawn,
        days,
        end: at(plan.until_at),
        now: (now >= from && now <= plan.until_at).then(|| at(now)),
    }
}
