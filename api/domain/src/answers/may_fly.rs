//! Which models may fly on a day, and why not: all reasons, the tightest restrictions, what clears each.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    balance::balance,
    campaigns::{CampaignWord, campaign_word},
    defects::{OpenDefect, open_defects},
    due::{DueItem, due_of_model},
    readings::beyond_limits,
    whereabouts::running_loan,
};
use crate::{
    facts::Inside,
    finding::Finding,
    fleet::{Fitted, Fleet},
    ids::{ComponentId, ModelId},
    words::{CheckResult, CheckState, ComponentState, RestrictionKind, Severity, State},
};

/// A calendar check that falls due within so many days is said beforehand.
const SAY_BEFORE_DAYS: i64 = 7;

/// All models on a day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FleetBoard {
    /// The club day asked about.
    pub on: NaiveDate,
    /// One verdict a model, in order of tags.
    pub models: Vec<ModelVerdict>,
    /// What this answer is and is not.
    pub caution: String,
}

/// May this model fly, and why not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelVerdict {
    /// Tag of the model.
    pub model: String,
    /// Tag of its owner; null for a club model.
    pub owner: Option<String>,
    /// Its state on that day.
    pub state: State,
    /// Whether it may fly, inside its restrictions.
    pub may_fly: bool,
    /// Flights allowed where a campaign or a defect counts them: the smallest of all counts, checks included.
    pub max_flights: Option<i64>,
    /// Flights until anything at all that counts flights stops it.
    pub flights_left: Option<i64>,
    /// Restrictions that hold.
    pub restrictions: Vec<RestrictionSaid>,
    /// Everything that stands against it or is worth watching, the worst first.
    pub reasons: Vec<Finding>,
    /// The check that falls due next.
    pub next_due: Option<NextDue>,
}

/// A restriction and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RestrictionSaid {
    /// What is restricted.
    pub kind: RestrictionKind,
    /// The number that goes with it.
    pub value: Option<f64>,
    /// The day that goes with it.
    pub until_on: Option<NaiveDate>,
    /// Tag of the campaign, defect or check it comes from.
    pub source: String,
}

/// The check that falls due next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NextDue {
    /// Code of the group.
    pub group: String,
    /// The day by calendar or forecast.
    pub on: NaiveDate,
    /// Flights left until its due point.
    pub count_left: Option<i64>,
}

/// What stands under every verdict.
const CAUTION: &str = "This is a club record. It does not make a model legal or safe to fly. The pilot decides and is \
                       responsible, every flight.";

/// All models on a day.
#[must_use]
pub fn may_fly(fleet: &Fleet, moment: Moment) -> FleetBoard {
    let mut models: Vec<(String, ModelId)> = fleet
        .models()
        .filter(|(_, file)| file.model.is_some())
        .map(|(id, _)| (fleet.model_tag(id), id))
        .collect();
    models.sort();
    FleetBoard {
        on: moment.on,
        models: models.into_iter().filter_map(|(_, model)| may_fly_one(fleet, model, moment)).collect(),
        caution: CAUTION.to_owned(),
    }
}

/// One model on a day. `None` if the Fleet does not know it.
#[must_use]
pub fn may_fly_one(fleet: &Fleet, model: ModelId, moment: Moment) -> Option<ModelVerdict> {
    let data = fleet.model_data(model)?;
    let fitted = fleet.fitted(model, moment.as_of);
    let due = due_of_model(fleet, model, moment);
    let defects = open_defects(fleet, model, &fitted, moment);
    let campaigns = campaign_word(fleet, model, &fitted, moment);

    let mut reasons = Vec::new();
    let lent = lent_reason(fleet, model, moment, &mut reasons);
    let missing = empty_positions(fleet, model, moment);
    let is_incomplete = !missing.is_empty();
    reasons.extend(missing);
    reasons.extend(part_reasons(fleet, &fitted, moment));
    reasons.extend(check_reasons(fleet, model, &due, moment));
    reasons.extend(defects.iter().map(OpenDefect::finding));
    reasons.extend(reading_reasons(fleet, model, &fitted, moment));
    if let Some(balanced) = balance(fleet, model, moment.as_of) {
        reasons.extend(balanced.findings);
    }
    let restrictions = restrictions(&defects, &campaigns);
    let (max_flights, flights_left) = flight_counts(&due, &defects, &campaigns);
    reasons.extend(campaigns.findings);
    reasons.sort_by_key(|reason| std::cmp::Reverse(reason.severity));

    let worst = reasons.iter().map(|reason| reason.severity).max();
    let state = if lent {
        State::OnLoan
    } else if is_incomplete {
        State::Incomplete
    } else if worst == Some(Severity::Ground) {
        State::Grounded
    } else if worst == Some(Severity::Restrict) && restricts(&reasons, &defects) {
        State::Restricted
    } else {
        State::Fit
    };
    let may_fly = matches!(state, State::Fit | State::Restricted);
    Some(ModelVerdict {
        model: data.tag.to_string(),
        owner: data.owner.map(|owner| fleet.member_tag(owner)),
        state,
        may_fly,
        max_flights: max_flights.filter(|_| may_fly),
        flights_left,
        restrictions,
        reasons,
        next_due: next_due(&due),
    })
}

