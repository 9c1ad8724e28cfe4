//! The parts of a linkage question that start from throws: left against right, sizes for wanted throws, and the geometry
//! behind measured ones.

use super::super::BadQuestion;
use super::fault::{bad_angle, bad_fit, bad_linkage, bad_wanted};
use super::question::{
    LinkageQuestion, MeasuredQuestion, OtherSideQuestion, SurfaceQuestion, WantedQuestion,
};
use super::table::MOST_ROWS;
use crate::formulas::linkage::LinkageError;
use crate::formulas::linkage::fit::{GeometryFit, MeasuredDeflection, fit_geometry};
use crate::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use crate::formulas::linkage::mismatch::{ComparedTravel, Mismatch, UNSEEN_MM, mismatch};
use crate::formulas::linkage::proposal::{
    LEAST_TRANSMISSION_DEG, LinkageProposal, SizeSteps, WantedThrows, propose,
};

/// Play that proposals are ranked by where the question has none. Common practice, no source.
const USUAL_SERVO_PLAY_DEG: f64 = 0.5;
const USUAL_HOLE_PLAY_MM: f64 = 0.05;

/// Arm angles tried where the question names none.
const USUAL_ANGLES: SizeSteps = SizeSteps { from: -45.0, to: 45.0, step: 1.0 };

pub(super) fn compare(
    question: &LinkageQuestion,
    left: &Linkage,
    other: &OtherSideQuestion,
) -> Result<Mismatch, BadQuestion> {
    let chord_mm = surface(question, "a mismatch in mm")?.chord_mm;
    let right = Linkage::new(&other.geometry).map_err(|why| bad_linkage("/other_side/geometry", why))?;
    if other.servo_deg.len() > MOST_ROWS {
        return Err(BadQuestion::at("/other_side/servo_deg", "a table has at most 2000 rows; ask for fewer"));
    }
    let travel = ComparedTravel { forward_deg: other.forward_deg, aft_deg: other.aft_deg };
    let mut commands = other.servo_deg.clone();
    if commands.is_empty() {
        let fifths = |deg: f64| (1..=5).map(move |n| deg * f64::from(n) / 5.0);
        commands
            .extend(fifths(travel.aft_deg).filter(|deg| *deg != 0.0).collect::<Vec<_>>().into_iter().rev());
        commands.push(0.0);
        commands.extend(fifths(travel.forward_deg).filter(|deg| *deg != 0.0));
    }
    for (index, servo_deg) in commands.iter().enumerate() {
        left.at(*servo_deg).map_err(|why| bad_angle("/other_side/servo_deg", index, why))?;
    }
    let limit_mm = other.equal_within_mm.unwrap_or(UNSEEN_MM);
    mismatch(left, &right, &travel, &commands, chord_mm, limit_mm)
        .map_err(|why| bad_linkage("/other_side", why))
}

pub(super) fn sizes(
    question: &LinkageQuestion,
    wanted: &WantedQuestion,
) -> Result<Vec<LinkageProposal>, BadQuestion> {
    let known = question.geometry;
    let hinge_x_mm = wanted.hinge_x_mm.or(known.map(|known| known.hinge_x_mm)).ok_or_else(|| {
        BadQuestion::at("/wanted/hinge_x_mm", "say how far the hinge line lies aft of the servo's axis")
    })?;
    let down_deg = throw(question, "/wanted/down", wanted.down_deg, wanted.down_mm)?;
    let up_deg = throw(question, "/wanted/up", wanted.up_deg, wanted.up_mm)?;
    if down_deg.is_none() && up_deg.is_none() {
        return Err(BadQuestion::at("/wanted/down_deg", "say which throws are wanted, in degrees or mm"));
    }
    let of_known = |of: fn(&LinkageGeometry) -> f64| known.as_ref().map_or(0.0, of);
    propose(&WantedThrows {
        down_deg: down_deg.unwrap_or(0.0),
        up_deg: up_deg.unwrap_or(0.0),
        servo_forward_deg: wanted.servo_forward_deg,
        servo_aft_deg: wanted.servo_aft_deg,
        hinge_x_mm,
        hinge_z_mm: wanted.hinge_z_mm.unwrap_or_else(|| of_known(|known| known.hinge_z_mm)),
        set_back_mm: wanted.set_back_mm.unwrap_or_else(|| of_known(|known| known.set_back_mm)),
        arm_mm: wanted.arm_mm,
        arm_deg: wanted.arm_deg.unwrap_or(USUAL_ANGLES),
        horn_mm: wanted.horn_mm,
        cover: wanted.cover,
        least_transmission_deg: wanted.least_transmission_deg.unwrap_or(LEAST_TRANSMISSION_DEG),
        servo_play_deg: question.servo_play_deg.unwrap_or(USUAL_SERVO_PLAY_DEG),
        hole_play_mm: question.hole_play_mm.unwrap_or(USUAL_HOLE_PLAY_MM),
    })
    .map_err(bad_wanted)
}

pub(super) fn geometry_behind(
    question: &LinkageQuestion,
    start: &LinkageGeometry,
    measured: &MeasuredQuestion,
) -> Result<GeometryFit, BadQuestion> {
    let point = |(index, at): (usize, &super::question::MeasuredThrow)| {
        let base = format!("/measured/points/{index}");
        let deflection_deg = match (at.deflection_deg, at.throw_mm) {
            (Some(deg), None) => deg,
            (None, Some(mm)) => of_mm(question, &base, mm)?,
            _ => return Err(BadQuestion::at(base, "give either deflection_deg or throw_mm")),
        };
        Ok(MeasuredDeflection { servo_deg: at.servo_deg, deflection_deg })
    };
    let points = measured.points.iter().enumerate().map(point).collect::<Result<Vec<_>, _>>()?;
    fit_geometry(start, &measured.unknowns, &points).map_err(bad_fit)
}

/// A throw given in degrees or in mm.
fn throw(
    question: &LinkageQuestion,
    base: &str,
    deg: Option<f64>,
    mm: Option<f64>,
) -> Result<Option<f64>, BadQuestion> {
    match (deg, mm) {
        (Some(_), Some(_)) => {
            Err(BadQuestion::at(format!("{base}_mm"), "give the throw in degrees or in mm, not both"))
        }
        (Some(deg), None) => Ok(Some(deg)),
        (None, Some(mm)) => of_mm(question, &format!("{base}_mm"), mm).map(Some),
        (None, None) => Ok(None),
    }
}

fn of_mm(question: &LinkageQuestion, base: &str, mm: f64) -> Result<f64, BadQuestion> {
    let surface = surface(question, "a throw in mm")?;
    surface.throw_measure.deflection_deg(surface.chord_mm, mm).map_err(|why| match why {
        LinkageError::NotFinite { field: "throw_mm" }
        | LinkageError::OutOfRange { field: "throw_mm", .. } => BadQuestion::at(base, &why),
        why => bad_linkage(base, why),
    })
}

fn surface(question: &LinkageQuestion, what: &str) -> Result<SurfaceQuestion, BadQuestion> {
    question.surface.ok_or_else(|| BadQuestion::at("/surface", &format!("{what} needs the surface's chord")))
}
