//! Parts that a campaign covered since its opening day and that have left their position since: what was replaced.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::Moment;
use crate::{
    facts::Campaign,
    fleet::{ComponentFile, Fleet, Place, Span},
    ids::ComponentId,
    rules::campaign::{counts_from, covers_kind, names_part},
    time::Instant,
    words::{ComponentState, RemovalReason},
};

/// A part that left a position which the campaign covers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PartLeft {
    /// Tag of the part.
    pub component: String,
    /// Tag of the model it was in; null if its panel was in none.
    pub model: Option<String>,
    /// The position it was in: path from the model or panel down.
    pub path: String,
    /// When it left.
    pub left_at: Instant,
    /// Why.
    pub reason: Option<RemovalReason>,
    /// Tag of what sits there now; null if the position is empty.
    pub replaced_by: Option<String>,
    /// Its kept state now.
    pub component_state: ComponentState,
}

/// Parts that left, the first to leave first. A part that sits in a covered position again is not among them.
pub(super) fn left(fleet: &Fleet, campaign: &Campaign, until: Instant, moment: Moment) -> Vec<PartLeft> {
    let from = counts_from(fleet, campaign);
    let mut list: Vec<PartLeft> = fleet
        .components()
        .filter(|(_, file)| file.component.as_ref().is_some_and(|data| names_part(campaign, &data.fact)))
        .filter_map(|(id, file)| {
            let covered = |span: &&Span| {
                let kind = fleet.position(span.inside, &span.position).map(|position| position.kind.as_str());
                covers_kind(campaign, kind)
            };
            if file.span_at(moment.as_of).as_ref().is_some_and(covered) {
                return None;
            }
            let ended = |span: &&Span| span.to.is_some_and(|to| from <= to && to <= until);
            let last = file.spans.iter().filter(ended).filter(covered).max_by_key(|span| span.to)?;
            one(fleet, id, file, last, moment)
        })
        .collect();
    list.sort_by(|one, other| (one.left_at, &one.component).cmp(&(other.left_at, &other.component)));
    list
}

fn one(
    fleet: &Fleet,
    id: ComponentId,
    file: &ComponentFile,
    span: &Span,
    moment: Moment,
) -> Option<PartLeft> {
    let left_at = span.to?;
    let (model, path) = match fleet.place_at(id, Instant::from_micros(left_at.micros().saturating_sub(1))) {
        Place::InModel(model, path) => (Some(fleet.model_tag(model)), path),
        Place::InPanel(panel, path) => (None, format!("{}/{path}", fleet.component_tag(panel))),
        Place::Loose => (None, span.position.to_string()),
    };
    let now = fleet.occupant_at(span.inside, &span.position, moment.as_of);
    Some(PartLeft {
        component: fleet.component_tag(id),
        model,
        path,
        left_at,
        reason: file
            .removals
            .iter()
            .find(|removal| removal.fact.installation == span.installation)
            .map(|removal| removal.fact.reason),
        replaced_by: now.map(|part| fleet.component_tag(part)),
        component_state: file.state_at(moment.as_of),
    })
}
