//! How much a part was used in positions of each kind, through every level of nesting. How its life ended is in
//! `ending`.

use crate::answers::usage::just_after;
use crate::facts::{Component, Inside};
use crate::fleet::{ComponentFile, Fleet, Usage};
use crate::ids::{ComponentId, ModelId};
use crate::time::Instant;
use crate::words::Counter;

/// One part with all the stretches it spent in models, each with the kind of position.
pub(super) struct Exposure<'a> {
    /// The part's file.
    pub file: &'a ComponentFile,
    /// The part's own data.
    pub data: &'a Component,
    /// What had happened by then counts.
    pub as_of: Instant,
    fleet: &'a Fleet,
    counter: Counter,
    stretches: Vec<Stretch<'a>>,
}

struct Stretch<'a> {
    model: ModelId,
    kind: &'a str,
    from: Instant,
    to: Option<Instant>,
}

impl<'a> Exposure<'a> {
    /// `None` for a part without data of its own.
    pub(super) fn of(
        fleet: &'a Fleet,
        id: ComponentId,
        file: &'a ComponentFile,
        counter: Counter,
        as_of: Instant,
    ) -> Option<Self> {
        let data = &file.component.as_ref()?.fact;
        debug_assert_eq!(data.id, id, "a file holds its own part");
        let mut stretches = Vec::new();
        for span in file.spans.iter().filter(|span| span.from <= as_of) {
            let Some(position) = fleet.position(span.inside, &span.position) else { continue };
            let outer = match span.inside {
                Inside::Model(model) => vec![(model, span.from, span.to)],
                Inside::Component(parent) => fleet
                    .model_spans(parent)
                    .into_iter()
                    .map(|outer| (outer.model, outer.from.max(span.from), earlier(outer.to, span.to)))
                    .filter(|(_, from, to)| to.is_none_or(|to| *from < to))
                    .collect(),
            };
            let kind = position.kind.as_str();
            stretches.extend(outer.into_iter().map(|(model, from, to)| Stretch { model, kind, from, to }));
        }
        stretches.sort_by_key(|stretch| stretch.from);
        Some(Self { file, data, as_of, fleet, counter, stretches })
    }

    /// The kinds of position it sat in.
    pub(super) fn kinds(&self) -> impl Iterator<Item = &'a str> {
        self.stretches.iter().map(|stretch| stretch.kind)
    }

    /// Whether it ever sat in a position of a kind.
    pub(super) fn was_at(&self, kind: &str) -> bool {
        self.kinds().any(|one| one == kind)
    }

    /// Use before a moment in positions of a kind, on record.
    pub(super) fn before(&self, kind: &str, at: Instant) -> f64 {
        self.count(at, |stretch| stretch.kind == kind)
    }

    /// Use in positions of a kind until the moment asked about, on record.
    pub(super) fn total(&self, kind: &str) -> f64 {
        self.before(kind, just_after(self.as_of))
    }

    /// Use before a moment in positions of any other kind, on record.
    pub(super) fn elsewhere_before(&self, kind: &str, at: Instant) -> f64 {
        self.count(at, |stretch| stretch.kind != kind)
    }

    /// Use before a moment anywhere, on record.
    pub(super) fn anywhere_before(&self, at: Instant) -> f64 {
        self.count(at, |_| true)
    }

    fn count(&self, at: Instant, counts: impl Fn(&Stretch<'_>) -> bool) -> f64 {
        let end = at.min(just_after(self.as_of));
        if self.counter == Counter::Charges {
            let charges = self.file.charges.iter().map(|charge| charge.fact.occurred_at);
            let here = charges.filter(|at| *at < end && self.stretch_of(*at).is_some_and(&counts));
            return f64::from(u32::try_from(here.count()).unwrap_or(u32::MAX));
        }
        let mut sum = Usage::default();
        for stretch in self.stretches.iter().filter(|stretch| counts(stretch) && stretch.from < end) {
            let to = stretch.to.map_or(end, |to| to.min(end));
            sum += self.fleet.model_usage(stretch.model, stretch.from, to);
        }
        amount(sum, self.counter)
    }

    /// The stretch that a charge counts for: the one at that moment, or the last before, or the first.
    fn stretch_of(&self, at: Instant) -> Option<&Stretch<'a>> {
        self.stretches.iter().rev().find(|stretch| stretch.from <= at).or(self.stretches.first())
    }

    /// Stated life before the record; it counts for the kind of position in which the part came on record.
    pub(super) fn opening(&self, kind: &str) -> f64 {
        let is_first = self.stretches.first().is_some_and(|stretch| stretch.kind == kind);
        let Some(opening) = self.data.opening.filter(|_| is_first) else { return 0.0 };
        match self.counter {
            Counter::Flights => f64::from(opening.flights),
            Counter::Launches => f64::from(opening.launches),
            Counter::AirtimeH => opening.airtime_h.max(0.0),
            Counter::MotorS => f64::from(opening.motor_s),
            Counter::Riggings | Counter::Matings => f64::from(opening.riggings),
            Counter::Charges => 0.0,
        }
    }

    /// Whether its earlier life is a guess.
    pub(super) fn is_opening_a_guess(&self) -> bool {
        self.data.opening.is_some_and(|opening| opening.is_estimate)
    }

    /// Whether it was in place when the record began, with nothing said of its life until then.
    pub(super) fn is_from_before_the_record(&self, kind: &str) -> bool {
        self.data.opening.is_none()
            && self.file.spans.first().is_some_and(|span| {
                span.is_start_of_record
                    && self
                        .fleet
                        .position(span.inside, &span.position)
                        .is_some_and(|position| position.kind.as_str() == kind)
            })
    }

    /// The model and kind of position in which it sat at a moment, or last before it.
    pub(super) fn seat_at(&self, at: Instant) -> Option<(ModelId, &'a str)> {
        self.stretches
            .iter()
            .rev()
            .find(|stretch| stretch.from <= at)
            .map(|stretch| (stretch.model, stretch.kind))
    }

    /// The kind of position a span of its own is in.
    pub(super) fn kind_of(&self, span: &crate::fleet::Span) -> Option<&'a str> {
        self.fleet.position(span.inside, &span.position).map(|position| position.kind.as_str())
    }
}

fn earlier(a: Option<Instant>, b: Option<Instant>) -> Option<Instant> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, None) | (None, one) => one,
    }
}

fn amount(usage: Usage, counter: Counter) -> f64 {
    let whole = |count: u64| f64::from(u32::try_from(count).unwrap_or(u32::MAX));
    match counter {
        Counter::Flights => whole(usage.flights),
        Counter::Launches => whole(usage.launches),
        Counter::AirtimeH => whole(usage.airtime_s) / 3600.0,
        Counter::MotorS => whole(usage.motor_s),
        Counter::Riggings | Counter::Matings => whole(usage.riggings),
        Counter::Charges => 0.0,
    }
}
