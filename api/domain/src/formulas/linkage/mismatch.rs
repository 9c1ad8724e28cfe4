//! Left against right: how far two linkages differ over their travel when both servos get the same command, and
//! whether the radio's end points or a five-point curve can make them equal.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_angle, checked_length, checked_positive};
use super::geometry::Linkage;

/// A difference at the trailing edge that nobody sees or feels, mm. Common practice, no source.
pub const UNSEEN_MM: f64 = 0.2;

/// Points looked at on each side of neutral to find the worst.
const LOOKS: u32 = 200;

/// The travel that is compared: servo angles of the left side at full command either way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ComparedTravel {
    /// Servo angle at full command with the arm forward, deg, 0 or negative.
    pub forward_deg: f64,
    /// Servo angle at full command with the arm aft, deg, 0 or more.
    pub aft_deg: f64,
}

/// What remains of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SideDifference {
    /// Right less left, deg.
    pub difference_deg: f64,
    /// The same at the trailing edge, mm along the arc.
    pub difference_mm: f64,
}

/// Both sides at one command.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MismatchRow {
    /// Servo angle of the left side, deg.
    pub servo_deg: f64,
    /// Deflection of the left side, deg.
    pub left_deg: f64,
    /// The right side with the same servo angle.
    pub as_built: SideDifference,
    /// The right side with neutral and both end points made equal.
    pub with_end_points: SideDifference,
    /// The right side with a curve through five points made equal, straight between them.
    pub with_curve: SideDifference,
}

/// The largest difference of a setting and where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorstDifference {
    /// Servo angle of the left side, deg.
    pub servo_deg: f64,
    /// Right less left, deg.
    pub difference_deg: f64,
    /// The same at the trailing edge, mm along the arc.
    pub difference_mm: f64,
}

/// What makes the sides equal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MismatchCure {
    /// They are equal as built.
    NoneNeeded,
    /// Neutral and two end points.
    EndPoints,
    /// A curve of five points; end points alone leave a difference in between.
    FivePointCurve,
    /// The radio cannot do it: change the linkage.
    ChangeTheLinkage,
}

/// One point of the right side's curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SideCurvePoint {
    /// Servo angle of the left side, deg.
    pub left_servo_deg: f64,
    /// Servo angle of the right side that gives the same deflection, deg.
    pub right_servo_deg: f64,
}

/// The comparison of two sides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Mismatch {
    /// The rows asked for.
    pub rows: Vec<MismatchRow>,
    /// The worst over the whole travel as built.
    pub worst_as_built: WorstDifference,
    /// The worst with neutral and end points equal.
    pub worst_with_end_points: WorstDifference,
    /// The worst with the curve.
    pub worst_with_curve: WorstDifference,
    /// End point of the right side with the arm forward, per cent of the left's; absent without travel there.
    pub end_point_forward_pct: Option<f64>,
    /// End point with the arm aft, per cent of the left's.
    pub end_point_aft_pct: Option<f64>,
    /// The five points of the curve, or fewer where there is travel on one side only.
    pub curve: Vec<SideCurvePoint>,
    /// What makes the sides equal to within the limit.
    pub cure: MismatchCure,
}

