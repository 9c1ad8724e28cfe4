//! How far a servo may turn: the dead points of a linkage on either side of neutral, in closed form.

use std::f64::consts::{PI, TAU};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::LinkageError;
use super::geometry::{Linkage, wrapped};
use super::triangle::{Plane, angle_between};

/// Which two links lie in line at a dead point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DeadPointKind {
    /// Arm and rod: the surface stands still and turns back.
    Arm,
    /// Horn and rod: the linkage locks.
    Horn,
}

/// A dead point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DeadPoint {
    /// Servo angle from neutral, deg.
    pub servo_deg: f64,
    /// What lies in line.
    pub kind: DeadPointKind,
}

/// The servo travel between the nearest dead points; inside, the surface moves one way only.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ServoTravel {
    /// The nearest one with the arm forward of neutral (negative); absent when there is none within a turn.
    pub from: Option<DeadPoint>,
    /// The nearest one with the arm aft of neutral.
    pub to: Option<DeadPoint>,
}

impl ServoTravel {
    /// The limits, deg.
    #[must_use]
    pub fn limits_deg(&self) -> (Option<f64>, Option<f64>) {
        (self.from.map(|point| point.servo_deg), self.to.map(|point| point.servo_deg))
    }

    /// Refuses a servo angle at or beyond a dead point.
    ///
    /// # Errors
    /// The dead point that would be passed.
    pub fn check(&self, servo_deg: f64) -> Result<(), LinkageError> {
        let passed = match (self.from, self.to) {
            (Some(from), _) if servo_deg <= from.servo_deg => from,
            (_, Some(to)) if servo_deg >= to.servo_deg => to,
            _ => return Ok(()),
        };
        let dead_point_deg = passed.servo_deg;
        Err(match passed.kind {
            DeadPointKind::Arm => LinkageError::PassesArmDeadPoint { servo_deg, dead_point_deg },
            DeadPointKind::Horn => LinkageError::PassesHornDeadPoint { servo_deg, dead_point_deg },
        })
    }
}

/// The dead points nearest to neutral.
///
/// Horn and rod in line: the arm's end stands L + ρ or |L − ρ| from the hinge. Arm and rod in line: the horn's end
/// stands L + r or |L − r| from the servo's axis; of these only those on the branch drawn count. Each is the angle of a
/// triangle of known sides, so nothing is searched.
pub(super) fn travel_of(linkage: &Linkage) -> ServoTravel {
    let mut points = Vec::with_capacity(8);
    for apart_mm in [linkage.rod_mm + linkage.horn_mm, (linkage.rod_mm - linkage.horn_mm).abs()] {
        let Some(angle) = angle_between(linkage.arm_mm, linkage.ground_mm, apart_mm) else { continue };
        points.extend([-angle, angle].map(|angle| (linkage.ground + angle, DeadPointKind::Horn)));
    }
    for (apart_mm, turn) in [
        (linkage.rod_mm + linkage.arm_mm, 0.0),
        ((linkage.rod_mm - linkage.arm_mm).abs(), if linkage.rod_mm > linkage.arm_mm { PI } else { 0.0 }),
    ] {
        let Some(angle) = angle_between(linkage.horn_mm, linkage.ground_mm, apart_mm) else { continue };
        // The triangle's angle at the hinge lies between the horn and the way back to the servo.
        for horn in [linkage.ground + PI - angle, linkage.ground + PI + angle] {
            let hinge = Plane::towards(linkage.ground).scaled(linkage.ground_mm);
            let lever = Plane::towards(horn).scaled(linkage.horn_mm);
            let arm = hinge.plus(lever).angle() + turn;
            let across = Plane::towards(arm).scaled(linkage.arm_mm).minus(hinge).cross(lever);
            if across * linkage.horn_side >= 0.0 {
                points.push((arm, DeadPointKind::Arm));
            }
        }
    }
    let ahead = |arm: f64| {
        let once = wrapped(arm - linkage.arm);
        if once <= 0.0 { [once, once + TAU] } else { [once - TAU, once] }
    };
    let mut travel = ServoTravel { from: None, to: None };
    for (arm, kind) in points {
        let [behind, before] = ahead(arm).map(|angle| DeadPoint { servo_deg: angle.to_degrees(), kind });
        if travel.from.is_none_or(|from| behind.servo_deg > from.servo_deg) {
            travel.from = Some(behind);
        }
        if travel.to.is_none_or(|to| before.servo_deg < to.servo_deg) {
            travel.to = Some(before);
        }
    }
    travel
}
