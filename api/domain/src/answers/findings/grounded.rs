//! Flights that were flown although the model was not to be flown by what had happened until then: every one of them,
//! by the reason that stood against it.
//!
//! The board is asked as it stood just before a flight. Between two entries that can clear something, reasons only
//! come up and none goes away; so one question for the last flight of such a stretch tells whether any flight of it was
//! flown against the board, and the others are asked about only then. That a check was never done before the first one
//! on record is no reason here: the record does not reach back that far. Loans are left out: who flew it may have been
//! lent it.

use std::collections::BTreeMap;

use super::{Audit, Family, FlownFlight, PlacedFinding};
use crate::{
    answers::{Moment, may_fly::may_fly_one},
    facts::{FactShape, Recorded},
    finding::Finding,
    fleet::{Fleet, FlightRow, Timeline},
    ids::{ComponentId, DefectId, LoanId, ModelId, RepairId},
    time::{Instant, day_of},
    words::{CheckResult, Opener, Severity},
};

/// Reasons that say nothing about a flight of the past.
const LEFT_OUT: [&str; 2] = ["check_never_done", "on_loan"];

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let carried = carried_ever(audit.fleet);
    for (tag, model) in &audit.models {
        let Some(file) = audit.fleet.model(*model) else { continue };
        let flown = super::flights::flown(file, audit.moment.as_of);
        if flown.is_empty() {
            continue;
        }
        let parts = carried.get(model).map_or(&[][..], Vec::as_slice);
        let clears = clearing_moments(audit.fleet, *model, parts);
        let mut found: BTreeMap<(String, String), (Finding, Vec<FlownFlight>)> = BTreeMap::new();
        for (row, reasons) in against_the_board(audit.fleet, *model, flown, &clears) {
            for reason in reasons {
                let key = (reason.code.clone(), reason.subject.clone());
                let (_, flights) = found.entry(key).or_insert_with(|| (reason, Vec::new()));
                let flight = FlownFlight { flight: row.id.to_string(), at: row.at };
                if flights.last() != Some(&flight) {
                    flights.push(flight);
                }
            }
        }
        list.extend(found.into_values().map(|(reason, flights)| told(tag, &reason, flights)));
    }
}

fn told(tag: &str, reason: &Finding, flights: Vec<FlownFlight>) -> PlacedFinding {
    let times = if flights.len() == 1 { "1 flight".to_owned() } else { format!("{} flights", flights.len()) };
    let when = match (flights.first(), flights.last()) {
        (Some(first), Some(last)) if flights.len() > 1 => format!("from {} to {}", first.at, last.at),
        (Some(first), _) => format!("at {}", first.at),
        (None, _) => String::new(),
    };
    let finding = Finding::new(
        "flown_while_grounded",
        Severity::Watch,
        &reason.subject,
        format!("{times} of {tag} {when} while it was not to be flown: {}", reason.text),
        "correct the entry that is wrong, or leave it as a lesson",
    );
    PlacedFinding { flights, ..PlacedFinding::new(Family::Flights, finding).in_model(tag) }
}

/// Flights against which something stood, with all of it.
fn against_the_board<'a>(
    fleet: &Fleet,
    model: ModelId,
    flown: &'a [FlightRow],
    clears: &[Instant],
) -> Vec<(&'a FlightRow, Vec<Finding>)> {
    let before = |row: &FlightRow| grounds_before(fleet, model, row.at);
    let stretch_of = |row: &FlightRow| clears.partition_point(|at| *at < row.at);
    let mut list = Vec::new();
    for stretch in flown.chunk_by(|a, b| stretch_of(a) == stretch_of(b)) {
        let Some((last, earlier)) = stretch.split_last() else { continue };
        let at_last = before(last);
        if at_last.is_empty() {
            continue;
        }
        let first = earlier.partition_point(|row| before(row).is_empty());
        list.extend(earlier.iter().skip(first).map(|row| (row, before(row))));
        list.push((last, at_last));
    }
    list
}

/// What grounded a model just before a moment.
fn grounds_before(fleet: &Fleet, model: ModelId, at: Instant) -> Vec<Finding> {
    let as_of = Instant::from_micros(at.micros().saturating_sub(1));
    let moment = Moment { as_of, on: day_of(at, fleet.club().zone), pilot: None };
    let reasons = may_fly_one(fleet, model, moment).map(|verdict| verdict.reasons).unwrap_or_default();
    let grounds =
        |reason: &Finding| reason.severity == Severity::Ground && !LEFT_OUT.contains(&reason.code.as_str());
    reasons.into_iter().filter(grounds).collect()
}

