//! The linkage of a hinged surface: servo arm, rod and horn in one plane, solved in closed form both ways (servo to
//! surface, surface to servo). What forces, play and throws follow from it lives in the neighbours.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_angle, checked_length, checked_place};
use super::travel::{ServoTravel, travel_of};
use super::triangle::{Plane, angle_between};

/// What a linkage is made of, seen from its side: x aft and z up from the servo's axis, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkageGeometry {
    /// Arm radius: servo axis to the hole in the arm, mm.
    pub arm_mm: f64,
    /// The arm with the servo at neutral, deg from straight down; positive when its end lies aft.
    pub arm_deg: f64,
    /// Hinge line aft of the servo's axis, mm.
    pub hinge_x_mm: f64,
    /// Hinge line above the servo's axis, mm.
    #[serde(default)]
    pub hinge_z_mm: f64,
    /// Horn height: hole below the hinge line, mm; negative when the horn stands above it.
    pub horn_mm: f64,
    /// Set-back: horn hole aft of the hinge line, mm; negative when it lies forward.
    #[serde(default)]
    pub set_back_mm: f64,
    /// Rod length, hole to hole, mm. Not given: cut so that the surface is at 0° with the servo at neutral.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rod_mm: Option<f64>,
}

/// Where a linkage stands at one servo angle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LinkagePosition {
    /// Servo angle from neutral, deg, positive when the arm's end moves aft.
    pub servo_deg: f64,
    /// Deflection of the surface, deg, down positive.
    pub deflection_deg: f64,
    /// Degrees of surface per degree of servo here: −dδ/dθ, positive when the surface goes down as the arm moves
    /// forward.
    pub gain: f64,
    /// Distance from the servo's axis to the line of the rod, mm.
    pub arm_lever_mm: f64,
    /// Distance from the hinge line to the line of the rod, mm.
    pub horn_lever_mm: f64,
    /// Transmission angle: between rod and horn, 0 (dead point) to 90°.
    pub transmission_deg: f64,
}

/// A linkage that can be put together, with the branch it stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linkage {
    pub(super) arm_mm: f64,
    pub(super) arm: f64,
    pub(super) ground_mm: f64,
    pub(super) ground: f64,
    pub(super) horn_mm: f64,
    pub(super) horn: f64,
    pub(super) rod_mm: f64,
    /// +1 when the horn lies further round than the line from hinge to arm end, −1 else: kept over the travel.
    pub(super) horn_side: f64,
    /// The same for the arm and the line from the servo's axis to the horn's end.
    pub(super) arm_side: f64,
    turn: f64,
    travel: ServoTravel,
}

/// Levers shorter than this share of their link count as a dead point.
const DEAD: f64 = 1e-9;

