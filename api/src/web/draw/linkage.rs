//! A linkage in three positions, side by side over each other, and its curve of deflection over servo angle.

use preen_domain::answers::compute::DeflectionRow;
use preen_domain::formulas::linkage::geometry::LinkageGeometry;

use super::scale::{Scale, ticks};
use crate::told::short;

/// One position: servo axis, arm's end, horn's end, hinge, trailing edge, in places on the drawing.
#[derive(Debug, Clone)]
pub struct Pose {
    /// End of the arm.
    pub arm: (f64, f64),
    /// End of the horn.
    pub horn: (f64, f64),
    /// Where the surface ends in the drawing.
    pub edge: (f64, f64),
    /// Servo angle and deflection in words.
    pub text: String,
    /// Whether it is the neutral one.
    pub is_neutral: bool,
}

/// Both drawings; the linkage is 640 by 260, the curve 640 by 300.
#[derive(Debug, Clone)]
pub struct LinkageDrawing {
    /// Place of the servo's axis.
    pub servo: (f64, f64),
    /// Place of the hinge line.
    pub hinge: (f64, f64),
    /// The positions.
    pub poses: Vec<Pose>,
    /// The curve.
    pub curve: String,
    /// Marks of servo angles.
    pub across: Vec<(f64, String)>,
    /// Marks of deflections.
    pub down: Vec<(f64, String)>,
    /// Where both are zero.
    pub zero: (f64, f64),
}

/// Draws a linkage at the rows nearest to neutral and to both ends of its table.
pub fn linkage(drawn: &LinkageGeometry, rows: &[DeflectionRow]) -> Option<LinkageDrawing> {
    let first = rows.iter().min_by(|a, b| a.servo_deg.total_cmp(&b.servo_deg))?;
    let last = rows.iter().max_by(|a, b| a.servo_deg.total_cmp(&b.servo_deg))?;
    let middle = rows.iter().min_by(|a, b| a.servo_deg.abs().total_cmp(&b.servo_deg.abs()))?;
    // Lengths in mm, x aft, z up from the servo's axis; the surface is drawn as long as a quarter of the way to the hinge.
    let surface_mm = (drawn.hinge_x_mm.abs() / 4.0).max(drawn.horn_mm.abs() * 2.0);
    let points_mm = |row: &DeflectionRow| {
        let arm = (drawn.arm_deg + row.servo_deg).to_radians();
        let (sin, cos) = row.deflection_deg.to_radians().sin_cos();
        let (s, h) = (drawn.set_back_mm, drawn.horn_mm);
        [
            (drawn.arm_mm * arm.sin(), -drawn.arm_mm * arm.cos()),
            (drawn.hinge_x_mm + s * cos - h * sin, drawn.hinge_z_mm - s * sin - h * cos),
            (drawn.hinge_x_mm + surface_mm * cos, drawn.hinge_z_mm - surface_mm * sin),
        ]
    };
    let shown = [first, last, middle];
    let all = || {
        shown.iter().flat_map(|row| points_mm(row)).chain([(0.0, 0.0), (drawn.hinge_x_mm, drawn.hinge_z_mm)])
    };
    let ends = |of: fn((f64, f64)) -> f64| {
        all()
            .map(of)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one), high.max(one)))
    };
    let ((left, right), (bottom, top)) = (ends(|point| point.0), ends(|point| point.1));
    let scale = (560.0 / (right - left).max(1.0)).min(200.0 / (top - bottom).max(1.0));
    let edge = 320.0 - (right - left) * scale / 2.0;
    let x = Scale::new((left, left + 1.0), (edge, edge + scale));
    let height = 130.0 - (top - bottom) * scale / 2.0;
    let z = Scale::new((top, top - 1.0), (height, height + scale));
    let place = |(x_mm, z_mm): (f64, f64)| (x.at(x_mm), z.at(z_mm));
    let pose = |row: &DeflectionRow| {
        let [arm, horn, edge] = points_mm(row).map(place);
        Pose {
            arm,
            horn,
            edge,
            text: format!(
                "servo {}°: surface {}°",
                short(row.servo_deg),
                crate::told::fixed(row.deflection_deg, 1)
            ),
            is_neutral: std::ptr::eq(row, middle),
        }
    };
    let (low, high) = rows
        .iter()
        .map(|row| row.deflection_deg)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one), high.max(one)));
    let across = Scale::new((first.servo_deg, last.servo_deg), (56.0, 620.0));
    let down = Scale::new((low.min(0.0), high.max(0.0)), (262.0, 16.0));
    let mut sorted: Vec<&DeflectionRow> = rows.iter().collect();
    sorted.sort_by(|a, b| a.servo_deg.total_cmp(&b.servo_deg));
    let points =
        sorted.iter().map(|row| format!("{},{}", across.at(row.servo_deg), down.at(row.deflection_deg)));
    Some(LinkageDrawing {
        servo: place((0.0, 0.0)),
        hinge: place((drawn.hinge_x_mm, drawn.hinge_z_mm)),
        poses: shown.into_iter().map(pose).collect(),
        curve: points.collect::<Vec<_>>().join(" "),
        across: ticks(first.servo_deg, last.servo_deg, 7)
            .into_iter()
            .map(|one| (across.at(one), short(one)))
            .collect(),
        down: ticks(low.min(0.0), high.max(0.0), 6)
            .into_iter()
            .map(|one| (down.at(one), short(one)))
            .collect(),
        zero: (across.at(0.0), down.at(0.0)),
    })
}
