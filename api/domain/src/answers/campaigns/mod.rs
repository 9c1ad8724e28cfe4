//! What a campaign asks: of the parts that one model carries ([`campaign_word`]), and of all that it covers
//! ([`campaign_progress`]). Which parts that are stands in the rules.

mod ahead;
mod deadline;
mod left;
mod need;
mod progress;
mod said;
mod work;

pub(crate) use ahead::{CampaignAhead, campaigns_ahead};
pub use left::PartLeft;
pub use need::ReplacementNeed;
pub use progress::{
    ActionProgress, CampaignProgress, CampaignShown, CampaignTarget, TargetAction, TargetCounts, WaiverSaid,
    campaign_progress,
};
pub use said::{CampaignList, CampaignRow, campaigns_said};
pub use work::{WorkGroup, WorkStep};

use deadline::{Deadline, deadline, words};

use super::Moment;
use crate::{
    facts::{Campaign, CampaignAction},
    finding::Finding,
    fleet::{Fitted, Fleet},
    ids::ModelId,
    rules::campaign::{Outcome, covers_kind, name, names_part, open_at, outcome},
    words::{CampaignTask, CheckResult, Severity, Standing},
};

/// What the campaigns say about one model.
#[derive(Debug, Default)]
pub(crate) struct CampaignWord {
    /// What stands against flying it, or will.
    pub findings: Vec<Finding>,
    /// Flights left under each campaign that counts flights, with its tag.
    pub flights_left: Vec<(i64, String)>,
}

/// What the campaigns that are open say about a model.
pub(crate) fn campaign_word(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> CampaignWord {
    let mut word = CampaignWord::default();
    for campaign in open_at(fleet, moment.as_of) {
        let fact = &campaign.fact;
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

/// Whether a campaign covers a part where it sits.
pub(crate) fn covers(fleet: &Fleet, campaign: &Campaign, fitted: &Fitted<'_>) -> bool {
    let kind = fitted.position.map(|position| position.kind.as_str());
    fleet.component_data(fitted.id).is_some_and(|data| names_part(campaign, data))
        && covers_kind(campaign, kind)
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
    let mut open: Vec<String> = Vec::new();
    for fitted in covered {
        let came = outcome(fleet, campaign, action, fitted.id, true, moment.as_of);
        let tag = fleet.component_tag(fitted.id);
        match came.standing {
            Standing::Failed => word.findings.extend(brought_to_light(campaign, action, &tag, &came)),
            Standing::Open => open.push(tag),
            Standing::Overdue | Standing::KeptOut | Standing::Done => {}
        }
    }
    if open.is_empty() {
        return;
    }
    let name = name(campaign);
    let what = format!("{name} action {}: {} ({})", action.number, action.text, open.join(", "));
    let clear_by = clearing(campaign, action, &open.join(", "));
    let until = deadline(fleet, campaign, action, Some(model), moment);
    let by = words(action);
    if until.is_over {
        let text = format!("{what} was to be done {by}");
        word.findings.push(Finding::new("campaign_overdue", Severity::Ground, &name, text, clear_by));
    } else if let Deadline { flights_left: Some(left), flown: Some(flown), .. } = until {
        let within = action.within_flights.unwrap_or_default();
        let text = format!("{what}: {flown} of {within} flights flown, {left} left; {by}");
        word.flights_left.push((left, name.clone()));
        word.findings.push(Finding::new("campaign_limit", Severity::Watch, &name, text, clear_by));
    } else {
        let text = format!("{what}: {by}");
        word.findings.push(Finding::new("campaign_open", Severity::Watch, &name, text, clear_by));
    }
}

/// A reading since the opening that reaches the campaign's own limit grounds; so does an inspection that failed.
fn brought_to_light(
    campaign: &Campaign,
    action: &CampaignAction,
    tag: &str,
    came: &Outcome<'_>,
) -> Option<Finding> {
    let name = name(campaign);
    let clear_by = format!("take {tag} out and fit a part that the campaign allows");
    if let (Some((reading, value)), Some(limit)) = (came.reading, action.limit) {
        let unit = action.unit.as_ref().map(|unit| format!(" {unit}")).unwrap_or_default();
        let quantity = &reading.fact.quantity;
        let text = format!("{name}: {quantity} of {tag} is {value}{unit}, limit {limit}{unit}");
        return Some(Finding::new("campaign_limit_reading", Severity::Ground, tag, text, clear_by));
    }
    let work = &came.work?.fact;
    let severity = if work.result == CheckResult::Fail { Severity::Ground } else { Severity::Restrict };
    let seen = work.note.as_ref().map(|note| format!(" ({note})")).unwrap_or_default();
    let text = format!("{name} action {}: {tag} was looked at, result {}{seen}", action.number, work.result);
    let clear_by = format!("{clear_by}, or mend it, inspect it again and record a pass");
    Some(Finding::new("campaign_work_failed", severity, tag, text, clear_by))
}

/// What a person does to clear an action of a campaign.
fn clearing(campaign: &Campaign, action: &CampaignAction, tags: &str) -> String {
    match (action.task, &action.replace_with_batch) {
        (CampaignTask::Measure, _) => {
            let quantity = action.quantity.as_ref().map_or("", |quantity| quantity.as_str());
            format!("measure {quantity} of {tags}")
        }
        (CampaignTask::Inspect, _) => {
            format!("inspect {tags} and record it for action {} of {}", action.number, name(campaign))
        }
        (CampaignTask::Replace, Some(batch)) => format!("swap {tags} for parts of batch {batch}"),
        (CampaignTask::Replace, None) => format!("swap {tags} for parts that the campaign does not cover"),
    }
}