impl Linkage {
    /// Puts a linkage together as drawn: arm end P = (r sin α, −r cos α), horn end
    /// Q(δ) = (x + s cos δ − h sin δ, z − s sin δ − h cos δ), and without a rod length of its own L = |Q(0) − P(α₀)|.
    ///
    /// The branch (which side of the line from hinge to arm end the horn's end lies on) is the drawn one and stays.
    ///
    /// # Errors
    /// Numbers that are not finite or too large, lengths that are not positive; an arm or horn as long as the way from
    /// servo axis to hinge; a rod that cannot reach; a linkage that stands at a dead point at neutral.
    ///
    /// # Source
    /// R. L. Norton, *Design of Machinery*, position analysis of the four-bar.
    ///
    /// ```
    /// use preen_domain::formulas::linkage::geometry::{Linkage, LinkageGeometry};
    /// // Arm and horn of one length and both straight down: a parallelogram.
    /// let drawn = LinkageGeometry {
    ///     arm_mm: 5.0, arm_deg: 0.0, hinge_x_mm: 60.0, hinge_z_mm: 0.0, horn_mm: 5.0, set_back_mm: 0.0, rod_mm: None,
    /// };
    /// let linkage = Linkage::new(&drawn)?;
    /// assert_eq!(linkage.rod_mm(), 60.0);
    /// assert_eq!(format!("{:.6}", linkage.at(-30.0)?.deflection_deg), "30.000000");
    /// assert_eq!(format!("{:.6}", linkage.servo_for(30.0)?), "-30.000000");
    /// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
    /// ```
    pub fn new(drawn: &LinkageGeometry) -> Result<Self, LinkageError> {
        check(drawn)?;
        let arm = drawn.arm_deg.to_radians();
        let hinge = Plane { x: drawn.hinge_x_mm, z: drawn.hinge_z_mm };
        let lever = Plane { x: drawn.set_back_mm, z: -drawn.horn_mm };
        let (horn_mm, ground_mm) = (lever.length(), hinge.length());
        if horn_mm <= 0.0 {
            return Err(LinkageError::NotPositive { field: "horn_mm" });
        }
        if drawn.arm_mm >= ground_mm {
            return Err(LinkageError::LongerThanGround { field: "arm_mm", ground_mm });
        }
        if horn_mm >= ground_mm {
            return Err(LinkageError::LongerThanGround { field: "horn_mm", ground_mm });
        }
        let arm_end = Plane::towards(arm).scaled(drawn.arm_mm);
        let horn_end = hinge.plus(lever);
        let drawn_rod_mm = horn_end.minus(arm_end).length();
        let mut linkage = Self {
            arm_mm: drawn.arm_mm,
            arm,
            ground_mm,
            ground: hinge.angle(),
            horn_mm,
            horn: lever.angle(),
            rod_mm: drawn.rod_mm.unwrap_or(drawn_rod_mm),
            horn_side: side(arm_end.minus(hinge), lever)?,
            arm_side: 0.0,
            turn: 0.0,
            travel: ServoTravel { from: None, to: None },
        };
        let neutral = linkage.surface(arm).ok_or_else(|| linkage.too_far(arm_end.minus(hinge).length()))?;
        // A deflection is counted from the drawn horn the short way round, and goes on from there.
        linkage.turn = neutral - wrapped(neutral);
        let horn_end = hinge.plus(Plane::towards(linkage.horn - neutral).scaled(horn_mm));
        linkage.arm_side = side(horn_end, arm_end)?;
        side(horn_end.minus(hinge), horn_end.minus(arm_end))?;
        linkage.travel = travel_of(&linkage);
        Ok(linkage)
    }

    /// Rod length, hole to hole, mm.
    #[must_use]
    pub const fn rod_mm(&self) -> f64 {
        self.rod_mm
    }

    /// The servo travel inside the dead points on either side of neutral.
    #[must_use]
    pub const fn travel(&self) -> ServoTravel {
        self.travel
    }

    /// Where the linkage stands with the servo `servo_deg` from neutral (positive: arm end aft).
    ///
    /// Deflection from the triangle of horn, rod and the line from hinge to arm end; gain r(w·P′)/(ρ(w·Q′)) with w
    /// along the rod. On the branch drawn, followed from neutral without a jump.
    ///
    /// # Errors
    /// An angle that is not finite; one that passes a dead point on the way from neutral.
    pub fn at(&self, servo_deg: f64) -> Result<LinkagePosition, LinkageError> {
        checked_angle("servo_deg", servo_deg)?;
        self.travel.check(servo_deg)?;
        let arm = self.arm + servo_deg.to_radians();
        let at_limit = || LinkageError::AtDeadPoint { servo_deg };
        let deflection = self.surface(arm).ok_or_else(at_limit)? - self.turn;
        let horn = Plane::towards(self.horn - deflection);
        let crank = Plane::towards(arm);
        let hinge = Plane::towards(self.ground).scaled(self.ground_mm);
        let rod = hinge.plus(horn.scaled(self.horn_mm)).minus(crank.scaled(self.arm_mm));
        let (at_arm, at_horn) = (crank.cross(rod) / self.rod_mm, horn.cross(rod) / self.rod_mm);
        if at_horn.abs() < DEAD || at_arm.abs() < DEAD {
            return Err(at_limit());
        }
        let (arm_lever, horn_lever) = (self.arm_mm * at_arm, self.horn_mm * at_horn);
        Ok(LinkagePosition {
            servo_deg,
            deflection_deg: deflection.to_degrees(),
            gain: arm_lever / horn_lever,
            arm_lever_mm: arm_lever.abs(),
            horn_lever_mm: horn_lever.abs(),
            transmission_deg: at_horn.abs().min(1.0).asin().to_degrees(),
        })
    }

