//! A check that was done: item by item, or as a summary of its group.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, InspectionId, MemberId, ModelId, ProgrammeId},
    text::{Tag, Text},
    time::Instant,
    words::{CheckResult, ItemResult},
};

/// A check of one group, on a model, on a single component, or on a component in a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Inspection {
    /// Id made by the client (UUIDv7).
    pub id: InspectionId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<ModelId>,
    /// The single component checked, such as a pack on the shelf.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub component: Option<ComponentId>,
    /// Code of the group, such as `N25`.
    pub group: Tag,
    /// Programme it was done by; absent: the one in force for the model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub programme: Option<ProgrammeId>,
    /// When it was finished.
    pub occurred_at: Instant,
    /// Result of the whole.
    pub result: CheckResult,
    /// True if the group was judged as a whole, without item results. It counts for its own group only.
    pub is_summary: bool,
    /// Results item by item.
    #[serde(default)]
    pub items: Vec<InspectionItem>,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inspected_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// Result of one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InspectionItem {
    /// Code of the item, such as `N25-02`.
    pub item: Tag,
    /// What came of it; not looked at is never a pass.
    pub result: ItemResult,
    /// The part it was looked at on, if a single one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub component: Option<ComponentId>,
    /// The reading, in the item's unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub value: Option<f64>,
    /// Reason where it is not applicable, or what was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
