//! Readings that can hardly be right: outside what an instrument shows, off by the factor of a wrong unit, far off the
//! line of the others, or better than before where wear can only make it worse. They are kept and questioned, never
//! refused. Each is compared with the readings since the last re-work, by the same method, alone.

use crate::{
    facts::Measurement,
    finding::Finding,
    fleet::Fleet,
    formulas::trend::{Point, theil_sen::theil_sen},
    ids::ComponentId,
    quantities::{Quantity, TroubleSide, quantity},
    time::{Instant, day_of},
    words::{RepairKind, Severity},
    worksheets::worksheet,
};

/// A reading that can hardly be right.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt<'a> {
    /// The reading.
    pub reading: &'a Measurement,
    /// The value in doubt.
    pub value: f64,
    /// Why.
    pub finding: Finding,
}

/// Factors of a wrong unit or a slipped point: mm for cm, inch for mm, mA for A.
const FACTORS: [f64; 3] = [10.0, 25.4, 1000.0];

/// How near to such a factor a reading has to be, as a part of it.
const NEAR_FACTOR: f64 = 0.2;

/// Others needed to tell a wrong unit.
const OTHERS_FOR_FACTOR: usize = 2;

/// Others needed to tell a reading off their line.
const OTHERS_FOR_LINE: usize = 5;

/// Robust spreads off the line beyond which a reading is in doubt (common practice, no source).
const SPREADS: f64 = 6.0;

/// The spread is taken as no less than this part of the value there: instruments have their own scatter.
const LEAST_SPREAD: f64 = 0.05;

/// A reading so much better than the one before, as a part of that, is in doubt where wear can only rise.
const BETTER: f64 = 0.2;

/// Of a long series only so many of the newest are looked at.
const MOST_READINGS: usize = 100;

/// Readings of a component that can hardly be right; `readings` are all of its readings, oldest first.
#[must_use]
pub fn doubts<'a>(
    fleet: &Fleet,
    component: ComponentId,
    tag: &str,
    readings: &[&'a Measurement],
) -> Vec<Doubt<'a>> {
    let mut quantities: Vec<&str> = readings.iter().map(|reading| reading.quantity.as_str()).collect();
    quantities.sort_unstable();
    quantities.dedup();
    let mut list = Vec::new();
    for name in quantities {
        let of_quantity: Vec<&'a Measurement> =
            readings.iter().copied().filter(|reading| reading.quantity.as_str() == name).collect();
        let series = since_rework(fleet, component, &of_quantity);
        let counts = use_by(fleet, component, &series);
        judge_series(fleet, tag, &series, &counts, quantity(name), &mut list);
        list.extend(without_temperature(fleet, component, tag, of_quantity.last().copied()));
    }
    list
}

/// The readings since the last re-work, change of method or marked start, oldest first.
fn since_rework<'a>(
    fleet: &Fleet,
    component: ComponentId,
    readings: &[&'a Measurement],
) -> Vec<&'a Measurement> {
    let repairs: Vec<(Instant, RepairKind)> = fleet
        .component(component)
        .into_iter()
        .flat_map(|file| file.repairs.iter())
        .filter_map(|id| fleet.repair(*id)?.repair.as_ref())
        .map(|repair| (repair.fact.occurred_at, repair.fact.kind))
        .collect();
    let came_between = |before: &Measurement, after: &Measurement| {
        repairs.iter().any(|(at, kind)| {
            worksheet(*kind).ends_series_of(after.quantity.as_str())
                && before.occurred_at < *at
                && *at <= after.occurred_at
        })
    };
    let mut series: Vec<&'a Measurement> = Vec::new();
    for reading in readings {
        let is_new = series.last().is_some_and(|before| {
            reading.is_series_start
                || before.method != reading.method
                || before.unit != reading.unit
                || came_between(before, reading)
        });
        if is_new {
            series.clear();
        }
        series.push(reading);
    }
    let skipped = series.len().saturating_sub(MOST_READINGS);
    series.split_off(skipped)
}

fn judge_series<'a>(
    fleet: &Fleet,
    tag: &str,
    series: &[&'a Measurement],
    counts: &[f64],
    known: Option<&Quantity>,
    list: &mut Vec<Doubt<'a>>,
) {
    let values: Vec<f64> = series.iter().map(|reading| worst(reading, known)).collect();
    let mut before: Option<f64> = None;
    for (index, ((reading, value), count)) in series.iter().zip(&values).zip(counts).enumerate() {
        let points: Vec<Point> = counts
            .iter()
            .zip(&values)
            .enumerate()
            .filter(|(other, _)| *other != index)
            .map(|(_, (count, value))| Point::new(*count, *value))
            .collect();
        let x = *count;
        let why = out_of_range(reading, known)
            .or_else(|| wrong_unit(*value, x, &points))
            .or_else(|| off_the_line(*value, x, &points))
            .or_else(|| better_than_before(*value, before, known));
        match why {
            None => before = Some(*value),
            Some(why) => {
                let on = day_of(reading.occurred_at, fleet.club().zone);
                list.push(Doubt {
                    reading,
                    value: *value,
                    finding: said(reading, tag, *value, &why, &on.to_string()),
                });
            }
        }
    }
}

fn said(reading: &Measurement, tag: &str, value: f64, why: &str, on: &str) -> Finding {
    let name = reading.tag.as_ref().map(|name| format!(" ({name})")).unwrap_or_default();
    Finding::new(
        "reading_implausible",
        Severity::Watch,
        tag,
        format!("{} of {tag} on {on}{name} reads {value} {}: {why}", reading.quantity, reading.unit),
        "measure again, or correct the reading",
    )
}

