//! What was done on a repair: steps ticked on its work sheet, material by lot, cure, mass, parts, readings, and what
//! the sheet of its kind keeps. Any number of entries make up the sheet of one repair; which steps there are is
//! [`crate::worksheets`].

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::{cure::Resin, joiner::sanding::SandedFaces},
    ids::{ComponentId, LotId, MeasurementId, MemberId, RepairId, RepairStepId},
    text::Text,
    time::Instant,
    words::{ContactKind, ReliefKind, StepResult},
};

/// Work done on a repair. The latest end of all cures blocks the release.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RepairStep {
    /// Id made by the client (UUIDv7).
    pub id: RepairStepId,
    /// The repair.
    pub repair: RepairId,
    /// When it was done.
    pub occurred_at: Instant,
    /// Steps of the work sheet that are ticked.
    #[serde(default)]
    pub steps: Vec<StepTick>,
    /// Material used, by lot where it has one.
    #[serde(default)]
    pub materials: Vec<UsedMaterial>,
    /// What was bonded with: its cure is counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resin: Option<Resin>,
    /// Temperature of the bench while it cures, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -20.0, maximum = 90.0)]
    pub temperature_c: Option<f64>,
    /// When the cure began; absent: with the work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cure_started_at: Option<Instant>,
    /// End of the cure as the data sheet says, in place of the table's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cure_until_at: Option<Instant>,
    /// Material that stays on (came off if negative), weighed, g. Parts off and on count by their own masses.
    #[serde(default)]
    #[schema(minimum = -5000.0, maximum = 5000.0)]
    pub mass_added_g: f64,
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
    /// Parts that came off; their removal is recorded by itself.
    #[serde(default)]
    pub parts_off: Vec<ComponentId>,
    /// Parts that came on; their installation is recorded by itself.
    #[serde(default)]
    pub parts_on: Vec<ComponentId>,
    /// Ids of readings taken before the work.
    #[serde(default)]
    pub readings_before: Vec<MeasurementId>,
    /// Ids of readings taken after it.
    #[serde(default)]
    pub readings_after: Vec<MeasurementId>,
    /// What a joiner's sheet keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joiner: Option<JoinerWork>,
    /// What a connector's sheet keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub connector: Option<ConnectorWork>,
    /// What the sheet of a servo cover keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cover: Option<CoverWork>,
    /// What the sheet of a servo keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub servo: Option<ServoWork>,
    /// True for the look of a second person, who did none of the work: reading back, or looking at control or structure.
    #[serde(default)]
    pub is_second_look: bool,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// A step of the work sheet that is ticked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepTick {
    /// Its number on the sheet.
    #[schema(minimum = 1, maximum = 99)]
    pub number: u32,
    /// Done, or not applicable.
    pub result: StepResult,
    /// Why it is not applicable.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// Material that was used: of a lot, or in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UsedMaterial {
    /// The lot it is from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotId>,
    /// What it is, where it has no lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// How much, in the unit of the lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 1_000_000.0)]
    pub quantity: Option<f64>,
    /// Why a lot past its last day is used all the same.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub out_of_date_reason: Option<Text>,
}

/// Work on a joiner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinerWork {
    /// Which joiner; absent: the only part of the repair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub component: Option<ComponentId>,
    /// Material taken from each face in this work; it adds up over the joiner's life.
    #[serde(default)]
    pub sanded: SandedFaces,
    /// How a loose joiner was mended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<Text>,
}

/// Work on a connector.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ConnectorWork {
    /// Which half; absent: the only part of the repair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub component: Option<ComponentId>,
    /// Lead used up, mm.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 1000.0)]
    pub slack_used_mm: f64,
    /// Which cavity carries what.
    pub pin_map: Text,
    /// The metal contact in this half.
    pub contact_kind: ContactKind,
    /// Whether this half is the fixed one.
    pub is_fixed_half: bool,
}

/// Work on a servo cover.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverWork {
    /// What it is made of.
    pub material: Text,
    /// Thickness of the sheet, mm.
    #[schema(minimum = 0.05, maximum = 5.0)]
    pub thickness_mm: f64,
    /// How room was made for the arm.
    pub relief: ReliefKind,
}

/// Work on a servo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ServoWork {
    /// Which servo came on; absent: the only part of the repair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub component: Option<ComponentId>,
    /// Tooth of the spline that the arm sits on, counted from the mark.
    #[schema(minimum = 0, maximum = 99)]
    pub spline_tooth: u32,
    /// What is left over at the centre, deg.
    #[schema(minimum = -30.0, maximum = 30.0)]
    pub residual_deg: f64,
    /// Radius of the hole of the arm, mm.
    #[schema(minimum = 1.0, maximum = 60.0)]
    pub arm_radius_mm: f64,
    /// Pulse at the centre, µs.
    #[schema(minimum = 500.0, maximum = 2500.0)]
    pub pulse_centre_us: f64,
    /// Throws of the left side at five points, mm.
    pub throws_left_mm: Vec<f64>,
    /// Throws of the right side at the same five points, mm.
    pub throws_right_mm: Vec<f64>,
}
