//! Linkages: published four-bar positions, and the worked example of a landing flap.

use preen_domain::formulas::linkage::fit::{MeasuredDeflection, fit_geometry};
use preen_domain::formulas::linkage::flap_derivatives::flap_derivatives;
use preen_domain::formulas::linkage::four_bar::{FourBar, FourBarError};
use preen_domain::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use preen_domain::formulas::linkage::load::{AirLoad, FlapSurface, SEA_LEVEL_DENSITY_KG_M3};
use preen_domain::formulas::linkage::mismatch::{ComparedTravel, MismatchCure, UNSEEN_MM, mismatch};
use preen_domain::formulas::linkage::parameter::LinkageParameter::{self, ArmDeg, HornMm, RodMm};
use preen_domain::formulas::linkage::play::surface_play;
use preen_domain::formulas::linkage::throws::ThrowMeasure;
use preen_domain::formulas::linkage::tolerance::{GeometryUncertainty, deflection_uncertainty_deg};

use crate::close::close;

fn four_bar([crank_mm, coupler_mm, rocker_mm, ground_mm]: [f64; 4]) -> FourBar {
    FourBar { crank_mm, coupler_mm, rocker_mm, ground_mm }
}

#[test]
fn four_bar_positions_on_both_branches() {
    // Links a, b, c, d and crank angle; then coupler, rocker and transmission angle of the open and the crossed branch.
    type Position = [f64; 3];
    let check = |source: &str, links, crank_deg, expected: [Position; 2]| {
        let found = four_bar(links).positions(crank_deg).expect(source);
        for (at, [coupler, rocker, transmission]) in found.iter().zip(expected) {
            close(source, at.coupler_deg, coupler, 1e-9);
            close(source, at.rocker_deg, rocker, 1e-9);
            close(source, at.transmission_deg, transmission, 1e-9);
        }
    };
    check(
        "R. L. Norton, Design of Machinery, example 4-1 (links from memory; computed with 40 digits; printed from \
         memory 20.298 57.325 −60.98 −98.01)",
        [40.0, 120.0, 80.0, 100.0],
        40.0,
        [
            [20.2978827881965, 57.3248800703608, 37.0269972822],
            [-60.9779667958644, -98.0049640780288, 37.0269972822],
        ],
    );
    let own = "own links, computed with 40 digits";
    check(
        own,
        [12.0, 70.2, 15.0, 70.0],
        90.0,
        [
            [2.44878059594973, 89.4809142582675, 87.0321336623],
            [-21.9039376987529, -108.936071361071, 87.0321336623],
        ],
    );
    check(
        own,
        [12.0, 70.2, 15.0, 70.0],
        135.0,
        [
            [3.22125951418526, 124.03827327488, 59.1829862393],
            [-15.5621668989901, -136.379180659685, 59.1829862393],
        ],
    );
    check(
        own,
        [9.5, 92.0, 11.5, 92.6],
        60.0,
        [
            [1.56402368433258, 69.0293810419408, 67.4653573576],
            [-12.2644292165438, -79.729786574152, 67.4653573576],
        ],
    );
    check(
        own,
        [9.5, 92.0, 11.5, 92.6],
        105.0,
        [
            [1.18585771772284, 105.527114529788, 75.6587431879],
            [-12.2135384248075, -116.554795236872, 75.6587431879],
        ],
    );
    check(
        "parallelogram, own links: the rocker follows the crank on one branch",
        [10.0, 50.0, 10.0, 50.0],
        75.0,
        [[0.0, 75.0, 75.0], [-23.0306723659185, -98.0306723659185, 75.0]],
    );
}

#[test]
fn four_bars_that_cannot_be_assembled() {
    let check = |source: &str, links, crank_deg| {
        let refused = four_bar(links).positions(crank_deg);
        assert!(matches!(refused, Err(FourBarError::CannotAssemble { .. })), "{source}: {refused:?}");
    };
    check("Grashof: shortest and longest 30 + 70, the others 50 + 60", [50.0, 60.0, 30.0, 70.0], 10.0);
    check("own links, the ground link too long", [20.0, 25.0, 22.0, 80.0], 0.0);
}

