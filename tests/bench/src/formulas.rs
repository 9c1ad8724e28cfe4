//! The work that is measured: a linkage table of 1,000 points, CG and inertia of a model of 60 parts, a ballast
//! search, a Weibull fit of 1,000 lives of which about six in ten are censored. Inputs are made by rule, so that every run
//! and every program has the same.

use preen_domain::formulas::balance::{MassAndCg, PointItem, balance};
use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, choose_ballast};
use preen_domain::formulas::inertia::inertia;
use preen_domain::formulas::life::Life;
use preen_domain::formulas::life::weibull::fit_weibull;
use preen_domain::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use serde_json::json;

/// One piece of work and the numbers that come out of it.
pub struct Work {
    /// Its name.
    pub name: &'static str,
    /// Does it once.
    pub run: Box<dyn Fn() -> Vec<f64>>,
}

const POINTS: u16 = 1_000;
const FROM_DEG: f64 = -55.0;
const TO_DEG: f64 = 20.0;

const GEOMETRY: LinkageGeometry = LinkageGeometry {
    arm_mm: 4.5,
    arm_deg: 28.0,
    hinge_x_mm: 62.0,
    hinge_z_mm: 3.5,
    horn_mm: 4.6,
    set_back_mm: 0.5,
    rod_mm: None,
};

/// A number between 0 and 1 for each index: the fractional part of multiples of the golden ratio.
fn spread(index: u16) -> f64 {
    (f64::from(index) * 0.618_033_988_749_894_9).fract()
}

fn servo_angles() -> Vec<f64> {
    (0..POINTS)
        .map(|point| FROM_DEG + (TO_DEG - FROM_DEG) * f64::from(point) / f64::from(POINTS - 1))
        .collect()
}

fn parts() -> Vec<PointItem> {
    (0..60)
        .map(|part| PointItem {
            mass_g: 1.0 + 80.0 * spread(part),
            x_mm: -400.0 + 1_500.0 * spread(part + 100),
            y_mm: -1_900.0 + 3_800.0 * spread(part + 200),
            z_mm: -30.0 + 90.0 * spread(part + 300),
            own_span_mm: if part % 5 == 0 { 900.0 } else { 0.0 },
            own_length_mm: 0.0,
        })
        .collect()
}

fn ballast() -> BallastProblem {
    let cell = |x_mm| Cell { x_mm, y_mm: 0.0, capacity: 3 };
    let kind = |mass_g, count| SlugKind { mass_g, count };
    BallastProblem {
        base: MassAndCg { mass_g: 1_202.5, x_mm: 96.515_592_515_592_52, ..MassAndCg::default() },
        kinds: vec![kind(50.0, 6), kind(30.0, 4), kind(15.2, 4)],
        cells: vec![cell(62.0), cell(98.0), cell(134.0)],
        pairs: Vec::new(),
        target_mass_g: 1_453.245,
        mass_tolerance_g: 8.0,
        target_x_mm: 96.515_592_515_592_52,
        x_tolerance_mm: 0.5,
        y_tolerance_mm: 0.5,
    }
}

/// Ages with shape 2.4 and scale 130, watched to an end that comes sooner for about six in ten.
fn lives() -> Vec<Life> {
    (0..1_000)
        .map(|index| {
            let age = 130.0 * (-(1.0 - (0.0005 + 0.999 * spread(index))).ln()).powf(1.0 / 2.4);
            let watched = 20.0 + 150.0 * (f64::from(index) * std::f64::consts::SQRT_2).fract();
            if age <= watched { Life::failed(age) } else { Life::running(watched) }
        })
        .collect()
}

/// Every work.
pub fn works() -> Vec<Work> {
    let (angles, items, problem, watched) = (servo_angles(), parts(), ballast(), lives());
    vec![
        Work {
            name: "linkage_table",
            run: Box::new(move || {
                let linkage = Linkage::new(&GEOMETRY).unwrap();
                angles
                    .iter()
                    .flat_map(|servo| {
                        let position = linkage.at(*servo).unwrap();
                        [position.deflection_deg, position.gain]
                    })
                    .collect()
            }),
        },
        Work {
            name: "cg_and_inertia",
            run: Box::new(move || {
                let cg = balance(&items).unwrap();
                let about = inertia(&items).unwrap();
                vec![
                    cg.mass_g,
                    cg.x_mm,
                    cg.y_mm,
                    cg.z_mm,
                    about.roll_kg_m2,
                    about.pitch_kg_m2,
                    about.yaw_kg_m2,
                ]
            }),
        },
        Work {
            name: "ballast_search",
            run: Box::new(move || {
                let best = choose_ballast(&problem).unwrap().best.unwrap();
                vec![f64::from(best.slugs), best.mass_g, best.x_mm]
            }),
        },
        Work {
            name: "weibull_fit",
            run: Box::new(move || {
                let fit = fit_weibull(&watched).unwrap();
                vec![fit.eta, fit.beta, fit.se_log_eta, fit.se_log_beta]
            }),
        },
    ]
}

/// The same as JSON.
pub fn inputs() -> String {
    let problem = ballast();
    let names: Vec<&str> = works().iter().map(|work| work.name).collect();
    json!({
        "works": names,
        "linkage": GEOMETRY,
        "servo_deg": servo_angles(),
        "parts": parts(),
        "ballast": {
            "base": problem.base, "kinds": problem.kinds, "cells": problem.cells,
            "target_mass_g": problem.target_mass_g, "mass_tolerance_g": problem.mass_tolerance_g,
            "target_x_mm": problem.target_x_mm, "x_tolerance_mm": problem.x_tolerance_mm,
        },
        "lives": lives(),
    })
    .to_string()
}
