//! A repair and the club release that ends it. The release is a club practice, nothing under law.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, DefectId, MemberId, ModelId, ReleaseId, RepairId},
    text::{Tag, Text},
    time::Instant,
    words::RepairKind,
};

/// A repair that was started. It is open until a [`Release`] names it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Repair {
    /// Id made by the client (UUIDv7).
    pub id: RepairId,
    /// Number in the club's own record, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model it was done for.
    pub model: ModelId,
    /// The parts it was done on. Empty: on the model as a whole.
    #[serde(default)]
    pub components: Vec<ComponentId>,
    /// The defect it mends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub defect: Option<DefectId>,
    /// Its kind.
    pub kind: RepairKind,
    /// When it was started.
    pub occurred_at: Instant,
    /// Not to be released before this moment; the data sheet of the resin wins.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cure_until_at: Option<Instant>,
    /// What was done.
    pub text: Text,
    /// Material added (taken off if negative), weighed, g. Parts off and on count by their own masses.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub material_mass_g: f64,
    /// Place of that material behind the datum, mm.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub x_mm: f64,
    /// Right of the centreline, mm.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub y_mm: f64,
    /// Above the datum, mm.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub z_mm: f64,
    /// Lead used up by a re-termination, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 1000.0)]
    pub slack_used_mm: Option<f64>,
    /// Who does the work, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<MemberId>,
}

impl Repair {
    /// Its tag, or its id.
    #[must_use]
    pub fn name(&self) -> String {
        self.tag.as_ref().map_or_else(|| self.id.to_string(), ToString::to_string)
    }
}

/// The club release of a repair: a named person says fit after work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Release {
    /// Id made by the client (UUIDv7).
    pub id: ReleaseId,
    /// The repair.
    pub repair: RepairId,
    /// When.
    pub occurred_at: Instant,
    /// Somebody who did not do the work and looked at it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_person: Option<MemberId>,
    /// Who releases it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub released_by: Option<MemberId>,
    /// Limits or remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