#[test]
fn output_of_a_four_bar_against_its_input() {
    // Own links, computed with 40 digits: the differential that geometry alone makes.
    let bars = four_bar([12.0, 70.0, 15.0, 70.07]);
    let rocker = |crank_deg| bars.positions(crank_deg).expect("assembled")[0].rocker_deg;
    for (servo, expected) in [
        (-40.0, -30.6968583111),
        (-20.0, -15.8263020306),
        (-10.0, -7.9712380179),
        (10.0, 7.9935957869),
        (20.0, 15.9200285944),
        (40.0, 31.1542005863),
    ] {
        close("deflection against servo travel", rocker(90.0 + servo) - rocker(90.0), expected, 1e-8);
    }
}

#[test]
fn a_servo_linkage_is_the_four_bar_between_its_pivots() {
    // The same linkage seen both ways: ground along +x, arm and horn counted from straight down there, from +x here.
    let drawn = LinkageGeometry {
        arm_mm: 12.0,
        arm_deg: 10.0,
        hinge_x_mm: 70.0,
        hinge_z_mm: 0.0,
        horn_mm: 15.0,
        set_back_mm: 2.0,
        rod_mm: None,
    };
    let linkage = Linkage::new(&drawn).expect("assembled");
    let bars = four_bar([12.0, linkage.rod_mm(), 15.0f64.hypot(2.0), 70.0]);
    // Arm and horn hang below the line of pivots, where the rocker lies left of the way to the crank: crossed.
    let rocker = |servo: f64| bars.positions(10.0 - 90.0 + servo).expect("assembled")[1].rocker_deg;
    for servo in [-40.0, -15.0, 5.0, 35.0] {
        let deflection = linkage.at(servo).expect("inside its travel").deflection_deg;
        close("deflection", deflection, rocker(0.0) - rocker(servo), 1e-9);
    }
}

#[test]
fn throws_in_three_measures() {
    // Geometry; the three usual definitions differ.
    for (chord, deg, [straight, normal, arc]) in [
        (42.0, 15.0, [10.9642, 10.8704, 10.995574]),
        (38.0, -6.5, [4.308652, 4.301722, 4.310963]),
        (55.0, 80.0, [70.706637, 54.164426, 76.794487]),
    ] {
        let throw = |measure: ThrowMeasure| measure.throw_mm(chord, deg).expect("a throw").abs();
        close("straight", throw(ThrowMeasure::StraightChord), straight, 1e-6);
        close("normal", throw(ThrowMeasure::Normal), normal, 1e-6);
        close("arc", throw(ThrowMeasure::Arc), arc, 1e-6);
    }
}

#[test]
fn thin_aerofoil_flap_derivatives() {
    // Glauert 1927; Houghton & Carpenter, Aerodynamics for Engineering Students, 4.49 to 4.54; evaluated independently.
    for [ratio, tau, a2, cm, b1, b2] in [
        [0.05, 0.2823143558, 1.773833412, -0.4140953996, -0.2411241195, -0.866155629],
        [0.1, 0.3958186964, 2.487002218, -0.54, -0.3448558569, -0.8842293771],
        [0.2, 0.5498151442, 3.454590436, -0.64, -0.499381505, -0.9228767358],
        [0.25, 0.608997781, 3.82644591, -0.6495190528, -0.5653472565, -0.9436078642],
        [0.35, 0.7066615946, 4.440085748, -0.6200604809, -0.6869154564, -0.9883745909],
        [0.5, 0.8183098862, 5.141592654, -0.5, -0.8584073464, -1.065823446],
    ] {
        let found = flap_derivatives(ratio).expect("a flap");
        let case = format!("flap of {ratio} of the chord");
        close(&case, found.tau, tau, 1e-8);
        close(&case, found.a2_per_rad, a2, 1e-8);
        close(&case, found.cm_per_rad, cm, 1e-8);
        close(&case, found.b1_per_rad, b1, 1e-8);
        close(&case, found.b2_per_rad, b2, 1e-8);
    }
}

/// The landing flap of the worked example: arm at 28°, computed independently as all its numbers.
pub fn landing_flap(arm_deg: f64) -> LinkageGeometry {
    LinkageGeometry {
        arm_mm: 4.5,
        arm_deg,
        hinge_x_mm: 62.0,
        hinge_z_mm: 3.5,
        horn_mm: 4.6,
        set_back_mm: 0.5,
        rod_mm: None,
    }
}

