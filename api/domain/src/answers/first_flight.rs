//! The first flight after a repair: without full-power zoom and dive, until it was flown and its after-flight check
//! passed.

use super::{RestrictionSaid, model_now::RepairHere};
use crate::{
    facts::Repair,
    finding::Finding,
    fleet::{Fitted, Fleet},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::{Opener, RestrictionKind, Severity},
    worksheets::worksheet,
};

/// A released repair whose first flight is still to come.
#[derive(Debug)]
pub(crate) struct FirstFlight {
    repair: String,
    released_at: Instant,
}

impl FirstFlight {
    /// What it says against flying freely.
    pub(crate) fn finding(&self) -> Finding {
        Finding::new(
            "first_flight_after_repair",
            Severity::Restrict,
            &self.repair,
            format!(
                "{} was released at {}: no full-power zoom and no dive on the first flight after it",
                self.repair, self.released_at
            ),
            "fly it once like that, and pass the after-flight check of that flight",
        )
    }

    /// The same as a restriction.
    pub(crate) fn restriction(&self) -> RestrictionSaid {
        RestrictionSaid {
            kind: RestrictionKind::LightLaunchOnly,
            value: None,
            until_on: None,
            source: self.repair.clone(),
        }
    }
}

/// Released repairs on the model or on a part that it carries, of a kind that restricts the first flight, with no
/// flight since whose after-flight check was passed.
///
/// `fitted` is what it carries at the moment, `here` are the repairs on it and on that.
pub(crate) fn first_flights(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    here: &[RepairHere<'_>],
    as_of: Instant,
) -> Vec<FirstFlight> {
    let mut list = Vec::new();
    for (file, repair) in here {
        let released = file.releases.until(as_of).first().map(|release| release.fact.occurred_at);
        let Some(released_at) = released.filter(|_| worksheet(repair.kind).restricts_first_flight) else {
            continue;
        };
        if !is_flown(fleet, model, fitted, repair, released_at, as_of) {
            list.push(FirstFlight { repair: repair.name(), released_at });
        }
    }
    list.sort_by(|a, b| (a.released_at, &a.repair).cmp(&(b.released_at, &b.repair)));
    list
}

/// Whether everything repaired that the model carries was flown since, in whatever model it sat then.
fn is_flown(
    fleet: &Fleet,
    model: ModelId,
    carried: &[Fitted<'_>],
    repair: &Repair,
    since: Instant,
    as_of: Instant,
) -> bool {
    if repair.components.is_empty() {
        return has_good_flight(fleet, model, since, as_of);
    }
    let is_here = |part: &ComponentId| carried.iter().any(|fitted| fitted.id == *part);
    repair.components.iter().filter(|part| is_here(part)).all(|part| {
        fleet.model_spans(*part).into_iter().any(|span| {
            let end = span.to.map_or(as_of, |to| as_of.min(Instant::from_micros(to.micros() - 1)));
            has_good_flight(fleet, span.model, span.from.max(since), end)
        })
    })
}

/// Whether a model was flown from one moment to another, both included, with its after-flight check passed: as the
/// flight itself says, or by a check entered later.
fn has_good_flight(fleet: &Fleet, model: ModelId, from: Instant, to: Instant) -> bool {
    let Some(file) = fleet.model(model) else { return false };
    let mut rows = file.flights.since(from).take_while(|row| row.at <= to);
    let programme = fleet.programme_of(Some(model));
    let is_after_flight = |code: &str| {
        let groups = programme.map_or(&[][..], |programme| programme.fact.groups.as_slice());
        groups.iter().any(|group| group.opened_by == Some(Opener::EachFlight) && group.code.as_str() == code)
    };
    let last_pass = file.inspections.iter().rev().find(|done| {
        is_after_flight(done.fact.group.as_str()) && fleet.is_done(&done.fact) && done.fact.occurred_at <= to
    });
    rows.any(|row| row.is_post_flight_logged || last_pass.is_some_and(|done| done.fact.occurred_at >= row.at))
}
