//! A component put into a position, and taken out of it. A span is an installation and its removal.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, InstallationId, MemberId, ModelId, RemovalId},
    text::{Tag, Text},
    time::Instant,
    words::RemovalReason,
};

/// What a position belongs to: the model itself, or a panel or fuselage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Inside {
    /// A position of the model.
    Model(ModelId),
    /// A position of a panel or fuselage.
    Component(ComponentId),
}

/// A component put into a position, from that moment until its removal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Installation {
    /// Id made by the client (UUIDv7).
    pub id: InstallationId,
    /// What was fitted.
    pub component: ComponentId,
    /// What it was fitted into.
    pub inside: Inside,
    /// The position within that, such as `FS.L`.
    pub position: Tag,
    /// When.
    pub occurred_at: Instant,
    /// True where the record merely begins with the part in place: such a row opens no check.
    #[serde(default)]
    pub is_start_of_record: bool,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitted_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// A component taken out of its position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Removal {
    /// Id made by the client (UUIDv7).
    pub id: RemovalId,
    /// The installation that ends.
    pub installation: InstallationId,
    /// What came off: the component of that installation.
    pub component: ComponentId,
    /// When.
    pub occurred_at: Instant,
    /// Why, for the statistics.
    pub reason: RemovalReason,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_by: Option<MemberId>,
    /// Why, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
