//! How a part wears: each quantity read on it against the use that drives it, fitted since the last re-work, and when
//! its limits will be reached. [`drive`] counts the use, [`told`] has the shapes; the fit itself is in `formulas`.

mod drive;
mod forecast;
mod told;

pub use told::{
    ComponentTrend, CountedFrom, LimitForecast, Refusal, TrendQuestion, TrendReading, UseRate, WearLimits,
    WearLine, WearSeries,
};

use drive::Drive;

use super::readings::class_of;
use crate::{
    facts::{Limit, Measurement, Recorded, Repair},
    fleet::{Fleet, Place, limits_of},
    formulas::trend::{
        Point,
        series::{Circumstance, Series, SeriesStart, split},
        wear::Trouble,
    },
    ids::{ComponentId, ModelId},
    time::{Instant, day_of},
    words::{Direction, WearCounter},
    worksheets::worksheet,
};

/// Code of the refusal to fit a whole history across a re-work or a change of method.
pub const WHOLE_HISTORY_REFUSED: &str = "across_series";

/// How a component wears, by what was read until a moment. One series a quantity, in order of their names.
#[must_use]
pub fn component_trend(
    fleet: &Fleet,
    component: ComponentId,
    question: &TrendQuestion,
    as_of: Instant,
) -> ComponentTrend {
    let readings = fleet.component(component).map_or(&[][..], |file| file.measurements.until(as_of));
    let mut quantities: Vec<&str> = readings.iter().map(|reading| reading.fact.quantity.as_str()).collect();
    quantities.sort_unstable();
    quantities.dedup();
    let is_wanted = |quantity: &&&str| question.quantity.as_deref().is_none_or(|wanted| wanted == **quantity);
    let (model, place) = match fleet.place_at(component, as_of) {
        Place::InModel(model, path) => (Some(model), Some(format!("{} {path}", fleet.model_tag(model)))),
        Place::InPanel(panel, path) => (None, Some(format!("{} {path}", fleet.component_tag(panel)))),
        Place::Loose => (None, None),
    };
    let part = Part { fleet, id: component, model, question, as_of };
    let series = quantities.iter().filter(is_wanted).filter_map(|quantity| part.series(quantity, readings));
    ComponentTrend {
        component: fleet.component_tag(component),
        part: fleet.part_of(component).map(|part| part.tag.to_string()),
        place,
        series: series.collect(),
        quantities: quantities.iter().map(|quantity| (*quantity).to_owned()).collect(),
    }
}

/// The part asked about.
struct Part<'a> {
    fleet: &'a Fleet,
    id: ComponentId,
    model: Option<ModelId>,
    question: &'a TrendQuestion,
    as_of: Instant,
}

