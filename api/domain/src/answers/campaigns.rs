//! What a campaign asks of the parts that one model carries at a moment.

use super::Moment;
use crate::{
    facts::{Campaign, CampaignAction},
    finding::Finding,
    fleet::{Fitted, Fleet},
    ids::ModelId,
    time::{Instant, day_of, start_of_day},
    words::{CampaignTask, Severity},
};

/// What the campaigns say about one model.
#[derive(Debug, Default)]
pub(crate) struct CampaignWord {
    /// What stands against flying it, or will.
    pub findings: Vec<Finding>,
    /// Flights left under each campaign that counts flights, with its tag.
    pub flights_left: Vec<(i64, String)>,
}

/// What the campaigns say about a model.
pub(crate) fn campaign_word(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> CampaignWord {
    let mut word = CampaignWord::default();
    for (_, campaign) in fleet.campaigns() {
        let fact = &campaign.fact;
        if fact.occurred_at > moment.as_of {
            continue;
        }
        let covered: Vec<&Fitted<'_>> = fitted.iter().filter(|fitted| covers(fleet, fact, fitted)).collect();
        if covered.is_empty() {
            continue;
        }
        for action in &fact.actions {
            judge(fleet, model, fact, action, &covered, moment, &mut word);
        }
    }
    word
}

pub(crate) fn covers(fleet: &Fleet, campaign: &Campaign, fitted: &Fitted<'_>) -> bool {
    let Some(data) = fleet.component_data(fitted.id) else { return false };
    data.part == campaign.part
        && campaign.batch.as_ref().is_none_or(|batch| Some(batch) == data.batch.as_ref())
        && campaign
            .position_kind
            .as_ref()
            .is_none_or(|kind| fitted.position.is_some_and(|position| position.kind == *kind))
}

fn judge(
    fleet: &Fleet,
    model: ModelId,
    campaign: &Campaign,
    action: &CampaignAction,
    covered: &[&Fitted<'_>],
    moment: Moment,
    word: &mut CampaignWord,
) {
    let name = campaign.tag.as_ref().map_or_else(|| campaign.id.to_string(), ToString::to_string);
    let open: Vec<&Fitted<'_>> = covered
        .iter()
        .copied()
        .filter(|fitted| {
            action.task == CampaignTask::Replace || !is_done(fleet, campaign, action, fitted, moment.as_of)
        })
        .collect();
    for fitted in covered {
        say_limit(fleet, campaign, action, fitted, moment.as_of, &name, word);
    }
    if open.is_empty() {
        return;
    }
    let tags: Vec<String> = open.iter().map(|fitted| fleet.component_tag(fitted.id)).collect();
    let what = format!("{name} action {}: {} ({})", action.number, action.text, tags.join(", "));
    let clear_by = clearing(action, &tags);
    let mut deadline_over = false;
    if let Some(by_on) = action.by_on {
        deadline_over |= moment.on > by_on;
    }
    if let Some(after_on) = action.before_next_flight_after_on {
        deadline_over |= moment.on > after_on;
    }
    let mut left = None;
    if let Some(within) = action.within_flights {
        let flown = flown_since_opening(fleet, model, campaign, moment.as_of);
        let remaining = i64::from(within) - flown;
        left = Some((remaining, flown, within));
        deadline_over |= remaining <= 0;
    }
    let deadline = deadline_text(action);
    if deadline_over {
        word.findings.push(Finding::new(
            "campaign_overdue",
            Severity::Ground,
            &name,
            format!("{what} was to be done {deadline}"),
            clear_by,
        ));
        return;
    }
    if let Some((remaining, flown, within)) = left {
        word.flights_left.push((remaining, name.clone()));
        word.findings.push(Finding::new(
            "campaign_limit",
            Severity::Watch,
            &name,
            format!("{what}: {flown} of {within} flights flown, {remaining} left; {deadline}"),
            clear_by,
        ));
    } else {
        word.findings.push(Finding::new(
            "campaign_open",
            Severity::Watch,
            &name,
            format!("{what}: {deadline}"),
            clear_by,
        ));
    }
}

/// A reading since the opening that is at or beyond the campaign's own limit grounds.
fn say_limit(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    fitted: &Fitted<'_>,
    as_of: Instant,
    name: &str,
    word: &mut CampaignWord,
) {
    let (Some(quantity), Some(limit)) = (&action.quantity, action.limit) else { return };
    let Some(file) = fleet.component(fitted.id) else { return };
    let newest =
        file.measurements.until(as_of).iter().rev().find(|reading| reading.fact.quantity == *quantity);
    let worst = newest
        .filter(|reading| reading.fact.occurred_at >= campaign.occurred_at)
        .and_then(|reading| reading.fact.values.iter().copied().max_by(f64::total_cmp));
    if let Some(value) = worst.filter(|value| *value >= limit) {
        let tag = fleet.component_tag(fitted.id);
        let unit = action.unit.as_ref().map(|unit| format!(" {unit}")).unwrap_or_default();
        word.findings.push(Finding::new(
            "campaign_limit_reading",
            Severity::Ground,
            &tag,
            format!("{name}: {quantity} of {tag} is {value}{unit}, limit {limit}{unit}"),
            format!("take {tag} out and fit a part that the campaign allows"),
        ));
    }
}

/// Whether the part was measured or inspected since the campaign was opened.
fn is_done(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    fitted: &Fitted<'_>,
    as_of: Instant,
) -> bool {
    let Some(file) = fleet.component(fitted.id) else { return false };
    let from = start_of_day(day_of(campaign.occurred_at, fleet.club().zone), fleet.club().zone);
    match &action.quantity {
        Some(quantity) => file
            .measurements
            .until(as_of)
            .iter()
            .any(|r| r.fact.quantity == *quantity && r.fact.occurred_at >= from),
        None => file.inspections.until(as_of).iter().any(|i| i.fact.occurred_at >= from),
    }
}

/// Flights of the model from the beginning of the club day on which the campaign was opened.
fn flown_since_opening(fleet: &Fleet, model: ModelId, campaign: &Campaign, as_of: Instant) -> i64 {
    let from = start_of_day(day_of(campaign.occurred_at, fleet.club().zone), fleet.club().zone);
    let usage = fleet.model_usage(model, from, super::usage::just_after(as_of));
    i64::try_from(usage.flights).unwrap_or(i64::MAX)
}

fn deadline_text(action: &CampaignAction) -> String {
    let mut parts = Vec::new();
    if let Some(within) = action.within_flights {
        parts.push(format!("within {within} flights"));
    }
    if let Some(by_on) = action.by_on {
        parts.push(format!("by {by_on}"));
    }
    if let Some(after_on) = action.before_next_flight_after_on {
        parts.push(format!("before the next flight after {after_on}"));
    }
    if parts.is_empty() { "without a deadline".to_owned() } else { parts.join(" and ") }
}

fn clearing(action: &CampaignAction, tags: &[String]) -> String {
    let tags = tags.join(", ");
    match (action.task, &action.replace_with_batch) {
        (CampaignTask::Measure, _) => {
            let quantity = action.quantity.as_ref().map_or("", |quantity| quantity.as_str());
            format!("measure {quantity} of {tags}")
        }
        (CampaignTask::Inspect, _) => format!("inspect {tags}"),
        (CampaignTask::Replace, Some(batch)) => format!("swap {tags} for parts of batch {batch}"),
        (CampaignTask::Replace, None) => format!("swap {tags} for parts that the campaign does not cover"),
    }
}
