//! How ready one model is: its checks, limits, gear and whatever the board says against it on the last day.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::{
        Moment,
        due::due_of_model,
        may_fly::{ModelVerdict, may_fly_one},
        seats::empty_seats,
    },
    ahead::{Ahead, FlightsAhead, Habit, flights_ahead},
    checks::{CheckAhead, check_ahead, check_findings},
    class::{ClassWord, class_findings},
    gear::{AltimeterAhead, PackAhead, altimeters_ahead, contest_check, pack_findings, packs_ahead},
    limits::{LimitAhead, limits_ahead},
    people::{RestsOn, loan_findings},
    told::{Readiness, ReadinessFinding, ReadyTask, in_order, readiness_of},
};
use crate::{
    finding::Finding,
    fleet::Fleet,
    ids::{ComponentId, ModelId},
    words::{Severity, State},
};

/// How ready one model is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelReadiness {
    /// Tag of the model.
    pub model: String,
    /// How ready it is.
    pub readiness: Readiness,
    /// What it may do today.
    pub state_today: State,
    /// What it may do on the last day if nothing is done and nothing is flown.
    pub state_on_last_day: State,
    /// Flights until the last round.
    pub flights: FlightsAhead,
    /// Its checks, those that fall due before the last round first.
    pub checks: Vec<CheckAhead>,
    /// Limits of campaigns and defects that end before the last round.
    pub limits: Vec<LimitAhead>,
    /// Packs.
    pub packs: Vec<PackAhead>,
    /// Altimeters and run timers.
    pub altimeters: Vec<AltimeterAhead>,
    /// Whether it keeps the limits of the class as it is fitted; null without a class.
    pub class: Option<ClassWord>,
    /// What stands against it, the worst first.
    pub findings: Vec<ReadinessFinding>,
}

/// How ready a model is. `None` if the Fleet does not know it.
///
/// `along` are loose parts that go with it.
#[must_use]
pub fn model_readiness(
    fleet: &Fleet,
    model: ModelId,
    ahead: &Ahead<'_>,
    along: &[ComponentId],
    moment: Moment,
) -> Option<ModelReadiness> {
    let tag = fleet.model_data(model)?.tag.to_string();
    let today = may_fly_one(fleet, model, moment)?;
    let last = Moment { on: ahead.last_on.max(moment.on), ..moment };
    let on_last_day = may_fly_one(fleet, model, last)?;
    let fitted = fleet.fitted(model, moment.as_of);
    let habit = Habit::of(fleet, model, ahead, moment.as_of);
    let mut findings = Vec::new();

    let mut checks = Vec::new();
    let programme = fleet.programme_of(Some(model));
    for item in due_of_model(fleet, model, moment) {
        let group = programme
            .and_then(|known| known.fact.groups.iter().find(|group| group.code.as_str() == item.group));
        let check = check_ahead(&item, group, ahead, &habit, moment.on);
        findings.extend(check_findings(fleet, &item, &check, ahead, moment.on));
        checks.push(check);
    }
    checks.sort_by_key(|check| !check.falls_due);
    findings.extend(contest_check(fleet, model, ahead, moment));

    let (limits, of_limits) = limits_ahead(fleet, model, &fitted, ahead, moment);
    findings.extend(of_limits);
    let packs = packs_ahead(fleet, model, &fitted, along, ahead, moment);
    findings.extend(pack_findings(&tag, &packs, ahead));
    let (altimeters, of_altimeters) = altimeters_ahead(fleet, &tag, &fitted, ahead);
    findings.extend(of_altimeters);
    let (class, of_class) = class_findings(fleet, model, ahead, moment);
    findings.extend(of_class);

    let mut rests_on = vec![RestsOn::Model(model)];
    rests_on.extend(fitted.iter().map(|fitted| RestsOn::Part(fitted.id)));
    rests_on.extend(along.iter().map(|part| RestsOn::Part(*part)));
    findings.extend(loan_findings(fleet, model, &rests_on, ahead, moment));
    findings.extend(of_the_board(fleet, model, &tag, &on_last_day, ahead, moment));
    in_order(&mut findings);
    Some(ModelReadiness {
        model: tag,
        readiness: readiness_of(&findings),
        state_today: today.state,
        state_on_last_day: on_last_day.state,
        flights: flights_ahead(fleet, model, ahead, &habit, moment.as_of),
        checks,
        limits,
        packs,
        altimeters,
        class,
        findings,
    })
}

/// What the board says on the last day and no other part of readiness says better.
fn of_the_board(
    fleet: &Fleet,
    model: ModelId,
    tag: &str,
    verdict: &ModelVerdict,
    ahead: &Ahead<'_>,
    moment: Moment,
) -> Vec<ReadinessFinding> {
    let mut list = Vec::new();
    for reason in &verdict.reasons {
        let Some(task) = task_of(reason) else { continue };
        let mut found = ReadinessFinding::of(task, tag, reason.clone());
        if reason.code == "check_item_failed" && ahead.is_contest && keeps_from_contests(fleet, model, reason)
        {
            found.severity = Severity::Ground;
        }
        if found.severity != Severity::Watch {
            found.latest_on = Some(ahead.ready_on);
        }
        if reason.code == "position_empty" {
            let seats = empty_seats(fleet, model, moment);
            let last = seats.into_iter().find(|seat| seat.path == reason.subject).and_then(|seat| seat.last);
            found.parts = last.map(|part| fleet.component_tag(part)).into_iter().collect();
        }
        list.push(found);
    }
    list
}

/// Whether the item that was failed keeps a model from contests, by the words of its programme.
fn keeps_from_contests(fleet: &Fleet, model: ModelId, reason: &Finding) -> bool {
    let programme = fleet.programme_of(Some(model)).map(|programme| &programme.fact);
    let item =
        programme.and_then(|known| known.items.iter().find(|item| item.code.as_str() == reason.subject));
    item.is_some_and(|item| item.if_failed.as_str().contains("contest"))
}

/// The work that clears a reason of the board; nothing for what readiness says by itself.
fn task_of(reason: &Finding) -> Option<ReadyTask> {
    match reason.code.as_str() {
        "check_failed" | "check_item_failed" => Some(ReadyTask::DoCheck),
        "position_empty" => Some(ReadyTask::FitPart),
        "part_not_serviceable" | "reading_beyond_limit" => Some(ReadyTask::SwapPart),
        "pairing_not_accepted" => Some(ReadyTask::AcceptPairing),
        "cg_outside_range" => Some(ReadyTask::Weigh),
        "laid_up" | "model_gone" => Some(ReadyTask::BringBack),
        "campaign_limit_reading" | "campaign_work_failed" => Some(ReadyTask::SwapPart),
        "never_weighed" | "unweighed_moves" if reason.severity == Severity::Watch => Some(ReadyTask::KnowOf),
        "pairing_accepted" | "first_flight_after_repair" => Some(ReadyTask::KnowOf),
        // Checks, what opened them, defects, campaigns and loans have said it already, looking further ahead.
        code if code.starts_with("check_") || code.ends_with("_unchecked") || code.starts_with("repair_") => {
            None
        }
        "reinspection_after_repair"
        | "defect_open"
        | "campaign_open"
        | "campaign_overdue"
        | "campaign_limit" => None,
        "borrowed_part" | "borrowed_part_late" | "on_loan" => None,
        _ if reason.severity == Severity::Watch => Some(ReadyTask::KnowOf),
        _ => Some(ReadyTask::ClearDefect),
    }
}