impl Part<'_> {
    fn series(&self, quantity: &str, all: &[Recorded<Measurement>]) -> Option<WearSeries> {
        let readings: Vec<&Measurement> = all
            .iter()
            .map(|reading| &reading.fact)
            .filter(|fact| fact.quantity.as_str() == quantity)
            .collect();
        let last = *readings.last()?;
        let reworks = self.reworks(quantity);
        let duties: Vec<Option<&str>> =
            readings.iter().map(|reading| self.duty_at(reading.occurred_at)).collect();
        let parted = split(&circumstances(&readings, &duties, &reworks));
        let current = parted.last()?;
        let duty = duties.iter().rev().find_map(|duty| *duty);
        let limits = self.limits(quantity, last, duty);
        let trouble = trouble_of(limits.as_ref());
        let first_at = readings.get(current.readings.start)?.occurred_at;
        let rework = reworks.iter().rev().find(|rework| rework.occurred_at <= first_at);
        let marked = marked_restart(&parted, &readings)
            .filter(|(before, _)| rework.is_none_or(|rework| rework.occurred_at <= *before));
        let origin = match (marked, rework) {
            (Some((_, first)), _) => {
                CountedFrom { at: Some(first), text: "since the first reading after the re-work".to_owned() }
            }
            (None, Some(rework)) => CountedFrom::rework(rework, self.fleet),
            (None, None) => CountedFrom { at: None, text: "on record".to_owned() },
        };
        let drive =
            Drive::choose(self.fleet, self.id, self.model, quantity, duty, self.question.by, self.as_of);
        let zero =
            origin.at.map_or(0.0, |at| drive.count_by(at, readings.first().map(|first| first.occurred_at)));
        let from_first = readings.first().map(|first| first.occurred_at);
        let count_at = |at: Instant| drive.count_by(at, from_first);
        let told: Vec<TrendReading> = readings
            .iter()
            .enumerate()
            .map(|(index, reading)| {
                let is_fitted = current.readings.contains(&index);
                let value = worst(reading, trouble);
                TrendReading {
                    tag: reading.tag.as_ref().map(ToString::to_string),
                    at: reading.occurred_at,
                    count: count_at(reading.occurred_at) - if is_fitted { zero } else { 0.0 },
                    value,
                    class: limits.as_ref().and_then(|limits| class_of(&limits.as_limit(reading), value)),
                    is_fitted,
                    note: reading.note.as_ref().map(ToString::to_string),
                }
            })
            .collect();
        let now_count = count_at(self.as_of) - zero;
        let counted_from = match (drive.counter, origin.at) {
            (WearCounter::Days, None) => {
                CountedFrom { at: Some(from_first?), text: "since the first reading".to_owned() }
            }
            _ => origin,
        };
        let mut said = WearSeries {
            quantity: quantity.to_owned(),
            unit: last.unit.to_string(),
            method: last.method.as_ref().map(ToString::to_string),
            duty: duty.map(ToOwned::to_owned),
            counter: drive.counter,
            counter_note: drive.note.clone(),
            counted_from,
            now_count,
            readings: told,
            restarts: restarts(&parted, &readings, &reworks, self.fleet),
            limits,
            line: None,
            rate: drive.rate(self.as_of),
            forecast: Vec::new(),
            refusal: None,
        };
        let reworked_since = reworks.iter().find(|rework| rework.occurred_at > last.occurred_at);
        if let Some(rework) = reworked_since {
            said.refusal = Some(Refusal::new(
                "reworked_since",
                format!(
                    "no forecast: {} came after the last reading; measure the part as it is now",
                    name_rework(rework, self.fleet)
                ),
            ));
        } else if self.question.is_whole_history && parted.len() > 1 {
            said.refusal = Some(Refusal::new(
                WHOLE_HISTORY_REFUSED,
                format!(
                    "a fit over the whole history is refused: {}; readings before and after are not of one wear",
                    said.restarts.last().map(String::as_str).unwrap_or_default()
                ),
            ));
        } else {
            let points: Vec<Point> = said
                .readings
                .iter()
                .filter(|reading| reading.is_fitted)
                .map(|reading| Point::new(reading.count, reading.value))
                .collect();
            forecast::forecast(&mut said, &points, trouble, day_of(self.as_of, self.fleet.club().zone));
        }
        Some(said)
    }

    /// Repairs that make the readings of a quantity start anew, oldest first.
    fn reworks(&self, quantity: &str) -> Vec<&Repair> {
        let file = self.fleet.component(self.id);
        let repairs = file.into_iter().flat_map(|file| file.repairs.iter());
        let mut list: Vec<&Repair> = repairs
            .filter_map(|id| Some(&self.fleet.repair(*id)?.repair.as_ref()?.fact))
            .filter(|repair| {
                repair.occurred_at <= self.as_of && worksheet(repair.kind).ends_series_of(quantity)
            })
            .collect();
        list.sort_by_key(|repair| (repair.occurred_at, repair.id));
        list
    }

    /// The kind of position it sat in.
    fn duty_at(&self, at: Instant) -> Option<&str> {
        self.fleet.position_at(self.id, at).map(|position| position.kind.as_str())
    }

    fn limits(&self, quantity: &str, last: &Measurement, duty: Option<&str>) -> Option<WearLimits> {
        let programme = self.fleet.programme_of(self.model)?;
        let limits = limits_of(self.fleet, &programme.fact, duty, quantity, last.unit.as_str());
        WearLimits::tightest(&limits)
    }
}