/// What each model ever carried, at any level.
fn carried_ever(fleet: &Fleet) -> BTreeMap<ModelId, Vec<ComponentId>> {
    let mut map: BTreeMap<ModelId, Vec<ComponentId>> = BTreeMap::new();
    for (part, _) in fleet.components() {
        for span in fleet.model_spans(part) {
            let parts = map.entry(span.model).or_default();
            if parts.last() != Some(&part) {
                parts.push(part);
            }
        }
    }
    map
}

/// Moments of all entries that can take a reason away from a model, in order.
fn clearing_moments(fleet: &Fleet, model: ModelId, parts: &[ComponentId]) -> Vec<Instant> {
    let mut moments = Moments { fleet, list: Vec::new() };
    moments.of_model(model, parts);
    for part in parts {
        moments.of_part(*part);
    }
    for (_, campaign) in fleet.campaigns() {
        moments.list.push(campaign.fact.occurred_at);
    }
    for (_, file) in fleet.campaign_files() {
        moments.all(&file.works);
        moments.all(&file.closures);
    }
    moments.list.sort_unstable();
    moments.list.dedup();
    moments.list
}

struct Moments<'a> {
    fleet: &'a Fleet,
    list: Vec<Instant>,
}

impl Moments<'_> {
    fn all<F: FactShape>(&mut self, facts: &Timeline<F>) {
        self.list.extend(facts.iter().filter_map(|recorded| recorded.fact.occurred_at()));
    }

    fn of_model(&mut self, model: ModelId, parts: &[ComponentId]) {
        let Some(file) = self.fleet.model(model) else { return };
        let is_mended = !file.repairs.is_empty()
            || parts
                .iter()
                .any(|part| self.fleet.component(*part).is_some_and(|file| !file.repairs.is_empty()));
        let is_spotless =
            !is_mended && file.inspections.iter().all(|check| check.fact.result == CheckResult::Pass);
        let of_the_day = |check: &Recorded<crate::facts::Inspection>| {
            self.fleet.programme_of(Some(model)).is_some_and(|programme| {
                programme.fact.groups.iter().any(|group| {
                    group.code == check.fact.group
                        && matches!(
                            group.opened_by,
                            Some(Opener::EachFlight | Opener::EachFlyingDay | Opener::EachRigging)
                        )
                })
            })
        };
        // A check of the day clears nothing where none ever failed and no repair asks for one: without these, a club
        // that logs each of them is asked about once a flight.
        let clears = file.inspections.iter().filter(|check| !(is_spotless && of_the_day(check)));
        let moments: Vec<Instant> = clears.map(|check| check.fact.occurred_at).collect();
        self.list.extend(moments);
        self.all(&file.weighings);
        self.all(&file.measurements);
        self.all(&file.events);
        self.of_work(&file.defects, &file.repairs, &file.loans);
    }

    fn of_part(&mut self, part: ComponentId) {
        let Some(file) = self.fleet.component(part) else { return };
        self.all(&file.installations);
        self.all(&file.removals);
        self.all(&file.conditions);
        self.all(&file.inspections);
        self.all(&file.named_in_checks);
        self.all(&file.measurements);
        self.all(&file.pairings);
        self.of_work(&file.defects, &file.repairs, &file.loans);
    }

    fn of_work(&mut self, defects: &[DefectId], repairs: &[RepairId], loans: &[LoanId]) {
        for file in defects.iter().filter_map(|id| self.fleet.defect(*id)) {
            self.list.extend(file.defect.iter().map(|defect| defect.fact.occurred_at));
            self.all(&file.deferrals);
            self.all(&file.closures);
            for repair in &file.repairs {
                self.of_repair(*repair);
            }
        }
        for repair in repairs {
            self.of_repair(*repair);
        }
        for file in loans.iter().filter_map(|id| self.fleet.loan(*id)) {
            self.all(&file.returns);
        }
    }

    fn of_repair(&mut self, repair: RepairId) {
        let Some(file) = self.fleet.repair(repair) else { return };
        self.list.extend(file.repair.iter().map(|repair| repair.fact.occurred_at));
        self.all(&file.steps);
        self.all(&file.releases);
    }
}