const CHORD_MM: f64 = 62.0;

#[test]
fn deflection_table_of_the_worked_example() {
    let linkage = Linkage::new(&landing_flap(28.0)).expect("assembled");
    close("rod", linkage.rod_mm(), 60.46, 0.005);
    for (servo, deflection, gain, per_us, play) in [
        (20.0, -16.1, 0.721, 0.072, 0.47),
        (10.0, -8.5, 0.809, 0.081, 0.53),
        (0.0, 0.0, 0.881, 0.088, 0.57),
        (-10.0, 9.1, 0.944, 0.094, 0.61),
        (-20.0, 18.9, 1.008, 0.101, 0.65),
        (-30.0, 29.3, 1.083, 0.108, 0.70),
        (-40.0, 40.7, 1.193, 0.119, 0.77),
        (-50.0, 53.5, 1.404, 0.140, 0.91),
        (-55.0, 61.0, 1.628, 0.163, 1.06),
        (-60.0, 70.3, 2.175, 0.218, 1.41),
    ] {
        let case = format!("servo {servo}");
        let at = linkage.at(servo).expect("inside its travel");
        close(&case, at.deflection_deg, deflection, 0.05);
        close(&case, at.gain, gain, 0.0005);
        close(&case, at.gain * 0.1, per_us, 0.0005);
        let found = surface_play(&at, CHORD_MM, 0.6, 0.0).expect("play").total_mm;
        close(&case, found, play, 0.005);
        assert!(linkage.closure(&at) < 1e-12, "{case}: the loop is open by {}", linkage.closure(&at));
    }
    let deflection = |servo| linkage.at(servo).expect("inside its travel").deflection_deg;
    close("differential at 20°", -deflection(-20.0) / deflection(20.0), 1.17, 0.005);
    close("what the plain ratio of radii predicts", 4.5 / 4.6 * 50.0, 48.9, 0.05);
}

#[test]
fn play_of_the_worked_example_adds_up() {
    let neutral = Linkage::new(&landing_flap(28.0)).expect("assembled").at(0.0).expect("neutral");
    let play = surface_play(&neutral, CHORD_MM, 0.6, 0.06).expect("play");
    close("from the servo", play.servo_mm, 0.57, 0.005);
    // The plain ratio 0.06/4.6 is 0.747°; the rod stands a little askew, so that the true lever is 4.62 mm.
    close("from the holes", play.holes_deg, 0.747, 0.004);
    close("from the holes", play.holes_mm, 0.81, 0.005);
    close("both", play.total_mm, 1.38, 0.005);
}

#[test]
fn torque_and_rod_force_of_the_worked_example() {
    let linkage = Linkage::new(&landing_flap(28.0)).expect("assembled");
    let flap = FlapSurface { chord_mm: CHORD_MM, span_mm: 930.0 };
    let load = |servo, speed_ms, hinge_coefficient| {
        let air =
            AirLoad { speed_ms, density_kg_m3: SEA_LEVEL_DENSITY_KG_M3, hinge_coefficient, efficiency: 0.9 };
        let at = linkage.at(servo).expect("inside its travel");
        (air.on(&flap, &at).expect("a load"), air.speed_limit_ms(&flap, &at, 0.344).expect("a limit"))
    };
    let (slow, limit_ms) = load(-50.0, 12.0, 0.70);
    close("q", slow.dynamic_pressure_pa, 88.2, 0.05);
    close("H", slow.hinge_moment_nm, 0.221, 0.0005);
    close("T", slow.servo_torque_nm, 0.344, 0.0005);
    close("rod at the horn", slow.rod_force_n, 77.0, 0.5);
    close("rod with the loss at the flap", slow.rod_force_most_n, 85.0, 0.5);
    close("speed at which that torque is reached", limit_ms, 12.0, 0.01);
    close("the same flap at 20 m/s", load(-50.0, 20.0, 0.70).0.servo_torque_nm, 0.956, 0.0005);
    close("camber at 28 m/s", load(-10.0, 28.0, 0.15).0.servo_torque_nm, 0.270, 0.0005);
    // Thin-aerofoil theory gives that coefficient, for a flap of 62 mm on a chord of 232 mm.
    let theory = flap_derivatives(62.0 / 232.0).expect("a flap").hinge_coefficient(9.1, 0.0);
    close("coefficient at 9.1°", theory, 0.15, 0.005);
}

