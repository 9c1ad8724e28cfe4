//! Parts on the shelf against what a campaign needs to replace.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::{Moment, stock::ready_on_shelf};
use crate::{
    facts::{Campaign, CampaignAction},
    fleet::Fleet,
    ids::ModelId,
    rules::{campaign::Target, forbidding_campaigns},
    text::Text,
    words::CampaignTask,
};

/// Stock against need of one action that replaces.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReplacementNeed {
    /// Number of the action.
    pub action: u32,
    /// Tag of the part type.
    pub part: String,
    /// Batch to fit; null: any that the campaign does not cover.
    pub batch: Option<String>,
    /// Parts to be replaced, in whatever model or panel.
    pub need_count: usize,
    /// Serviceable parts on the shelf that may go there.
    pub on_shelf_count: usize,
    /// How many are missing; 0: enough.
    pub short_count: usize,
    /// Parts to be replaced in the models asked about; null if none were named.
    pub models_need_count: Option<usize>,
    /// How many are missing for those models alone.
    pub models_short_count: Option<usize>,
    /// Tags of the parts on the shelf.
    pub on_shelf: Vec<String>,
}

/// Stock against need for each action that replaces.
pub(super) fn needs(
    fleet: &Fleet,
    campaign: &Campaign,
    targets: &[Target<'_>],
    models: Option<&[ModelId]>,
    moment: Moment,
) -> Vec<ReplacementNeed> {
    let replaces = campaign.actions.iter().filter(|action| action.task == CampaignTask::Replace);
    replaces.map(|action| need(fleet, campaign, action, targets, models, moment)).collect()
}

fn need(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    targets: &[Target<'_>],
    models: Option<&[ModelId]>,
    moment: Moment,
) -> ReplacementNeed {
    let to_replace = || targets.iter().filter(|target| target.is_in_position);
    let mut kinds: Vec<&str> = to_replace().filter_map(|target| target.position_kind.as_deref()).collect();
    kinds.extend(campaign.position_kind.as_ref().map(Text::as_str));
    let may_go_there = |id| {
        kinds.iter().all(|kind| forbidding_campaigns(fleet, id, kind, moment.as_of).is_empty())
            && !targets.iter().any(|target| target.id == id)
    };
    let batch = action.replace_with_batch.as_ref();
    let on_shelf: Vec<String> = ready_on_shelf(fleet, campaign.part, batch, moment)
        .into_iter()
        .filter(|id| may_go_there(*id))
        .map(|id| fleet.component_tag(id))
        .collect();
    let need_count = to_replace().count();
    let of_models = models.map(|models| {
        to_replace().filter(|target| target.model.is_some_and(|model| models.contains(&model))).count()
    });
    ReplacementNeed {
        action: action.number,
        part: fleet
            .part(campaign.part)
            .map_or_else(|| campaign.part.to_string(), |part| part.fact.tag.to_string()),
        batch: batch.map(ToString::to_string),
        need_count,
        on_shelf_count: on_shelf.len(),
        short_count: need_count.saturating_sub(on_shelf.len()),
        models_need_count: of_models,
        models_short_count: of_models.map(|need| need.saturating_sub(on_shelf.len())),
        on_shelf,
    }
}
