//! The work list of a campaign, to print: what is to be done, model by model, then what lies loose or is lent.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::progress::{CampaignTarget, TargetAction};
use crate::{
    facts::{Campaign, CampaignAction},
    words::{CampaignTask, Standing},
};

/// What is to be done in one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WorkGroup {
    /// Tag of the model; null for what is in none.
    pub model: Option<String>,
    /// The place for people: the model, the panel, the shelf, who has it.
    pub place: String,
    /// Tag of the member who has it, where one has.
    pub has_it: Option<String>,
    /// What is to be done there, in order.
    pub steps: Vec<WorkStep>,
}

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WorkStep {
    /// Tag of the part.
    pub component: String,
    /// Where it sits.
    pub path: Option<String>,
    /// Number of the action.
    pub action: u32,
    /// How it stands.
    pub standing: Standing,
    /// What to do, in a sentence.
    pub text: String,
    /// Its deadline in words.
    pub deadline: String,
}

/// Everything that is not done, grouped by place: models by tag, then the rest.
pub(super) fn work_list(campaign: &Campaign, targets: &[CampaignTarget]) -> Vec<WorkGroup> {
    let mut groups: Vec<WorkGroup> = Vec::new();
    let mut ordered: Vec<&CampaignTarget> = targets.iter().collect();
    ordered.sort_by_key(|target| (target.model.is_none(), &target.model, target.place, &target.path));
    for target in ordered {
        let mut steps = Vec::new();
        for action in &campaign.actions {
            let stands = target.actions.iter().find(|stands| stands.number == action.number);
            if let Some(stands) = stands.filter(|stands| stands.standing != Standing::Done) {
                steps.push(WorkStep {
                    component: target.component.clone(),
                    path: target.path.clone(),
                    action: action.number,
                    standing: stands.standing,
                    text: sentence(action, target, stands),
                    deadline: stands.deadline.clone(),
                });
            }
        }
        if steps.is_empty() {
            continue;
        }
        let place = place(target);
        match groups.iter_mut().find(|group| group.place == place) {
            Some(group) => group.steps.extend(steps),
            None => groups.push(WorkGroup {
                model: target.model.clone(),
                place,
                has_it: target.has_it.clone(),
                steps,
            }),
        }
    }
    groups
}

fn place(target: &CampaignTarget) -> String {
    match (&target.model, &target.inside, &target.lent_to, target.place) {
        (Some(model), ..) => model.clone(),
        (None, _, Some(member), _) => format!("with {member}"),
        (None, Some(panel), None, _) => format!("in {panel}"),
        (None, None, None, place) => target.location.clone().unwrap_or_else(|| place.as_str().to_owned()),
    }
}

fn sentence(action: &CampaignAction, target: &CampaignTarget, stands: &TargetAction) -> String {
    let tag = &target.component;
    let at = target.path.as_ref().map(|path| format!(" in {path}")).unwrap_or_default();
    if stands.standing == Standing::Failed {
        return format!("take {tag}{at} out: {}", stands.found.as_deref().unwrap_or("it did not pass"));
    }
    match action.task {
        CampaignTask::Measure => {
            let quantity =
                action.quantity.as_ref().map(|quantity| format!(", {quantity}")).unwrap_or_default();
            let unit = action.unit.as_ref().map(|unit| format!(" {unit}")).unwrap_or_default();
            let limit = action.limit.map(|limit| format!(", limit {limit}{unit}")).unwrap_or_default();
            format!("{tag}{at}: {}{quantity}{limit}", action.text)
        }
        CampaignTask::Inspect => format!("{tag}{at}: {}", action.text),
        CampaignTask::Replace if stands.standing == Standing::KeptOut => {
            format!(
                "{tag}: keep it out of these positions; scrap it, or use it where the campaign does not reach"
            )
        }
        CampaignTask::Replace => {
            let batch = action.replace_with_batch.as_ref().map(|batch| format!(", fit one of batch {batch}"));
            format!("{tag}{at}: {}; take it out{}", action.text, batch.unwrap_or_default())
        }
    }
}
