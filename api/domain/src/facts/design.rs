//! What a model is built to: datum, positions, planform, cells for ballast, range of the centre of gravity.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::joiner::rock::RockGeometry,
    ids::{DesignId, PartId},
    text::{Tag, Text},
    words::PartKind,
};

/// A design: position tree, planform and balance range of all models built to it.
///
/// Places are in millimetres from the datum: x aft, y right as seen sitting in the model, z up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Design {
    /// Id made by the client (UUIDv7).
    pub id: DesignId,
    /// Short name of the design.
    pub tag: Tag,
    /// Where x = 0 lies, in words.
    pub datum: Text,
    /// Contest class it is flown in, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_use: Option<Tag>,
    /// Span, m.
    #[schema(minimum = 0.1, maximum = 10.0)]
    pub span_m: f64,
    /// Wing area, dm².
    #[schema(minimum = 0.1, maximum = 1000.0)]
    pub wing_area_dm2: f64,
    /// Tail area, dm².
    #[schema(minimum = 0.0, maximum = 1000.0)]
    pub tail_area_dm2: f64,
    /// Mean aerodynamic chord, mm.
    #[schema(minimum = 1.0, maximum = 2000.0)]
    pub mac_mm: f64,
    /// Leading edge of the mean aerodynamic chord behind the datum, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub mac_leading_edge_x_mm: f64,
    /// Foremost allowed centre of gravity, mm behind the datum.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub cg_min_mm: f64,
    /// Rearmost allowed centre of gravity, mm behind the datum.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub cg_max_mm: f64,
    /// Where a nose weight would go, mm behind the datum (negative: ahead of it).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub nose_weight_x_mm: Option<f64>,
    /// The position tree.
    pub positions: Vec<Position>,
    /// Planform of one half wing from the root out; empty if not entered.
    #[serde(default)]
    pub stations: Vec<Station>,
    /// Cells that take ballast slugs; absent if there are none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ballast_cells: Vec<SlugCell>,
}

/// A named seat for a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// Name within its parent, such as `W.C` in the model or `FS.L` in the centre panel.
    pub path: Tag,
    /// Seat code of the panel it lies in; absent for a position of the model itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inside: Option<Tag>,
    /// Name for people.
    pub name: Text,
    /// What it is for, such as `flap servo`: wear and campaigns go by this.
    pub kind: Text,
    /// Kind of part it accepts.
    pub accepts: PartKind,
    /// Part types that it takes, of that kind; empty: every type of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartId>,
    /// Seat code that a panel must carry to fit here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seat: Option<Tag>,
    /// Whether the model is incomplete without it.
    pub is_required: bool,
    /// Place of the part's centre of gravity, mm aft of the datum.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub x_mm: f64,
    /// mm right of the centreline.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub y_mm: f64,
    /// mm above the datum.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub z_mm: f64,
    /// Span of the part itself along y, mm, for its own roll and yaw inertia; 0 for a point.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 10_000.0)]
    pub own_span_mm: f64,
    /// Length of the part itself along x, mm, for its own pitch and yaw inertia (a boom, say); 0 for a point.
    #[serde(default, skip_serializing_if = "is_zero")]
    #[schema(minimum = 0.0, maximum = 10_000.0)]
    pub own_length_mm: f64,
    /// Sizes of the joint that a joiner here makes: rock of the tip is judged as clearance by them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joint: Option<RockGeometry>,
    /// What the contacts of a connector here feed: contact resistance is judged as lost voltage by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead: Option<FedLead>,
}

impl Position {
    /// Whether it takes a part type, as far as it names any.
    #[must_use]
    pub fn takes(&self, part: PartId) -> bool {
        self.parts.is_empty() || self.parts.contains(&part)
    }
}

/// The lead through a connector, from the supply to the consumer that needs most of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FedLead {
    /// Gauge of the stranded wire, AWG.
    #[schema(minimum = 10, maximum = 40)]
    pub awg: i32,
    /// Length one way, m.
    #[schema(minimum = 0.0, maximum = 10.0)]
    pub length_m: f64,
    /// Contact pairs in the way.
    #[schema(minimum = 1, maximum = 20)]
    pub contact_pairs: u32,
    /// Current at the hardest, A.
    #[schema(minimum = 0.0, maximum = 100.0)]
    pub current_a: f64,
    /// Voltage at the supply, V.
    #[schema(minimum = 1.0, maximum = 60.0)]
    pub supply_v: f64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the shape that serde asks for")]
fn is_zero(length_mm: &f64) -> bool {
    *length_mm == 0.0
}

/// One station of the half-wing planform.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Station {
    /// Distance from the centreline along the panels, mm.
    #[schema(minimum = 0.0, maximum = 5000.0)]
    pub y_mm: f64,
    /// Leading edge behind the datum, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub leading_edge_x_mm: f64,
    /// Chord, mm.
    #[schema(minimum = 0.0, maximum = 2000.0)]
    pub chord_mm: f64,
    /// Dihedral of the panel outboard of this station, degrees.
    #[serde(default)]
    #[schema(minimum = -90.0, maximum = 90.0)]
    pub dihedral_deg: f64,
}

/// One place that takes ballast slugs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SlugCell {
    /// Its name.
    pub cell: Tag,
    /// Place of the slugs' centre behind the datum, mm.
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub x_mm: f64,
    /// Place of the slugs' centre right of the centreline, mm.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub y_mm: f64,
    /// Most slugs it takes.
    #[schema(minimum = 1, maximum = 100)]
    pub capacity: u32,
    /// Cells with the same word here are filled alike. Without any such word they pair by their places: across the
    /// centreline, and on it the first with the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pair: Option<Tag>,
}
