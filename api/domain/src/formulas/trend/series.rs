//! Where a series of readings starts anew: after a re-work, and where the method of reading or the duty changes.
//! Readings of two series are never fitted together.

use std::ops::Range;

/// What makes a reading the first of its series.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SeriesStart {
    /// Nothing came before.
    First,
    /// A re-work lies between it and the reading before.
    Rework,
    /// It was read another way, or in another unit.
    Method,
    /// The part does other work than at the reading before.
    Duty,
}

/// What decides where a series starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Circumstance<'a> {
    /// Whether a re-work lies between this reading and the one before.
    pub is_after_rework: bool,
    /// How it was read; absent: nobody said, which is no change.
    pub method: Option<&'a str>,
    /// Unit of the reading.
    pub unit: &'a str,
    /// Work the part did by then; absent: not known, which is no change.
    pub duty: Option<&'a str>,
}

/// One series: which readings, and what began it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Series {
    /// Indices of its readings.
    pub readings: Range<usize>,
    /// What began it.
    pub start: SeriesStart,
}

/// Parts readings, oldest first, into series. A re-work is named before a change of method or duty.
///
/// Words are compared without regard to case and outer blanks.
///
/// ```
/// use preen_domain::formulas::trend::series::{Circumstance, SeriesStart, split};
/// let read = |method, is_after_rework| Circumstance { is_after_rework, method: Some(method), unit: "mm", duty: None };
/// let series = split(&[read("tip rock", false), read("Tip rock ", false), read("feeler", false), read("feeler", true)]);
/// let starts: Vec<_> = series.iter().map(|one| (one.readings.start, one.start)).collect();
/// assert_eq!(starts, [(0, SeriesStart::First), (2, SeriesStart::Method), (3, SeriesStart::Rework)]);
/// ```
#[must_use]
pub fn split(readings: &[Circumstance<'_>]) -> Vec<Series> {
    let mut list: Vec<Series> = Vec::new();
    let (mut method, mut duty, mut unit) = (None, None, None);
    for (index, reading) in readings.iter().enumerate() {
        let is_changed = |known: Option<&str>, now: Option<&str>| {
            known.zip(now).is_some_and(|(known, now)| !known.trim().eq_ignore_ascii_case(now.trim()))
        };
        let start = if index == 0 {
            Some(SeriesStart::First)
        } else if reading.is_after_rework {
            Some(SeriesStart::Rework)
        } else if is_changed(method, reading.method) || is_changed(unit, Some(reading.unit)) {
            Some(SeriesStart::Method)
        } else if is_changed(duty, reading.duty) {
            Some(SeriesStart::Duty)
        } else {
            None
        };
        match (start, list.last_mut()) {
            (None, Some(open)) => open.readings.end = index + 1,
            (start, _) => {
                list.push(Series { readings: index..index + 1, start: start.unwrap_or(SeriesStart::First) });
            }
        }
        method = reading.method.or(method);
        duty = reading.duty.or(duty);
        unit = Some(reading.unit);
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unsaid_methods_and_duties_change_nothing() {
        let read = |method, duty| Circumstance { is_after_rework: false, method, unit: "deg", duty };
        let lengths = |readings: &[Circumstance<'_>]| -> Vec<usize> {
            split(readings).iter().map(|series| series.readings.len()).collect()
        };
        assert_eq!(lengths(&[]), [0usize; 0]);
        let pointer = Some("pointer");
        assert_eq!(lengths(&[read(pointer, None), read(None, None), read(pointer, None)]), [3]);
        let (flap, tip) = (Some("flap servo"), Some("aileron servo"));
        assert_eq!(lengths(&[read(None, flap), read(None, None), read(None, tip), read(None, tip)]), [2, 2]);
        let in_mm = Circumstance { unit: "mm", ..read(None, None) };
        let series = split(&[read(None, None), in_mm]);
        assert_eq!(series[1].start, SeriesStart::Method);
    }
}
