//! What is answered about a linkage. The parts that the formulas give as they are have their shapes there.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::linkage::fit::GeometryFit;
use crate::formulas::linkage::load::LinkageLoad;
use crate::formulas::linkage::mismatch::Mismatch;
use crate::formulas::linkage::play::SurfacePlay;
use crate::formulas::linkage::proposal::LinkageProposal;
use crate::formulas::linkage::travel::ServoTravel;

/// What follows from a linkage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LinkageAnswer {
    /// Rod length, hole to hole, mm; absent without a geometry.
    pub rod_mm: Option<f64>,
    /// The dead points on either side of neutral; absent without a geometry.
    pub travel: Option<ServoTravel>,
    /// The deflection table.
    pub rows: Vec<DeflectionRow>,
    /// Down against up, for each servo angle that the table has both ways.
    pub differentials: Vec<Differential>,
    /// The loads asked for, in their order.
    pub loads: Vec<LoadAnswer>,
    /// Left against right.
    pub mismatch: Option<Mismatch>,
    /// Sizes that reach the throws wanted, least play first.
    pub proposals: Vec<LinkageProposal>,
    /// The geometry behind measured throws.
    pub fit: Option<GeometryFit>,
    /// How it was computed.
    pub method: String,
    /// What to mind before relying on it.
    pub cautions: Vec<String>,
}

/// One servo angle of the table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DeflectionRow {
    /// Servo angle, deg, positive with the arm's end aft.
    pub servo_deg: f64,
    /// Deflection, deg, down positive.
    pub deflection_deg: f64,
    /// Its standard uncertainty (1u) from that of the geometry, deg; absent right beside a dead point.
    pub u_deflection_deg: Option<f64>,
    /// What the plain ratio of arm radius and horn height would say, deg: how far the shortcut is off; absent where
    /// the horn has no height.
    pub plain_ratio_deg: Option<f64>,
    /// Degrees of surface per degree of servo here, −dδ/dθ.
    pub gain: f64,
    /// Degrees of surface per microsecond of pulse.
    pub deflection_deg_per_us: Option<f64>,
    /// Throw at the trailing edge, mm, down positive, in the measure of the question.
    pub throw_mm: Option<f64>,
    /// Play of the surface.
    pub play: Option<SurfacePlay>,
    /// Angle between rod and horn, deg; 0 is a dead point.
    pub transmission_deg: f64,
}

/// Down against up at equal servo angles: the differential that the geometry makes by itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Differential {
    /// Servo angle either way, deg.
    pub servo_deg: f64,
    /// Deflection with the arm forward, deg.
    pub forward_deg: f64,
    /// Deflection with the arm aft, deg.
    pub aft_deg: f64,
    /// Size of the first over size of the second.
    pub ratio: f64,
}

/// Where a hinge-moment coefficient came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CoefficientSource {
    /// The question.
    Given,
    /// Thin-aerofoil theory: an upper value while the flow holds.
    ThinAerofoil,
    /// Thin-aerofoil theory beyond 15°, where the flow lets go: give a coefficient instead.
    ThinAerofoilBeyondItsRange,
}

/// One load.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LoadAnswer {
    /// Servo angle, deg.
    pub servo_deg: f64,
    /// Deflection there, deg.
    pub deflection_deg: f64,
    /// Airspeed, m/s.
    pub speed_ms: f64,
    /// The hinge-moment coefficient used.
    pub hinge_coefficient: f64,
    /// Where it came from.
    pub coefficient_source: CoefficientSource,
    /// Moments and forces.
    #[serde(flatten)]
    pub load: LinkageLoad,
    /// Degrees of surface per degree of servo there, −dδ/dθ.
    pub gain: f64,
    /// Its standard uncertainty (1u) from that of the geometry; absent right beside a dead point.
    pub u_gain: Option<f64>,
    /// Standard uncertainty (1u) of the servo torque from those of coefficient and gain, N m.
    pub u_servo_torque_nm: f64,
    /// The airspeed at which the servo's torque is used up here, m/s; absent without one.
    pub speed_limit_ms: Option<f64>,
    /// Its standard uncertainty (1u), m/s.
    pub u_speed_limit_ms: Option<f64>,
    /// Whether more is asked than the servo can hold; absent without its torque.
    pub is_beyond_servo: Option<bool>,
}