/// The value of a reading that lies nearest to trouble.
fn worst(reading: &Measurement, known: Option<&Quantity>) -> f64 {
    let values = reading.values.iter().copied();
    match known.map(|known| known.trouble) {
        Some(TroubleSide::Low) => values.reduce(f64::min),
        Some(TroubleSide::High | TroubleSide::Both) | None => values.reduce(f64::max),
    }
    .unwrap_or_default()
}

/// Flights of the component until each reading: wear comes with use, not in a winter on the shelf. Days where it never
/// flew.
fn use_by(fleet: &Fleet, component: ComponentId, series: &[&Measurement]) -> Vec<f64> {
    let spans = fleet.model_spans(component);
    let flights: Vec<f64> = series
        .iter()
        .map(|reading| {
            let flown = spans.iter().filter(|span| span.from < reading.occurred_at).map(|span| {
                let to = span.to.map_or(reading.occurred_at, |to| to.min(reading.occurred_at));
                fleet.model_usage(span.model, span.from, to).flights
            });
            f64::from(u32::try_from(flown.sum::<u64>()).unwrap_or(u32::MAX))
        })
        .collect();
    if flights.first() != flights.last() {
        return flights;
    }
    let first = series.first().map(|reading| reading.occurred_at);
    let minutes =
        |reading: &&Measurement| first.map_or(0, |first| reading.occurred_at.seconds_since(first) / 60);
    series
        .iter()
        .map(|reading| f64::from(i32::try_from(minutes(reading)).unwrap_or(i32::MAX)) / 1440.0)
        .collect()
}

fn out_of_range(reading: &Measurement, known: Option<&Quantity>) -> Option<String> {
    let known = known.filter(|known| known.unit == reading.unit.as_str())?;
    let wild = reading.values.iter().find(|value| **value < known.least || **value > known.most)?;
    Some(format!(
        "{wild} is not within {} to {} {}, which is all there can be",
        known.least, known.most, known.unit
    ))
}

/// What the others let expect at a moment: their line from four on, else their median.
fn expected(x: f64, others: &[Point]) -> Option<f64> {
    if others.len() >= 4
        && let Ok(line) = theil_sen(others, 0.9)
    {
        return Some(line.intercept + line.slope * x);
    }
    median(others.iter().map(|point| point.y).collect())
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 { Some(upper) } else { Some(f64::midpoint(*values.get(middle - 1)?, upper)) }
}

fn wrong_unit(value: f64, x: f64, others: &[Point]) -> Option<String> {
    if others.len() < OTHERS_FOR_FACTOR || value <= 0.0 {
        return None;
    }
    let expected = expected(x, others).filter(|expected| *expected > 0.0)?;
    // The others must agree among themselves, or the odd one is among them.
    let agree = others.iter().all(|point| point.y > expected / 3.0 && point.y < expected * 3.0);
    let near = |ratio: f64| FACTORS.into_iter().find(|factor| (ratio / factor - 1.0).abs() <= NEAR_FACTOR);
    let (times, part) = (near(value / expected), near(expected / value));
    let factor = times
        .map(|factor| format!("about {factor} times"))
        .or(part.map(|factor| format!("about 1/{factor} of")))?;
    agree.then(|| {
        format!(
            "that is {factor} what the others let expect ({expected:.3}): a wrong unit or a slipped point?"
        )
    })
}

fn off_the_line(value: f64, x: f64, others: &[Point]) -> Option<String> {
    if others.len() < OTHERS_FOR_LINE {
        return None;
    }
    let line = theil_sen(others, 0.9).ok()?;
    let at = |x: f64| line.intercept + line.slope * x;
    let residuals = others.iter().map(|point| (point.y - at(point.x)).abs()).collect();
    let expected = at(x);
    let spread = (1.4826 * median(residuals)?).max(LEAST_SPREAD * expected.abs());
    let off = (value - expected).abs();
    (spread > 0.0 && off > SPREADS * spread).then(|| {
        format!("the others let expect {expected:.3}; it is off by {:.0} times their spread", off / spread)
    })
}

fn better_than_before(value: f64, before: Option<f64>, known: Option<&Quantity>) -> Option<String> {
    let known = known.filter(|known| known.only_wears)?;
    let before = before?;
    let gain = match known.trouble {
        TroubleSide::High => before - value,
        TroubleSide::Low => value - before,
        TroubleSide::Both => return None,
    };
    (gain > BETTER * before.abs()).then(|| {
        format!("the one before read {before}: without a re-work or another method it cannot get better")
    })
}

/// Cells that were read without their temperature cannot be compared with new ones.
fn without_temperature<'a>(
    fleet: &Fleet,
    component: ComponentId,
    tag: &str,
    newest: Option<&'a Measurement>,
) -> Option<Doubt<'a>> {
    let reading = newest.filter(|reading| reading.quantity.as_str() == "cell_resistance")?;
    let is_compared = fleet.part_of(component).is_some_and(|part| !part.new_cell_mohm.is_empty());
    (is_compared && reading.temperature_c.is_none()).then(|| Doubt {
        reading,
        value: worst(reading, quantity("cell_resistance")),
        finding: Finding::new(
            "reading_without_temperature",
            Severity::Watch,
            tag,
            format!(
                "cell_resistance of {tag} was read without its temperature: it cannot be compared with new"
            ),
            "measure again with the temperature of the pack, or correct the reading",
        ),
    })
}