#[test]
fn left_against_right_of_the_worked_example() {
    // The right arm sits a fraction of a tooth off: 33° for 28°, its rod cut anew so that neutral is 0°.
    let left = Linkage::new(&landing_flap(28.0)).expect("assembled");
    let right = Linkage::new(&landing_flap(33.0)).expect("assembled");
    let travel = ComparedTravel { forward_deg: -50.0, aft_deg: 20.0 };
    let commands = [-10.0, -20.0, -30.0, -40.0, -50.0];
    let found = mismatch(&left, &right, &travel, &commands, CHORD_MM, UNSEEN_MM).expect("comparable");
    close("end point", found.end_point_forward_pct.expect("travel down"), 100.3, 0.05);
    for (row, expected) in found.rows.iter().zip([-0.31, -0.48, -0.52, -0.39, 0.0]) {
        close(&format!("at {}", row.servo_deg), row.with_end_points.difference_deg, expected, 0.005);
    }
    close("at mid travel", found.rows[2].with_end_points.difference_mm, -0.56, 0.005);
    assert_eq!(found.cure, MismatchCure::FivePointCurve);
    assert!(found.worst_with_end_points.difference_mm < -0.56);
    assert!(found.worst_with_curve.difference_mm.abs() < 0.2, "{:?}", found.worst_with_curve);
}

#[test]
fn geometry_behind_measured_throws() {
    // Own throws; computed with SciPy: Newton's method on the loop, `least_squares` by Levenberg–Marquardt, uncertainties
    // from the residual variance and the normal matrix.
    type Expected<'a> = &'a [(LinkageParameter, f64, f64)];
    let check = |points: &[(f64, f64)], expected: Expected<'_>, sd_deg| {
        let points: Vec<MeasuredDeflection> = points
            .iter()
            .map(|(servo_deg, deflection_deg)| MeasuredDeflection {
                servo_deg: *servo_deg,
                deflection_deg: *deflection_deg,
            })
            .collect();
        let unknowns: Vec<LinkageParameter> = expected.iter().map(|one| one.0).collect();
        let fit = fit_geometry(&landing_flap(28.0), &unknowns, &points).expect("fitted");
        for (found, (parameter, value, u)) in fit.fitted.iter().zip(expected) {
            assert_eq!(found.parameter, *parameter);
            close(parameter.as_str(), found.value, *value, 2e-6);
            close(parameter.as_str(), found.u.expect("points left over"), *u, 1e-5 * u + 1e-6);
        }
        close("standard deviation of a point", fit.sd_deg.expect("points left over"), sd_deg, 1e-9);
    };
    let from_mm = ThrowMeasure::StraightChord.deflection_deg(CHORD_MM, 56.0).expect("a throw");
    check(
        &[(20.0, -16.1), (-20.0, 18.8), (-35.0, 35.0), (-50.0, from_mm)],
        &[(ArmDeg, 28.447426899857, 0.37760027), (HornMm, 4.587141158178, 0.00510143)],
        0.08859580220669,
    );
    check(
        &[
            (25.0, -19.5),
            (15.0, -11.8),
            (0.0, 0.8),
            (-10.0, 9.9),
            (-20.0, 19.5),
            (-30.0, 30.6),
            (-40.0, 41.4),
            (-50.0, 54.9),
        ],
        &[
            (ArmDeg, 26.628666715619, 0.99394814),
            (HornMm, 4.586465119292, 0.02029034),
            (RodMm, 60.500966487648, 0.06536374),
        ],
        0.269273319658544,
    );
}

#[test]
fn uncertainty_of_a_deflection() {
    // Computed in Python by numeric derivatives of another solution of the loop (Newton's method).
    let u = deflection_uncertainty_deg(&landing_flap(28.0), -50.0, &GeometryUncertainty::default());
    close("u at full down", u.expect("computed").expect("away from dead points"), 2.531580331, 1e-6);
}