/// Compares two sides over a travel, with a surface chord for mm and a limit in mm below which they count as equal
/// (usually [`UNSEEN_MM`]).
///
/// Points of equal deflection are found in closed form; between points the right servo's angle is interpolated in
/// straight lines, as a radio does. The worst is the largest of 200 looks on either side of neutral.
///
/// # Errors
/// A travel whose signs are wrong or that is empty; a servo angle over a dead point; a left deflection that the right
/// side cannot reach; a limit that is not above zero.
///
/// # Source
/// Geometry.
///
/// ```
/// use preen_domain::formulas::linkage::geometry::{Linkage, LinkageGeometry};
/// use preen_domain::formulas::linkage::mismatch::{ComparedTravel, MismatchCure, UNSEEN_MM, mismatch};
/// let drawn = LinkageGeometry {
///     arm_mm: 5.0, arm_deg: 0.0, hinge_x_mm: 60.0, hinge_z_mm: 0.0, horn_mm: 5.0, set_back_mm: 0.0, rod_mm: None,
/// };
/// let one = Linkage::new(&drawn)?;
/// let travel = ComparedTravel { forward_deg: -50.0, aft_deg: 20.0 };
/// let same = mismatch(&one, &one, &travel, &[-30.0], 62.0, UNSEEN_MM)?;
/// assert_eq!(same.cure, MismatchCure::NoneNeeded);
/// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
/// ```
pub fn mismatch(
    left: &Linkage,
    right: &Linkage,
    travel: &ComparedTravel,
    servo_deg: &[f64],
    chord_mm: f64,
    limit_mm: f64,
) -> Result<Mismatch, LinkageError> {
    checked_length("chord_mm", chord_mm)?;
    checked_positive("equal_within_mm", limit_mm)?;
    check_travel(travel)?;
    let sides = Sides { left, right, chord_mm };
    let ends = sides.points(&[travel.forward_deg, 0.0, travel.aft_deg])?;
    let curve = sides.points(&[
        travel.forward_deg,
        travel.forward_deg / 2.0,
        0.0,
        travel.aft_deg / 2.0,
        travel.aft_deg,
    ])?;
    let row = |servo_deg: f64| {
        Ok(MismatchRow {
            servo_deg,
            left_deg: left.at(servo_deg)?.deflection_deg,
            as_built: sides.difference(servo_deg, servo_deg)?,
            with_end_points: sides.difference(servo_deg, between(&ends, servo_deg))?,
            with_curve: sides.difference(servo_deg, between(&curve, servo_deg))?,
        })
    };
    let rows = servo_deg.iter().map(|deg| row(*deg)).collect::<Result<Vec<_>, LinkageError>>()?;
    let mut looks = Vec::new();
    for look in 0..=LOOKS {
        let share = f64::from(look) / f64::from(LOOKS);
        looks.push(row(travel.forward_deg * share)?);
        looks.push(row(travel.aft_deg * share)?);
    }
    let worst_as_built = worst(&looks, |row| row.as_built);
    let worst_with_end_points = worst(&looks, |row| row.with_end_points);
    let worst_with_curve = worst(&looks, |row| row.with_curve);
    let is_equal = |worst: &WorstDifference| worst.difference_mm.abs() <= limit_mm;
    let cure = if is_equal(&worst_as_built) {
        MismatchCure::NoneNeeded
    } else if is_equal(&worst_with_end_points) {
        MismatchCure::EndPoints
    } else if is_equal(&worst_with_curve) {
        MismatchCure::FivePointCurve
    } else {
        MismatchCure::ChangeTheLinkage
    };
    let percent = |deg: f64| {
        let point = ends.iter().find(|point| deg != 0.0 && point.left_servo_deg == deg);
        point.map(|point| 100.0 * point.right_servo_deg / point.left_servo_deg)
    };
    Ok(Mismatch {
        rows,
        worst_as_built,
        worst_with_end_points,
        worst_with_curve,
        end_point_forward_pct: percent(travel.forward_deg),
        end_point_aft_pct: percent(travel.aft_deg),
        curve,
        cure,
    })
}

struct Sides<'a> {
    left: &'a Linkage,
    right: &'a Linkage,
    chord_mm: f64,
}

impl Sides<'_> {
    /// Where the right servo must stand to match the left, at rising servo angles without doubles.
    fn points(&self, left_deg: &[f64]) -> Result<Vec<SideCurvePoint>, LinkageError> {
        let mut points: Vec<SideCurvePoint> = Vec::new();
        for left_servo_deg in left_deg {
            if points.last().is_some_and(|last| last.left_servo_deg >= *left_servo_deg) {
                continue;
            }
            let wanted = self.left.at(*left_servo_deg)?.deflection_deg;
            let right_servo_deg = self.right.servo_for(wanted)?;
            points.push(SideCurvePoint { left_servo_deg: *left_servo_deg, right_servo_deg });
        }
        Ok(points)
    }

    fn difference(&self, left_deg: f64, right_deg: f64) -> Result<SideDifference, LinkageError> {
        let left = self.left.at(left_deg)?.deflection_deg;
        let difference_deg = self.right.at(right_deg)?.deflection_deg - left;
        Ok(SideDifference { difference_deg, difference_mm: self.chord_mm * difference_deg.to_radians() })
    }
}

fn check_travel(travel: &ComparedTravel) -> Result<(), LinkageError> {
    checked_angle("forward_deg", travel.forward_deg)?;
    checked_angle("aft_deg", travel.aft_deg)?;
    if travel.forward_deg > 0.0 {
        return Err(LinkageError::OutOfRange { field: "forward_deg", least: -360.0, most: 0.0 });
    }
    if travel.aft_deg < 0.0 {
        return Err(LinkageError::Negative { field: "aft_deg" });
    }
    if travel.aft_deg - travel.forward_deg <= 0.0 {
        return Err(LinkageError::NotPositive { field: "aft_deg" });
    }
    Ok(())
}

/// The right servo's angle on straight lines through the points; beyond the last, on the last line.
fn between(points: &[SideCurvePoint], left_deg: f64) -> f64 {
    let lines = points.windows(2).filter_map(|pair| match pair {
        [one, other] => Some((*one, *other)),
        _ => None,
    });
    let mut found = left_deg;
    for (index, (one, other)) in lines.enumerate() {
        if index == 0 || left_deg >= one.left_servo_deg {
            let share = (left_deg - one.left_servo_deg) / (other.left_servo_deg - one.left_servo_deg);
            found = one.right_servo_deg + share * (other.right_servo_deg - one.right_servo_deg);
        }
    }
    found
}

fn worst(looks: &[MismatchRow], of: fn(&MismatchRow) -> SideDifference) -> WorstDifference {
    let mut found = WorstDifference { servo_deg: 0.0, difference_deg: 0.0, difference_mm: 0.0 };
    for row in looks {
        let SideDifference { difference_deg, difference_mm } = of(row);
        if difference_mm.abs() > found.difference_mm.abs() {
            found = WorstDifference { servo_deg: row.servo_deg, difference_deg, difference_mm };
        }
    }
    found
}
