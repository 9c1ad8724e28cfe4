//! Which use drives the wear of a part, how much of it there was by a moment, and how fast it is counted lately.

use super::told::UseRate;
use crate::{
    answers::{due::FORECAST_WINDOW_DAYS, usage::just_after},
    fleet::{Fleet, ModelSpan, Usage},
    formulas::forecast::counting_rate,
    ids::{ComponentId, ModelId},
    time::Instant,
    words::{PartKind, RepairKind, WearCounter},
};

/// The use that drives a series.
pub(super) struct Drive<'a> {
    fleet: &'a Fleet,
    component: ComponentId,
    model: Option<ModelId>,
    spans: Vec<ModelSpan>,
    /// What is counted.
    pub counter: WearCounter,
    /// What the reader should know of it.
    pub note: Option<String>,
}

impl<'a> Drive<'a> {
    /// The counter asked for, else the one that drives the wear of such a part (common practice, no source).
    pub fn choose(
        fleet: &'a Fleet,
        component: ComponentId,
        model: Option<ModelId>,
        quantity: &str,
        duty: Option<&str>,
        wanted: Option<WearCounter>,
        as_of: Instant,
    ) -> Self {
        let kind = fleet.part_of(component).map(|part| part.kind);
        let usual = usual_counter(quantity, kind, duty);
        let spans = fleet.model_spans(component);
        let file = fleet.component(component);
        let has_charges = file.is_some_and(|file| !file.charges.until(as_of).is_empty());
        let was_fitted = spans.iter().any(|span| span.from <= as_of);
        let (counter, note) = match (wanted, usual) {
            (Some(wanted), _) => (wanted, None),
            (None, WearCounter::Charges) if !has_charges => {
                (WearCounter::Days, Some("charges are not logged for it: counted in days".to_owned()))
            }
            (None, WearCounter::Reterminations | WearCounter::Days | WearCounter::Charges) => (usual, None),
            (None, _) if !was_fitted => {
                (WearCounter::Days, Some("it was never in a model: counted in days".to_owned()))
            }
            (None, _) => (usual, None),
        };
        let opening = fleet.component_data(component).and_then(|data| data.opening);
        let note = note.or_else(|| match counter {
            WearCounter::Matings => {
                Some("one mating a rigging: connectors are taken to be unplugged at each derig".to_owned())
            }
            WearCounter::Flights | WearCounter::AirtimeH | WearCounter::Riggings if opening.is_some() => {
                Some("life before the record is not counted".to_owned())
            }
            _ => None,
        });
        Self { fleet, component, model, spans, counter, note }
    }

    /// Use by a moment, what happened then included. Days are counted from `first`.
    pub fn count_by(&self, at: Instant, first: Option<Instant>) -> f64 {
        let end = just_after(at);
        match self.counter {
            WearCounter::Charges => {
                whole(self.fleet.component(self.component).map_or(0, |file| file.charges.until(at).len()))
            }
            WearCounter::Reterminations => {
                let repairs = self.fleet.component(self.component).map_or(&[][..], |file| &file.repairs);
                let done = repairs.iter().filter_map(|id| self.fleet.repair(*id)?.repair.as_ref());
                let counts = |repair: &crate::facts::Repair| {
                    repair.kind == RepairKind::ConnectorRetermination && repair.occurred_at <= at
                };
                whole(done.filter(|repair| counts(&repair.fact)).count())
            }
            WearCounter::Days => first.map_or(0.0, |first| days(at.seconds_since(first))),
            _ => {
                let mut usage = Usage::default();
                for span in self.spans.iter().filter(|span| span.from <= at) {
                    let to = span.to.map_or(end, |to| to.min(end));
                    usage += self.fleet.model_usage(span.model, span.from, to);
                }
                self.of_usage(usage)
            }
        }
    }