fn circumstances<'a>(
    readings: &[&'a Measurement],
    duties: &[Option<&'a str>],
    reworks: &[&Repair],
) -> Vec<Circumstance<'a>> {
    let mut before: Option<Instant> = None;
    readings
        .iter()
        .zip(duties)
        .map(|(reading, duty)| {
            let came_between = reworks.iter().any(|rework| {
                rework.occurred_at <= reading.occurred_at
                    && before.is_some_and(|before| before < rework.occurred_at)
            });
            before = Some(reading.occurred_at);
            Circumstance {
                is_after_rework: came_between || reading.is_series_start,
                method: reading.method.as_ref().map(crate::text::Text::as_str),
                unit: reading.unit.as_str(),
                duty: *duty,
            }
        })
        .collect()
}

/// What each series after the first was begun by, in words.
fn restarts(parted: &[Series], readings: &[&Measurement], reworks: &[&Repair], fleet: &Fleet) -> Vec<String> {
    parted
        .iter()
        .skip(1)
        .filter_map(|series| {
            let first = readings.get(series.readings.start)?;
            let on = day_of(first.occurred_at, fleet.club().zone);
            Some(match series.start {
                SeriesStart::Rework => {
                    match reworks.iter().rev().find(|rework| rework.occurred_at <= first.occurred_at) {
                        Some(rework) => format!("{} started the series anew", name_rework(rework, fleet)),
                        None => format!("the reading of {on} is marked as the first after a re-work"),
                    }
                }
                SeriesStart::Method => format!("from {on} on it was read another way"),
                SeriesStart::Duty => format!("from {on} on the part did other work"),
                SeriesStart::First => return None,
            })
        })
        .collect()
}

fn name_rework(rework: &Repair, fleet: &Fleet) -> String {
    let name = rework.tag.as_ref().map_or_else(|| "a repair".to_owned(), ToString::to_string);
    format!("{name} ({}, {})", rework.kind, day_of(rework.occurred_at, fleet.club().zone))
}

fn trouble_of(limits: Option<&WearLimits>) -> Trouble {
    match limits.map(|limits| limits.direction) {
        Some(Direction::AtOrBelow | Direction::Below) => Trouble::Below,
        Some(Direction::AtOrAbove | Direction::Above) | None => Trouble::Above,
    }
}

/// The value a reading is judged by: of several cells or contacts the one nearest to trouble.
fn worst(reading: &Measurement, trouble: Trouble) -> f64 {
    let values = reading.values.iter().copied();
    match trouble {
        Trouble::Above => values.reduce(f64::max),
        Trouble::Below => values.reduce(f64::min),
    }
    .unwrap_or_default()
}

impl CountedFrom {
    fn rework(rework: &Repair, fleet: &Fleet) -> Self {
        Self { at: Some(rework.occurred_at), text: format!("since {}", name_rework(rework, fleet)) }
    }
}

/// The last restart after a re-work: when the reading before it and the first one after were made.
fn marked_restart(parted: &[Series], readings: &[&Measurement]) -> Option<(Instant, Instant)> {
    let first = parted.iter().rev().find(|series| series.start == SeriesStart::Rework)?.readings.start;
    Some((readings.get(first.checked_sub(1)?)?.occurred_at, readings.get(first)?.occurred_at))
}

impl WearLimits {
    /// Of several limits of one quantity the tightest of each class; the side is that of the first.
    fn tightest(limits: &[&Limit]) -> Option<Self> {
        let direction = limits.first()?.direction;
        let of_side = || limits.iter().filter(|limit| limit.direction == direction);
        let tightest = |class: fn(&Limit) -> Option<f64>| {
            let values = of_side().filter_map(|limit| class(limit));
            match direction {
                Direction::AtOrAbove | Direction::Above => values.reduce(f64::min),
                Direction::AtOrBelow | Direction::Below => values.reduce(f64::max),
            }
        };
        Some(Self {
            direction,
            watch: tightest(|limit| limit.watch),
            restrict: tightest(|limit| limit.restrict),
            ground: tightest(|limit| limit.ground),
        })
    }

    fn as_limit(&self, reading: &Measurement) -> Limit {
        Limit {
            quantity: reading.quantity.clone(),
            position_kinds: Vec::new(),
            unit: reading.unit.clone(),
            direction: self.direction,
            watch: self.watch,
            restrict: self.restrict,
            ground: self.ground,
        }
    }
}
