//! Flights that were flown although the model was not to be flown by what had happened until then: every one of them,
//! by the reason that stood against it.
//!
//! The board is asked as it stood just before a flight. Between two entries that can clear something, reasons only
//! come up and none goes away; so where the same stands against the first and the last flight of a stretch, it stands
//! against all between them, and what comes up is sought by halves. That a check was never done before the first one on
//! record is no reason here: the record does not reach back that far. Loans are left out: who flew it may have been lent
//! it.

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
    for (tag, model) in &audit.models {
        let Some(file) = audit.fleet.model(*model) else { continue };
        let flown: Vec<FlightRow> = file.flights.until(audit.moment.as_of).collect();
        if flown.is_empty() {
            continue;
        }
        let mut parts: Vec<ComponentId> = file.carried.iter().map(|part| part.component).collect();
        parts.dedup();
        let clears = clearing_moments(audit.fleet, *model, &parts);
        let mut found: BTreeMap<Key, (Finding, Vec<&[FlightRow]>)> = BTreeMap::new();
        for (run, reasons) in against_the_board(audit.fleet, *model, &flown, &clears) {
            for (key, reason) in reasons {
                found.entry(key).or_insert_with(|| (reason, Vec::new())).1.push(run);
            }
        }
        list.extend(found.into_values().map(|(reason, runs)| told(tag, &reason, &runs)));
    }
}

fn told(tag: &str, reason: &Finding, runs: &[&[FlightRow]]) -> PlacedFinding {
    let flight_count = runs.iter().map(|run| run.len()).sum();
    let times = super::flights::times(flight_count);
    let (first, last) = (runs.first().and_then(|run| run.first()), runs.last().and_then(|run| run.last()));
    let when = match (first, last) {
        (Some(first), Some(last)) if flight_count > 1 => format!("from {} to {}", first.at, last.at),
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
    let listed = runs.iter().copied().flatten().take(super::MOST_FLIGHTS);
    let flights = listed.map(|row| FlownFlight { flight: row.id.to_string(), at: row.at }).collect();
    PlacedFinding { flights, flight_count, ..PlacedFinding::new(Family::Flights, finding).in_model(tag) }
}

/// Code and subject of what grounds.
type Key = (String, String);

/// What grounds at some moment.
type Grounds = BTreeMap<Key, Finding>;

/// Runs of flights against which the same stood, in order, with all of it.
fn against_the_board<'a>(
    fleet: &Fleet,
    model: ModelId,
    flown: &'a [FlightRow],
    clears: &[Instant],
) -> Vec<(&'a [FlightRow], Grounds)> {
    let before = |row: &FlightRow| grounds_before(fleet, model, row.at);
    let stretch_of = |row: &FlightRow| clears.partition_point(|at| *at < row.at);
    let mut list = Vec::new();
    for stretch in flown.chunk_by(|a, b| stretch_of(a) == stretch_of(b)) {
        let (Some(first), Some(last)) = (stretch.first(), stretch.last()) else { continue };
        let at_last = before(last);
        if at_last.is_empty() {
            continue;
        }
        let at_first = if stretch.len() == 1 { at_last.clone() } else { before(first) };
        let mut begins = vec![(0, at_first.clone())];
        by_halves(stretch, (0, &at_first), (stretch.len() - 1, &at_last), &before, &mut begins);
        let ends = begins.iter().skip(1).map(|(from, _)| *from).chain([stretch.len()]).collect::<Vec<_>>();
        for ((from, grounds), to) in begins.into_iter().zip(ends) {
            list.extend(stretch.get(from..to).filter(|_| !grounds.is_empty()).map(|run| (run, grounds)));
        }
    }
    list
}

/// Adds where something else begins to stand against the flights of a stretch, after one of which it is known what stands
/// against it, up to another.
fn by_halves(
    stretch: &[FlightRow],
    (low, at_low): (usize, &Grounds),
    (high, at_high): (usize, &Grounds),
    before: &impl Fn(&FlightRow) -> Grounds,
    begins: &mut Vec<(usize, Grounds)>,
) {
    if at_low.keys().eq(at_high.keys()) {
        return;
    }
    let middle = low.midpoint(high);
    match stretch.get(middle).filter(|_| middle > low) {
        Some(row) => {
            let at_middle = before(row);
            by_halves(stretch, (low, at_low), (middle, &at_middle), before, begins);
            by_halves(stretch, (middle, &at_middle), (high, at_high), before, begins);
        }
        None => begins.push((high, at_high.clone())),
    }
}

/// What grounded a model just before a moment.
fn grounds_before(fleet: &Fleet, model: ModelId, at: Instant) -> Grounds {
    let as_of = Instant::from_micros(at.micros().saturating_sub(1));
    let moment = Moment { as_of, on: day_of(at, fleet.club().zone), pilot: None };
    let reasons = may_fly_one(fleet, model, moment).map(|verdict| verdict.reasons).unwrap_or_default();
    let mut grounds = Grounds::new();
    for reason in reasons {
        if reason.severity == Severity::Ground && !LEFT_OUT.contains(&reason.code.as_str()) {
            grounds.entry((reason.code.clone(), reason.subject.clone())).or_insert(reason);
        }
    }
    grounds
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