    fn of_usage(&self, usage: Usage) -> f64 {
        match self.counter {
            WearCounter::Flights => number(usage.flights),
            WearCounter::Launches => number(usage.launches),
            WearCounter::AirtimeH => number(usage.airtime_s) / 3600.0,
            WearCounter::MotorS => number(usage.motor_s),
            WearCounter::Riggings | WearCounter::Matings => number(usage.riggings),
            WearCounter::Charges | WearCounter::Reterminations | WearCounter::Days => 0.0,
        }
    }

    /// How fast it is counted: by the model it sits in, over the last weeks. Bounds of time in the air and of motor
    /// time are those of the flights. `None` when it is loose or nothing was counted.
    pub fn rate(&self, as_of: Instant) -> Option<UseRate> {
        if self.counter == WearCounter::Days {
            let text = "a day a day".to_owned();
            return Some(UseRate { per_day: 1.0, low_per_day: 1.0, high_per_day: 1.0, days: 1, text });
        }
        let from = just_after(as_of.plus_days(-i64::from(FORECAST_WINDOW_DAYS)));
        let (events, counted, who) = match self.counter {
            WearCounter::Reterminations | WearCounter::Days => return None,
            WearCounter::Charges => {
                let file = self.fleet.component(self.component)?;
                let charges = file.charges.until(as_of).iter();
                let events = charges.filter(|charge| charge.fact.occurred_at >= from).count();
                (u64::try_from(events).ok()?, whole(events), self.fleet.component_tag(self.component))
            }
            _ => {
                let usage = self.fleet.model_usage(self.model?, from, just_after(as_of));
                let events = match self.counter {
                    WearCounter::Riggings | WearCounter::Matings => usage.riggings,
                    WearCounter::Launches => usage.launches,
                    _ => usage.flights,
                };
                (events, self.of_usage(usage), self.fleet.model_tag(self.model?))
            }
        };
        let rate = counting_rate(u32::try_from(events).ok()?, FORECAST_WINDOW_DAYS).ok()?;
        let each = if events == 0 { 0.0 } else { counted / number(events) };
        let per_day = rate.per_day * each;
        (per_day > 0.0).then(|| UseRate {
            per_day,
            low_per_day: rate.low_per_day * each,
            high_per_day: rate.high_per_day * each,
            days: FORECAST_WINDOW_DAYS,
            text: format!("{who}: {counted:.0} {} in {FORECAST_WINDOW_DAYS} days", self.counter),
        })
    }
}

/// What drives the wear of a quantity on a kind of part in a kind of position.
fn usual_counter(quantity: &str, kind: Option<PartKind>, duty: Option<&str>) -> WearCounter {
    if quantity == "lead_slack" {
        return WearCounter::Reterminations;
    }
    match kind {
        Some(PartKind::Joiner) => WearCounter::Riggings,
        Some(PartKind::ConnectorHalf) => WearCounter::Matings,
        Some(PartKind::Pack) => WearCounter::Charges,
        Some(PartKind::Motor | PartKind::Gearbox | PartKind::Propeller) => WearCounter::MotorS,
        Some(PartKind::Receiver | PartKind::Altimeter | PartKind::Sensor) => WearCounter::Days,
        // Landings wear a flap servo, time in the air the others.
        Some(PartKind::Servo) if duty.is_some_and(|duty| !duty.contains("flap")) => WearCounter::AirtimeH,
        Some(
            PartKind::Servo
            | PartKind::SpeedController
            | PartKind::Panel
            | PartKind::Fuselage
            | PartKind::TailFrame
            | PartKind::Other,
        )
        | None => WearCounter::Flights,
    }
}

fn days(seconds: i64) -> f64 {
    let whole_days = i32::try_from(seconds.div_euclid(86_400)).unwrap_or(i32::MAX);
    let rest = u32::try_from(seconds.rem_euclid(86_400)).unwrap_or_default();
    f64::from(whole_days) + f64::from(rest) / 86_400.0
}

fn whole(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

fn number(count: u64) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
