//! The loads of a linkage question: torque, rod force and the speed limit.

use super::super::BadQuestion;
use super::answer::{CoefficientSource, LoadAnswer};
use super::fault::bad_linkage;
use super::question::{LinkageQuestion, LoadQuestion, SurfaceQuestion};
use crate::formulas::linkage::flap_derivatives::{THEORY_HOLDS_TO_DEG, flap_derivatives};
use crate::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use crate::formulas::linkage::load::{
    AirLoad, FlapSurface, LINKAGE_EFFICIENCY, SEA_LEVEL_DENSITY_KG_M3, U_HINGE_COEFFICIENT,
};
use crate::formulas::linkage::tolerance::gain_uncertainty;

const MOST_LOADS: usize = 100;

pub(super) fn loads(
    question: &LinkageQuestion,
    drawn: &LinkageGeometry,
    linkage: &Linkage,
) -> Result<Vec<LoadAnswer>, BadQuestion> {
    if question.loads.is_empty() {
        return Ok(Vec::new());
    }
    if question.loads.len() > MOST_LOADS {
        return Err(BadQuestion::at("/loads", "at most 100 loads are computed at once"));
    }
    let u_share = question.u_hinge_coefficient.unwrap_or(U_HINGE_COEFFICIENT);
    if !u_share.is_finite() || u_share < 0.0 {
        return Err(BadQuestion::at("/u_hinge_coefficient", "an uncertainty must be 0 or more"));
    }
    let surface = question
        .surface
        .ok_or_else(|| BadQuestion::at("/surface", "loads need the surface's chord and span"))?;
    let span_mm = surface
        .span_mm
        .ok_or_else(|| BadQuestion::at("/surface/span_mm", "loads need the surface's span"))?;
    let flap = FlapSurface { chord_mm: surface.chord_mm, span_mm };
    let asked = question.loads.iter().enumerate();
    let uncertainty = question.uncertainty.unwrap_or_default();
    asked
        .map(|(index, load)| {
            let mut answer = one(question, linkage, &surface, &flap, index, load)?;
            let u_gain = gain_uncertainty(drawn, load.servo_deg, &uncertainty)
                .map_err(|why| bad_linkage(&format!("/loads/{index}"), why))?;
            spread(&mut answer, u_share, u_gain);
            Ok(answer)
        })
        .collect()
}

fn one(
    question: &LinkageQuestion,
    linkage: &Linkage,
    surface: &SurfaceQuestion,
    flap: &FlapSurface,
    index: usize,
    asked: &LoadQuestion,
) -> Result<LoadAnswer, BadQuestion> {
    let base = format!("/loads/{index}");
    let at_fault = |why| bad_linkage(&base, why);
    let at = linkage.at(asked.servo_deg).map_err(|why| match bad_linkage(&base, why) {
        bad if bad.pointer == base => BadQuestion::at(format!("{base}/servo_deg"), &why),
        bad => bad,
    })?;
    let (hinge_coefficient, coefficient_source) = coefficient(surface, asked, at.deflection_deg, &base)?;
    let air = AirLoad {
        speed_ms: asked.speed_ms,
        density_kg_m3: question.density_kg_m3.unwrap_or(SEA_LEVEL_DENSITY_KG_M3),
        hinge_coefficient,
        efficiency: question.efficiency.unwrap_or(LINKAGE_EFFICIENCY),
    };
    let load = air.on(flap, &at).map_err(at_fault)?;
    let speed_limit_ms = question
        .servo_torque_nm
        .filter(|torque| load.servo_torque_nm > 0.0 || !torque.is_finite() || *torque <= 0.0)
        .map(|torque| air.speed_limit_ms(flap, &at, torque).map_err(at_fault))
        .transpose()?;
    Ok(LoadAnswer {
        servo_deg: asked.servo_deg,
        deflection_deg: at.deflection_deg,
        speed_ms: asked.speed_ms,
        hinge_coefficient,
        coefficient_source,
        load,
        gain: at.gain,
        u_gain: None,
        u_servo_torque_nm: 0.0,
        speed_limit_ms,
        u_speed_limit_ms: None,
        is_beyond_servo: question.servo_torque_nm.map(|torque| load.servo_torque_nm > torque),
    })
}

/// Torque goes with coefficient and gain, speed with the root of one over both. Right beside a dead point, where the
/// gain's own uncertainty has no number, the coefficient's stands alone.
fn spread(answer: &mut LoadAnswer, u_coefficient: f64, u_gain: Option<f64>) {
    let of_gain = u_gain.filter(|_| answer.gain != 0.0).map_or(0.0, |u| u / answer.gain.abs());
    let share = u_coefficient.hypot(of_gain);
    answer.u_gain = u_gain;
    answer.u_servo_torque_nm = answer.load.servo_torque_nm.abs() * share;
    answer.u_speed_limit_ms = answer.speed_limit_ms.map(|limit| limit * share / 2.0);
}

fn coefficient(
    surface: &SurfaceQuestion,
    asked: &LoadQuestion,
    deflection_deg: f64,
    base: &str,
) -> Result<(f64, CoefficientSource), BadQuestion> {
    if let Some(given) = asked.hinge_coefficient {
        return Ok((given.abs(), CoefficientSource::Given));
    }
    let ratio = surface.chord_ratio.ok_or_else(|| {
        BadQuestion::at(
            format!("{base}/hinge_coefficient"),
            "give a hinge-moment coefficient, or the surface's chord_ratio for one from theory",
        )
    })?;
    if asked.incidence_deg.is_nan() || asked.incidence_deg.abs() > 90.0 {
        return Err(BadQuestion::at(format!("{base}/incidence_deg"), "it must lie within -90 to 90°"));
    }
    let flap = flap_derivatives(ratio).map_err(|why| bad_linkage(base, why))?;
    let source = if deflection_deg.abs() <= THEORY_HOLDS_TO_DEG {
        CoefficientSource::ThinAerofoil
    } else {
        CoefficientSource::ThinAerofoilBeyondItsRange
    };
    Ok((flap.hinge_coefficient(deflection_deg, asked.incidence_deg).abs(), source))
}