/// Limits on a count of flights alone leave a model fit; every other restricting reason restricts it.
fn restricts(reasons: &[Finding], defects: &[OpenDefect<'_>]) -> bool {
    let counted_only: Vec<String> = defects
        .iter()
        .filter(|open| {
            open.restriction().is_some_and(|restriction| restriction.kind == RestrictionKind::MaxFlights)
        })
        .map(OpenDefect::name)
        .collect();
    reasons
        .iter()
        .any(|reason| reason.severity == Severity::Restrict && !counted_only.contains(&reason.subject))
}

fn lent_reason(fleet: &Fleet, model: ModelId, moment: Moment, reasons: &mut Vec<Finding>) -> bool {
    let loans = fleet.model(model).map_or(&[][..], |file| file.loans.as_slice());
    let Some(loan) = running_loan(fleet, loans, moment).and_then(|file| file.loan.as_ref()) else {
        return false;
    };
    let (tag, to) = (fleet.model_tag(model), fleet.member_tag(loan.fact.lent_to));
    let to_asker = moment.pilot == Some(loan.fact.lent_to);
    let late = moment.on > loan.fact.due_back_on;
    let severity = if to_asker { Severity::Watch } else { Severity::Ground };
    reasons.push(Finding::new(
        "on_loan",
        severity,
        &tag,
        format!(
            "lent to {to}, due back {}{}",
            loan.fact.due_back_on,
            if late { ", which is past" } else { "" }
        ),
        format!("{to} returns it"),
    ));
    !to_asker
}

/// Required positions that hold nothing, in the model and in every panel it carries.
fn empty_positions(fleet: &Fleet, model: ModelId, moment: Moment) -> Vec<Finding> {
    let Some(data) = fleet.model_data(model) else { return Vec::new() };
    let own = std::iter::once((Inside::Model(model), data.design, None, String::new()));
    let panels = fleet.fitted(model, moment.as_of).into_iter().filter_map(|fitted| {
        let panel = fleet.component_data(fitted.id)?;
        Some((
            Inside::Component(fitted.id),
            panel.design?,
            Some(panel.seat.clone()?),
            format!("{}/", fitted.path),
        ))
    });
    let mut list = Vec::new();
    for (inside, design, seat, prefix) in own.chain(panels) {
        for position in fleet.positions(design, seat.as_ref()).filter(|position| position.is_required) {
            if fleet.occupant_at(inside, &position.path, moment.as_of).is_none() {
                let path = format!("{prefix}{}", position.path);
                let last = last_occupant(fleet, inside, &position.path, moment);
                list.push(Finding::new(
                    "position_empty",
                    Severity::Ground,
                    &path,
                    match &last {
                        Some((_, story)) => format!("position {path} ({}) is empty: {story}", position.name),
                        None => format!("position {path} ({}) is empty", position.name),
                    },
                    match &last {
                        Some((tag, _)) => format!("fit {tag} or another {} in {path}", position.accepts),
                        None => format!("fit a {} in {path}", position.accepts),
                    },
                ));
            }
        }
    }
    list
}

/// What sat in an empty position last, and where that is now.
fn last_occupant(
    fleet: &Fleet,
    inside: Inside,
    path: &crate::text::Tag,
    moment: Moment,
) -> Option<(String, String)> {
    let before = fleet
        .occupants(inside)
        .iter()
        .filter(|occupant| occupant.span.position == *path && occupant.span.from <= moment.as_of)
        .max_by_key(|occupant| occupant.span.from)?;
    let id = before.component;
    let tag = fleet.component_tag(id);
    let file = fleet.component(id)?;
    let loan = running_loan(fleet, &file.loans, moment).and_then(|loan| loan.loan.as_ref());
    let now_in = match fleet.place_at(id, moment.as_of) {
        crate::fleet::Place::InModel(model, _) => Some(fleet.model_tag(model)),
        _ => None,
    };
    let story = match (loan, now_in) {
        (Some(loan), Some(model)) => format!("{tag} is lent to {model}, due back {}", loan.fact.due_back_on),
        (Some(loan), None) => {
            format!(
                "{tag} is lent to {}, due back {}",
                fleet.member_tag(loan.fact.lent_to),
                loan.fact.due_back_on
            )
        }
        (None, Some(model)) => format!("{tag} sits in {model}"),
        (None, None) => {
            let state = file.state_at(moment.as_of).as_str().replace('_', " ");
            let place = file.location_at(moment.as_of).map(|place| format!(", {place}")).unwrap_or_default();
            format!("{tag} is {state}{place}")
        }
    };
    Some((tag, story))
}

/// Fitted parts that are not serviceable, and fitted parts that are borrowed.
fn part_reasons(fleet: &Fleet, fitted: &[Fitted<'_>], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for fitted in fitted {
        let Some(file) = fleet.component(fitted.id) else { continue };
        let tag = fleet.component_tag(fitted.id);
        let state = file.state_at(moment.as_of);
        if state != ComponentState::Serviceable {
            list.push(Finding::new(
                "part_not_serviceable",
                Severity::Ground,
                &tag,
                format!("{tag} in {} is {}", fitted.path, state.as_str().replace('_', " ")),
                format!("take {tag} out, or have a person put it back into service with a reason"),
            ));
        }
        if let Some(loan) = running_loan(fleet, &file.loans, moment).and_then(|loan| loan.loan.as_ref()) {
            let late = moment.on > loan.fact.due_back_on;
            list.push(Finding::new(
                if late { "borrowed_part_late" } else { "borrowed_part" },
                if late { Severity::Restrict } else { Severity::Watch },
                &tag,
                format!("{tag} in {} is borrowed, due back {}", fitted.path, loan.fact.due_back_on),
                format!("return {tag}, or agree a later day"),
            ));
        }
    }
    list
}

/// What the checks say: beyond tolerance, never done, failed or opened grounds; due and soon due is watched.
fn check_reasons(fleet: &Fleet, model: ModelId, due: &[DueItem], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for item in due {
        if let Some(at) = failed_last(fleet, model, item, moment) {
            list.push(Finding::new(
                "check_failed",
                Severity::Ground,
                &item.group,
                format!("{} ({}) was failed at {at}", item.group, item.name),
                format!("mend what failed, then pass {}", item.group),
            ));
        }
        for opened in &item.opened_by {
            list.push(opened_reason(fleet, item, opened, moment));
        }
        if !item.opened_by.is_empty() {
            continue;
        }
        let clear_by = format!("do {} ({})", item.group, item.name);
        match item.state {
            CheckState::Overdue => list.push(Finding::new(
                "check_overdue",
                Severity::Ground,
                &item.group,
                format!("{} {}", item.group, how_it_stands(item)),
                clear_by,
            )),
            CheckState::NeverDone => list.push(Finding::new(
                "check_never_done",
                Severity::Ground,
                &item.group,
                format!("{} ({}) was never done: unknown is not good", item.group, item.name),
                clear_by,
            )),
            CheckState::Due => list.push(Finding::new(
                "check_due",
                Severity::Watch,
                &item.group,
                format!("{} {}, inside its tolerance", item.group, how_it_stands(item)),
                clear_by,
            )),
            CheckState::Clear => {
                if let Some(days_left) = item.days_left.filter(|days| *days <= SAY_BEFORE_DAYS) {
                    let on = item.due_on.map(|on| on.to_string()).unwrap_or_default();
                    list.push(Finding::new(
                        "check_soon",
                        Severity::Watch,
                        &item.group,
                        format!("{} falls due on {on}, in {days_left} days", item.group),
                        clear_by,
                    ));
                }
            }
        }
    }
    list
}

fn opened_reason(fleet: &Fleet, item: &DueItem, opened: &super::due::OpenedBy, moment: Moment) -> Finding {
    let at = moment.begins_at(fleet);
    let curing = opened.not_before.filter(|until| at < *until);
    match curing {
        Some(until) => Finding::new(
            "repair_curing",
            Severity::Ground,
            &opened.subject,
            format!("{}; it cures until {until}", opened.text),
            format!("wait until {until}, then pass {} and release {}", item.group, opened.subject),
        ),
        None if opened.code == "repair_unreleased" => Finding::new(
            "repair_unreleased",
            Severity::Ground,
            &opened.subject,
            format!("{}; not released", opened.text),
            format!("pass {} ({}) and release {}", item.group, item.name, opened.subject),
        ),
        None => Finding::new(
            &opened.code,
            Severity::Ground,
            &opened.subject,
            format!("{}; {} not passed since", opened.text, item.group),
            format!("pass {} ({})", item.group, item.name),
        ),
    }
}

/// When the newest check of the group was failed, where no later one was passed.
fn failed_last(
    fleet: &Fleet,
    model: ModelId,
    item: &DueItem,
    moment: Moment,
) -> Option<crate::time::Instant> {
    let inspections = fleet.model(model)?.inspections.until(moment.as_of);
    let newest = inspections.iter().rev().find(|inspection| inspection.fact.group.as_str() == item.group)?;
    (newest.fact.result == CheckResult::Fail).then_some(newest.fact.occurred_at)
}

fn how_it_stands(item: &DueItem) -> String {
    let mut parts = Vec::new();
    let counter = item.counter.map_or_else(String::new, |counter| counter.as_str().replace('_', " "));
    match (item.count_over, item.count_left, item.tolerance_count) {
        (Some(over), _, Some(tolerance)) if over > 0 => {
            parts.push(format!("over by {over} {counter} (tolerance {tolerance})"));
        }
        (_, Some(left), _) => parts.push(format!("{left} {counter} left")),
        _ => {}
    }
    match (item.days_over, item.days_left, item.due_on, item.tolerance_days) {
        (Some(over), _, Some(on), Some(tolerance)) if over > 0 => {
            parts.push(format!("late by {over} days since {on} (tolerance {tolerance})"));
        }
        (_, Some(left), Some(on), _) => parts.push(format!("{left} days left to {on}")),
        _ => {}
    }
    parts.join(", ")
}

/// Readings at restrict or ground that no open defect speaks of.
fn reading_reasons(fleet: &Fleet, model: ModelId, fitted: &[Fitted<'_>], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for fitted in fitted {
        if has_open_defect(fleet, fitted.id, moment) {
            continue;
        }
        let tag = fleet.component_tag(fitted.id);
        let judged = beyond_limits(fleet, Some(model), fitted.id, moment.as_of);
        for reading in judged.iter().filter(|reading| reading.severity > Severity::Watch) {
            list.push(Finding::new(
                "reading_beyond_limit",
                reading.severity,
                &tag,
                format!(
                    "{} of {tag} in {} reads {} {}, class {}, and no defect was raised",
                    reading.measurement.quantity,
                    fitted.path,
                    reading.value,
                    reading.measurement.unit,
                    reading.severity
                ),
                format!("raise a defect on {tag} with its restriction, swap it, or measure it again"),
            ));
        }
    }
    list
}

fn has_open_defect(fleet: &Fleet, component: ComponentId, moment: Moment) -> bool {
    let ids = fleet.component(component).map_or(&[][..], |file| file.defects.as_slice());
    ids.iter()
        .filter_map(|id| fleet.defect(*id))
        .any(|file| super::defects::is_open(fleet, file, moment.as_of))
}

fn restrictions(defects: &[OpenDefect<'_>], campaigns: &CampaignWord) -> Vec<RestrictionSaid> {
    let mut list: Vec<RestrictionSaid> = campaigns
        .flights_left
        .iter()
        .map(|(left, source)| RestrictionSaid {
            kind: RestrictionKind::MaxFlights,
            value: Some(as_number(*left)),
            until_on: None,
            source: source.clone(),
        })
        .collect();
    for open in defects {
        let Some(restriction) = open.restriction() else { continue };
        let value = open.flights_left.map(as_number).or(restriction.value);
        list.push(RestrictionSaid {
            kind: restriction.kind,
            value,
            until_on: restriction.until_on.or(open.defect.fix_by_on),
            source: open.name(),
        });
    }
    list
}

fn as_number(count: i64) -> f64 {
    f64::from(i32::try_from(count).unwrap_or(i32::MAX))
}

/// The flights allowed where somebody counts them, and the flights until anything stops the model.
fn flight_counts(
    due: &[DueItem],
    defects: &[OpenDefect<'_>],
    campaigns: &CampaignWord,
) -> (Option<i64>, Option<i64>) {
    let said = campaigns.flights_left.iter().map(|(left, _)| *left);
    let said = said.chain(defects.iter().filter_map(|open| open.flights_left)).min();
    let by_checks = due.iter().filter_map(DueItem::flights_left).min();
    let left = match (said, by_checks) {
        (Some(said), Some(checks)) => Some(said.min(checks)),
        (one, None) | (None, one) => one,
    };
    (said.and(left), left)
}

fn next_due(due: &[DueItem]) -> Option<NextDue> {
    due.iter()
        .filter_map(|item| {
            let forecast = item.forecast_on.or(item.due_on)?;
            Some(NextDue { group: item.group.clone(), on: forecast, count_left: item.count_left })
        })
        .min_by(|a, b| (a.on, &a.group).cmp(&(b.on, &b.group)))
}
