//! What can be asked about a linkage. Each part of the question that is given gets its part of the answer.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::linkage::geometry::LinkageGeometry;
use crate::formulas::linkage::parameter::LinkageParameter;
use crate::formulas::linkage::proposal::{CoverRoom, SizeSteps};
use crate::formulas::linkage::throws::ThrowMeasure;
use crate::formulas::linkage::tolerance::GeometryUncertainty;

/// A linkage and what is asked about it. Signs: x aft, z up from the servo's axis; flap down positive; angles of arm and
/// servo positive with the arm's end aft.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkageQuestion {
    /// The linkage; needed for all but sizes to be proposed with a hinge place of their own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub geometry: Option<LinkageGeometry>,
    /// Servo angles of the table, deg, at most 2,000; the tens that lie inside the dead points, to ±60, if none are given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub servo_deg: Vec<f64>,
    /// Degrees that the servo turns per microsecond of pulse; asks for degrees of surface per microsecond.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub servo_deg_per_us: Option<f64>,
    /// Standard uncertainties of the geometry; 0.1 mm and 1° if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<GeometryUncertainty>,
    /// The surface; needed for throws and play in mm and for loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<SurfaceQuestion>,
    /// The servo's play, deg at its arm, end to end; asks for play at the trailing edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub servo_play_deg: Option<f64>,
    /// Play along the rod, mm, the holes of both its ends together; asks for play at the trailing edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hole_play_mm: Option<f64>,
    /// Loads to compute, at most 100.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub loads: Vec<LoadQuestion>,
    /// Density of the air, kg/m³; 1.225 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_kg_m3: Option<f64>,
    /// Share of the servo's work that arrives at the surface; 0.9 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub efficiency: Option<f64>,
    /// Standard uncertainty of a hinge-moment coefficient as a share of it; 0.3 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u_hinge_coefficient: Option<f64>,
    /// What the servo can hold, N m; asks for the speed limit of each load.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub servo_torque_nm: Option<f64>,
    /// The other side; asks for the mismatch of both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_side: Option<OtherSideQuestion>,
    /// Throws that are wanted; asks for sizes that reach them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted: Option<WantedQuestion>,
    /// Throws that were measured; asks for the geometry behind them, from `geometry` as a start.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<MeasuredQuestion>,
}

/// The surface behind the hinge line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SurfaceQuestion {
    /// Chord behind the hinge line, mm; of a tapered surface the mean.
    pub chord_mm: f64,
    /// Length along the hinge line, mm; needed for loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub span_mm: Option<f64>,
    /// Its share of the whole chord, 0.01 to 0.95; with it a hinge-moment coefficient follows from thin-aerofoil theory.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chord_ratio: Option<f64>,
    /// How throws in mm are measured.
    #[serde(default)]
    pub throw_measure: ThrowMeasure,
}

/// A load: the surface held at a servo angle at a speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LoadQuestion {
    /// Servo angle, deg.
    pub servo_deg: f64,
    /// Airspeed, m/s.
    pub speed_ms: f64,
    /// Hinge-moment coefficient over the surface's own area and chord; from theory if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hinge_coefficient: Option<f64>,
    /// Incidence of the wing, deg from its zero-lift direction without flap; plays a part in theory only.
    #[serde(default)]
    pub incidence_deg: f64,
}

/// The right side, where `geometry` is the left.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OtherSideQuestion {
    /// The right linkage.
    pub geometry: LinkageGeometry,
    /// Servo angle at full command with the arm forward, deg, 0 or negative.
    pub forward_deg: f64,
    /// Servo angle at full command with the arm aft, deg, 0 or more.
    pub aft_deg: f64,
    /// Servo angles of the rows, deg, at most 2,000; fifths of both commands if none are given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub servo_deg: Vec<f64>,
    /// Sides count as equal within this, mm at the trailing edge; 0.2 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equal_within_mm: Option<f64>,
}

/// Throws wanted and the limits of arm, horn and cover.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WantedQuestion {
    /// Throw down, deg, 0 or more. Give this or `down_mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub down_deg: Option<f64>,
    /// Throw down, mm at the trailing edge; needs `surface`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub down_mm: Option<f64>,
    /// Throw up, deg, 0 or more. Give this or `up_mm`; neither: no throw up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_deg: Option<f64>,
    /// Throw up, mm at the trailing edge; needs `surface`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_mm: Option<f64>,
    /// Servo travel there is with the arm forward, deg.
    pub servo_forward_deg: f64,
    /// Servo travel there is with the arm aft, deg.
    pub servo_aft_deg: f64,
    /// Hinge line aft of the servo's axis, mm; that of `geometry` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hinge_x_mm: Option<f64>,
    /// Hinge line above the servo's axis, mm; that of `geometry`, or 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hinge_z_mm: Option<f64>,
    /// Set-back of the horn's hole, mm; that of `geometry`, or 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_back_mm: Option<f64>,
    /// Arm radii that can be had, mm.
    pub arm_mm: SizeSteps,
    /// Arm angles that can be set, deg; −45 to 45 in steps of 1 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arm_deg: Option<SizeSteps>,
    /// Horn heights that can be made, mm.
    pub horn_mm: SizeSteps,
    /// The cover that the arm must clear without relief.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cover: Option<CoverRoom>,
    /// Least angle between rod and horn at the ends, deg; 15 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_transmission_deg: Option<f64>,
}

/// Throws that were measured, and what is not known of the geometry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredQuestion {
    /// The points, at most 500.
    pub points: Vec<MeasuredThrow>,
    /// The numbers of the geometry to find; the others are held.
    pub unknowns: Vec<LinkageParameter>,
}

/// One measured throw.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredThrow {
    /// Servo angle, deg.
    pub servo_deg: f64,
    /// Deflection, deg, down positive. Give this or `throw_mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deflection_deg: Option<f64>,
    /// Throw at the trailing edge, mm, down positive; needs `surface`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub throw_mm: Option<f64>,
}
