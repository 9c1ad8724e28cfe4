//! A weighing of a model on supports: mass and centre of gravity with their uncertainty.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{MemberId, ModelId, WeighingId},
    text::{Tag, Text},
    time::Instant,
};

/// A weighing of a model in a stated configuration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Weighing {
    /// Id made by the client (UUIDv7).
    pub id: WeighingId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model.
    pub model: ModelId,
    /// When.
    pub occurred_at: Instant,
    /// Which pack, ballast and tips, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub configuration: Option<Text>,
    /// Mass, g.
    #[schema(minimum = 1.0, maximum = 50_000.0)]
    pub mass_g: f64,
    /// Centre of gravity behind the datum, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub x_mm: f64,
    /// Standard uncertainty of `x_mm`, mm.
    #[schema(minimum = 0.0, maximum = 1000.0)]
    pub u_x_mm: f64,
    /// Centre of gravity right of the centreline, mm, where it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub y_mm: Option<f64>,
    /// Readings of the single supports, where they were kept.
    #[serde(default)]
    pub supports: Vec<Support>,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighed_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One support and what its scale read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Support {
    /// Place behind the datum, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub x_mm: f64,
    /// Place right of the centreline, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub y_mm: f64,
    /// Reading, g.
    #[schema(minimum = 0.0, maximum = 50_000.0)]
    pub reading_g: f64,
}
