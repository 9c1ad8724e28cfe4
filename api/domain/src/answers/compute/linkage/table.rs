//! The deflection table of a linkage question, and the differential it shows.

use super::super::BadQuestion;
use super::answer::{DeflectionRow, Differential};
use super::fault::{bad_angle, bad_linkage};
use super::question::LinkageQuestion;
use crate::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use crate::formulas::linkage::play::surface_play;
use crate::formulas::linkage::tolerance::deflection_uncertainty_deg;

/// Most rows of a table.
pub(super) const MOST_ROWS: usize = 2000;

pub(super) fn rows(
    question: &LinkageQuestion,
    drawn: &LinkageGeometry,
    linkage: &Linkage,
) -> Result<Vec<DeflectionRow>, BadQuestion> {
    if question.servo_deg.len() > MOST_ROWS {
        return Err(BadQuestion::at("/servo_deg", "a table has at most 2000 rows; ask for fewer"));
    }
    if let Some(per_us) = question.servo_deg_per_us
        && !(per_us.is_finite() && per_us > 0.0)
    {
        return Err(BadQuestion::at("/servo_deg_per_us", "it must be a finite number above zero"));
    }
    let tens = (-6..=6).map(|ten| f64::from(ten) * 10.0).filter(|deg| linkage.travel().check(*deg).is_ok());
    let servo_deg: Vec<f64> =
        if question.servo_deg.is_empty() { tens.collect() } else { question.servo_deg.clone() };
    servo_deg.iter().enumerate().map(|(index, deg)| row(question, drawn, linkage, index, *deg)).collect()
}

fn row(
    question: &LinkageQuestion,
    drawn: &LinkageGeometry,
    linkage: &Linkage,
    index: usize,
    servo_deg: f64,
) -> Result<DeflectionRow, BadQuestion> {
    let at_fault = |why| bad_angle("/servo_deg", index, why);
    let at = linkage.at(servo_deg).map_err(at_fault)?;
    let uncertainty = question.uncertainty.unwrap_or_default();
    let u_deflection_deg = deflection_uncertainty_deg(drawn, servo_deg, &uncertainty).map_err(at_fault)?;
    let throw_mm = question
        .surface
        .map(|surface| surface.throw_measure.throw_mm(surface.chord_mm, at.deflection_deg).map_err(at_fault))
        .transpose()?;
    let play = match (question.surface, question.servo_play_deg, question.hole_play_mm) {
        (_, None, None) => None,
        (None, _, _) => {
            return Err(BadQuestion::at("/surface", "play at the trailing edge needs the surface's chord"));
        }
        (Some(surface), servo, holes) => Some(
            surface_play(&at, surface.chord_mm, servo.unwrap_or(0.0), holes.unwrap_or(0.0))
                .map_err(|why| bad_linkage("", why))?,
        ),
    };
    Ok(DeflectionRow {
        servo_deg,
        deflection_deg: at.deflection_deg,
        u_deflection_deg,
        plain_ratio_deg: (drawn.horn_mm != 0.0).then(|| -servo_deg * drawn.arm_mm / drawn.horn_mm.abs()),
        gain: at.gain,
        deflection_deg_per_us: question.servo_deg_per_us.map(|per_us| at.gain * per_us),
        throw_mm,
        play,
        transmission_deg: at.transmission_deg,
    })
}

/// Each servo angle that stands in the table both ways, once.
pub(super) fn differentials(rows: &[DeflectionRow]) -> Vec<Differential> {
    let mut found: Vec<Differential> = Vec::new();
    for aft in rows.iter().filter(|row| row.servo_deg > 0.0) {
        let is_known = found.iter().any(|known| known.servo_deg == aft.servo_deg);
        let forward = rows.iter().find(|row| row.servo_deg == -aft.servo_deg);
        if let Some(forward) = forward.filter(|_| !is_known && aft.deflection_deg != 0.0) {
            found.push(Differential {
                servo_deg: aft.servo_deg,
                forward_deg: forward.deflection_deg,
                aft_deg: aft.deflection_deg,
                ratio: (forward.deflection_deg / aft.deflection_deg).abs(),
            });
        }
    }
    found
}
