//! A part type: what many individual components have in common.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::joiner::section::Section,
    ids::PartId,
    text::{Tag, Text},
    words::{PartKind, Tracking},
};

/// A part type.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Id made by the client (UUIDv7).
    pub id: PartId,
    /// Short name of the type.
    pub tag: Tag,
    /// What kind of thing it is.
    pub kind: PartKind,
    /// Who makes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<Text>,
    /// How single parts are told apart.
    pub tracking: Tracking,
    /// Mass from the data sheet, g; 0 where each one is weighed.
    #[schema(minimum = 0.0, maximum = 20_000.0)]
    pub nominal_mass_g: f64,
    /// Rated capacity of a pack, mAh.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1.0, maximum = 100_000.0)]
    pub rated_capacity_mah: Option<f64>,
    /// Resistance of each cell of a new pack at 25 °C, mΩ: what its readings are compared with. Empty if not known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(schema_with = cells)]
    pub new_cell_mohm: Vec<f64>,
    /// Cross-section of a joiner when new: what sanding takes of it is worked out from this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<Section>,
    /// Cells of a pack in series.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 24)]
    pub cells: Option<u32>,
    /// Classes, by their tags, for which somebody found this type on the list of what is accepted: altimeters and run
    /// timers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 40)]
    pub accepted_in: Vec<Tag>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One resistance for each cell, in a size that the formulas take.
fn cells() -> utoipa::openapi::schema::Array {
    use utoipa::openapi::{Array, ObjectBuilder, Type};

    let cell = ObjectBuilder::new().schema_type(Type::Number).minimum(Some(0.01)).maximum(Some(10_000.0));
    let mut cells = Array::new(cell);
    cells.max_items = Some(24);
    cells.description = Some(
        "Resistance of each cell of a new pack at 25 °C, mΩ: what its readings are compared with.".to_owned(),
    );
    cells
}