    /// The servo angle from neutral that gives a deflection (down positive), deg: the closed form the other way round.
    ///
    /// # Errors
    /// An angle that is not finite; a deflection out of reach, with what can be reached.
    pub fn servo_for(&self, deflection_deg: f64) -> Result<f64, LinkageError> {
        checked_angle("deflection_deg", deflection_deg)?;
        // From a neutral beside one dead point the travel may reach more than half a turn to the other.
        let found = self.arm_for(deflection_deg.to_radians()).and_then(|arm| {
            let servo_deg = (arm - self.arm).to_degrees();
            [servo_deg, servo_deg + 360.0, servo_deg - 360.0]
                .into_iter()
                .find(|servo_deg| self.travel.check(*servo_deg).is_ok())
        });
        found.ok_or_else(|| {
            let (up_deg, down_deg) = self.reach_deg();
            LinkageError::OutOfReach { deflection_deg, up_deg, down_deg }
        })
    }

    /// The loop's error at a position: | |Q − P| − L | as a share of L. For checks; a solution has next to none.
    #[must_use]
    pub fn closure(&self, position: &LinkagePosition) -> f64 {
        let crank = Plane::towards(self.arm + position.servo_deg.to_radians()).scaled(self.arm_mm);
        let horn = Plane::towards(self.horn - position.deflection_deg.to_radians()).scaled(self.horn_mm);
        let hinge = Plane::towards(self.ground).scaled(self.ground_mm);
        (hinge.plus(horn).minus(crank).length() / self.rod_mm - 1.0).abs()
    }

    /// Deflection before it is counted from the drawn horn, radians; `None` beyond a dead point of the horn.
    fn surface(&self, arm: f64) -> Option<f64> {
        let ahead = arm - self.ground;
        let (along, across) = (self.ground_mm - self.arm_mm * ahead.cos(), self.arm_mm * ahead.sin());
        let angle = angle_between(self.horn_mm, along.hypot(across), self.rod_mm)?;
        // The arm is shorter than the ground link, so the line from hinge to arm end never turns past 90° from it.
        let towards_arm_end = self.ground + std::f64::consts::PI + (-across).atan2(along);
        Some(self.horn - (towards_arm_end + self.horn_side * angle))
    }

    /// The arm's angle for a deflection, radians, counted on from neutral.
    fn arm_for(&self, deflection: f64) -> Option<f64> {
        let ahead = self.horn - deflection - self.ground;
        let (along, across) = (self.ground_mm + self.horn_mm * ahead.cos(), self.horn_mm * ahead.sin());
        let angle = angle_between(self.arm_mm, along.hypot(across), self.rod_mm)?;
        let arm = self.ground + across.atan2(along) + self.arm_side * angle;
        Some(self.arm + wrapped(arm - self.arm))
    }

    /// What can be reached on either side, deg, a hair inside the dead points.
    fn reach_deg(&self) -> (f64, f64) {
        let inside = |limit: Option<f64>| limit.map(|deg| deg * (1.0 - 1e-9));
        let (from, to) = self.travel.limits_deg();
        let ends = [inside(from), inside(to)].map(|deg| {
            deg.and_then(|deg| self.surface(self.arm + deg.to_radians()))
                .map_or(f64::NAN, |deflection| (deflection - self.turn).to_degrees())
        });
        let [one, other] = ends;
        if one.is_nan() || other.is_nan() { (-360.0, 360.0) } else { (one.min(other), one.max(other)) }
    }

    fn too_far(&self, apart_mm: f64) -> LinkageError {
        LinkageError::CannotAssemble {
            rod_mm: self.rod_mm,
            least_mm: (apart_mm - self.horn_mm).abs(),
            most_mm: apart_mm + self.horn_mm,
        }
    }
}

/// On which side of the first direction the second lies.
fn side(from: Plane, to: Plane) -> Result<f64, LinkageError> {
    let across = from.cross(to) / (from.length() * to.length());
    if across.abs() < DEAD { Err(LinkageError::AtDeadPoint { servo_deg: 0.0 }) } else { Ok(across.signum()) }
}

fn check(drawn: &LinkageGeometry) -> Result<(), LinkageError> {
    checked_length("arm_mm", drawn.arm_mm)?;
    checked_angle("arm_deg", drawn.arm_deg)?;
    checked_place("hinge_x_mm", drawn.hinge_x_mm)?;
    checked_place("hinge_z_mm", drawn.hinge_z_mm)?;
    checked_place("horn_mm", drawn.horn_mm)?;
    checked_place("set_back_mm", drawn.set_back_mm)?;
    drawn.rod_mm.map_or(Ok(()), |rod_mm| checked_length("rod_mm", rod_mm))
}

/// The same direction within ±180°, radians.
pub(super) fn wrapped(angle: f64) -> f64 {
    angle.sin().atan2(angle.cos())
}
