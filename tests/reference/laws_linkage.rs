//! Laws of linkages and covers that hold for all inputs, tried on random ones: the loop closes, both directions agree,
//! a mirrored linkage moves mirrored, the surface never turns back inside its travel, what is proposed reaches, and
//! nothing that can be typed gives a number that is none.

use preen_domain::formulas::cover::{ArmSwing, ArmUnderCover, fit_cover};
use preen_domain::formulas::linkage::fit::{MeasuredDeflection, fit_geometry};
use preen_domain::formulas::linkage::four_bar::FourBar;
use preen_domain::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use preen_domain::formulas::linkage::mismatch::{ComparedTravel, UNSEEN_MM, mismatch};
use preen_domain::formulas::linkage::parameter::LinkageParameter;
use preen_domain::formulas::linkage::proposal::{CoverRoom, SizeSteps, WantedThrows, propose};
use preen_domain::formulas::linkage::tolerance::{GeometryUncertainty, deflection_uncertainty_deg};
use proptest::prelude::*;

/// Linkages as they are built, and odd ones.
fn drawn() -> impl Strategy<Value = LinkageGeometry> {
    (
        2.0..25.0f64,
        -170.0..170.0f64,
        30.0..300.0f64,
        -20.0..20.0f64,
        prop_oneof![3.0..25.0f64, -25.0..-3.0f64],
        -5.0..5.0f64,
        -4.0..4.0f64,
    )
        .prop_map(|(arm_mm, arm_deg, hinge_x_mm, hinge_z_mm, horn_mm, set_back_mm, longer)| {
            let mut drawn = LinkageGeometry {
                arm_mm,
                arm_deg,
                hinge_x_mm,
                hinge_z_mm,
                horn_mm,
                set_back_mm,
                rod_mm: None,
            };
            // Every other one with a rod that puts neutral off.
            if longer > 0.0
                && let Ok(cut) = Linkage::new(&drawn)
            {
                drawn.rod_mm = Some(cut.rod_mm() + (longer - 2.0) / 2.0);
            }
            drawn
        })
}

/// A share of the travel on either side, without its very ends.
fn servo(linkage: &Linkage, share: f64) -> f64 {
    let (from, to) = linkage.travel().limits_deg();
    let end = if share < 0.0 { from } else { to };
    end.expect("an arm shorter than the ground link has dead points") * share.abs()
}

fn random() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, cases: 1000, ..ProptestConfig::default() }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -1e3..1e3f64,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(1e-300),
        Just(1e300)
    ]
}

proptest! {
    #![proptest_config(random())]

    #[test]
    fn the_loop_of_a_four_bar_closes(
        crank_mm in 1.0..100.0f64, coupler_mm in 1.0..100.0f64, rocker_mm in 1.0..100.0f64, ground_mm in 1.0..100.0f64,
        crank_deg in -720.0..720.0f64,
    ) {
        let bars = FourBar { crank_mm, coupler_mm, rocker_mm, ground_mm };
        if let Ok(found) = bars.positions(crank_deg) {
            let size = crank_mm + coupler_mm + rocker_mm + ground_mm;
            for at in found {
                let end = |deg: f64, mm: f64| (mm * deg.to_radians().cos(), mm * deg.to_radians().sin());
                let (a, b, c) = (end(crank_deg, crank_mm), end(at.coupler_deg, coupler_mm), end(at.rocker_deg, rocker_mm));
                let open = (a.0 + b.0 - c.0 - ground_mm).hypot(a.1 + b.1 - c.1);
                prop_assert!(open <= 1e-12 * size, "open by {open}");
                prop_assert!((0.0..=90.0 + 1e-9).contains(&at.transmission_deg));
            }
        }
    }

    #[test]
    fn the_loop_of_a_linkage_closes_and_both_ways_agree(drawn in drawn(), share in -0.999..0.999f64) {
        if let Ok(linkage) = Linkage::new(&drawn) {
            let servo_deg = servo(&linkage, share);
            let at = linkage.at(servo_deg).expect("inside its travel");
            prop_assert!(linkage.closure(&at) < 1e-12, "open by {}", linkage.closure(&at));
            let back = linkage.servo_for(at.deflection_deg).expect("reached before");
            // Near a dead point of the arm a hair of deflection is much of servo angle.
            prop_assert!(((back - servo_deg) * at.gain).abs() < 1e-9, "{servo_deg} came back as {back}");
        }
    }

    #[test]
    fn the_gain_is_the_slope_of_the_deflection(drawn in drawn(), share in -0.9..0.9f64) {
        if let Ok(linkage) = Linkage::new(&drawn) {
            let servo_deg = servo(&linkage, share);
            let at = |deg: f64| linkage.at(deg).expect("inside its travel");
            let step = 1e-5;
            let slope = (at(servo_deg - step).deflection_deg - at(servo_deg + step).deflection_deg) / (2.0 * step);
            prop_assert!((slope - at(servo_deg).gain).abs() < 1e-4 * (1.0 + slope.abs()), "{slope}");
        }
    }

    #[test]
    fn a_surface_moves_one_way_between_dead_points(drawn in drawn()) {
        // Too many drawings that cannot be built would fail here.
        prop_assume!(Linkage::new(&drawn).is_ok());
        if let Ok(linkage) = Linkage::new(&drawn) {
            let at = |n: i32| linkage.at(servo(&linkage, f64::from(n) / 51.0)).expect("inside its travel");
            let deflections: Vec<f64> = (-50..=50).map(|n| at(n).deflection_deg).collect();
            let is_falling = deflections.windows(2).all(|pair| pair[1] < pair[0]);
            let is_rising = deflections.windows(2).all(|pair| pair[1] > pair[0]);
            prop_assert!(is_falling || is_rising, "{deflections:?}");
            prop_assert_eq!(is_falling, at(0).gain > 0.0);
        }
    }

    #[test]
    fn beyond_a_dead_point_nothing_is_said(drawn in drawn(), beyond in 1e-6..30.0f64) {
        if let Ok(linkage) = Linkage::new(&drawn) {
            let (from, to) = linkage.travel().limits_deg();
            for deg in [from.expect("a dead point") - beyond, to.expect("a dead point") + beyond] {
                prop_assert!(linkage.at(deg.clamp(-360.0, 360.0)).is_err());
            }
        }
    }

    #[test]
    fn a_mirrored_linkage_moves_mirrored(drawn in drawn(), share in -0.99..0.99f64) {
        // Turned over about the line aft through the servo's axis: arm and horn point the other way up.
        let mirrored = LinkageGeometry {
            arm_deg: 180.0 - drawn.arm_deg,
            hinge_z_mm: -drawn.hinge_z_mm,
            horn_mm: -drawn.horn_mm,
            ..drawn
        };
        match (Linkage::new(&drawn), Linkage::new(&mirrored)) {
            (Ok(one), Ok(other)) => {
                let servo_deg = servo(&one, share);
                let (one, other) = (one.at(servo_deg).expect("inside"), other.at(-servo_deg).expect("inside"));
                prop_assert!((one.deflection_deg + other.deflection_deg).abs() < 1e-7);
                prop_assert!((one.gain - other.gain).abs() < 1e-6 * (1.0 + one.gain.abs()));
            }
            (Err(_), Err(_)) => {}
            (one, other) => prop_assert!(false, "{one:?} but {other:?}"),
        }
    }

    #[test]
    fn size_changes_no_deflection(drawn in drawn(), by in 0.5..20.0f64, share in -0.99..0.99f64) {
        let larger = LinkageGeometry {
            arm_mm: drawn.arm_mm * by,
            hinge_x_mm: drawn.hinge_x_mm * by,
            hinge_z_mm: drawn.hinge_z_mm * by,
            horn_mm: drawn.horn_mm * by,
            set_back_mm: drawn.set_back_mm * by,
            rod_mm: drawn.rod_mm.map(|mm| mm * by),
            ..drawn
        };
        if let (Ok(one), Ok(other)) = (Linkage::new(&drawn), Linkage::new(&larger)) {
            let servo_deg = servo(&one, share);
            let (one, other) = (one.at(servo_deg).expect("inside"), other.at(servo_deg).expect("inside"));
            prop_assert!((one.deflection_deg - other.deflection_deg).abs() < 1e-7);
        }
    }

    #[test]
    fn sides_that_are_alike_differ_nowhere_and_points_of_a_curve_are_equal(
        drawn in drawn(), off in -8.0..8.0f64, share in 0.1..0.6f64,
    ) {
        let other = LinkageGeometry { arm_deg: drawn.arm_deg + off, ..drawn };
        if let (Ok(left), Ok(right)) = (Linkage::new(&drawn), Linkage::new(&other)) {
            let travel = ComparedTravel { forward_deg: servo(&left, -share), aft_deg: servo(&left, share) };
            let same = mismatch(&left, &left, &travel, &[], 60.0, UNSEEN_MM).expect("comparable");
            prop_assert!(same.worst_as_built.difference_mm == 0.0);
            prop_assert!(same.worst_with_end_points.difference_mm.abs() < 1e-6);
            let commands = [travel.forward_deg, travel.forward_deg / 2.0, 0.0, travel.aft_deg / 2.0, travel.aft_deg];
            if let Ok(found) = mismatch(&left, &right, &travel, &commands, 60.0, UNSEEN_MM) {
                for row in &found.rows {
                    prop_assert!(row.with_curve.difference_mm.abs() < 1e-6, "{row:?}");
                }
                for row in [&found.rows[0], &found.rows[2], &found.rows[4]] {
                    prop_assert!(row.with_end_points.difference_mm.abs() < 1e-6, "{row:?}");
                }
            }
        }
    }

    #[test]
    fn a_thinner_sheet_and_a_relief_clear(
        axis in 4.0..15.0f64, sheet in 0.2..2.0f64, swept in 2.0..12.0f64, gap in 0.0..0.8f64,
        ends in (-80.0..80.0f64, -80.0..80.0f64),
    ) {
        let swing = Some(ArmSwing { from_deg: ends.0.min(ends.1), to_deg: ends.0.max(ends.1) });
        let cover = ArmUnderCover { axis_to_skin_mm: axis, sheet_mm: sheet, swept_mm: swept, wanted_gap_mm: gap, swing };
        if let Ok(fit) = fit_cover(&cover) {
            for end in [fit.gap_at_from_mm, fit.gap_at_to_mm].into_iter().flatten() {
                prop_assert!(fit.gap_mm <= end + 1e-12);
            }
            prop_assert_eq!(fit.relief.is_none(), fit.is_clear);
            prop_assert!((fit.blister_mm == 0.0) == fit.is_clear);
            if let Some(thickest) = fit.thickest_sheet_mm {
                prop_assert_eq!(fit_cover(&ArmUnderCover { sheet_mm: thickest, ..cover }).expect("a cover").is_clear, true);
                prop_assert_eq!(thickest >= sheet - 1e-9, fit.is_clear);
            }
            if let Some(relief) = fit.relief {
                // At the slot's ends the arm leaves just the gap, unless its swing ends before.
                for mm in [relief.from_mm, relief.to_mm] {
                    let left = axis - sheet - (swept * swept - mm * mm).sqrt();
                    prop_assert!(left <= gap + 1e-9, "{relief:?}");
                }
                prop_assert!(relief.length_mm >= 0.0 && relief.length_mm <= 2.0 * swept);
            }
        }
    }

    #[test]
    fn whatever_is_typed_gives_numbers_or_an_error(
        lengths in (any_number(), any_number(), any_number(), any_number(), any_number()),
        angle in any_number(), servo_deg in any_number(), rod in proptest::option::of(any_number()), u in any_number(),
    ) {
        let drawn = LinkageGeometry {
            arm_mm: lengths.0, arm_deg: angle, hinge_x_mm: lengths.1, hinge_z_mm: lengths.2, horn_mm: lengths.3,
            set_back_mm: lengths.4, rod_mm: rod,
        };
        if let Ok(linkage) = Linkage::new(&drawn) {
            if let Ok(at) = linkage.at(servo_deg) {
                for number in [at.deflection_deg, at.gain, at.arm_lever_mm, at.horn_lever_mm, at.transmission_deg] {
                    prop_assert!(number.is_finite(), "{at:?}");
                }
            }
            if let Ok(found) = linkage.servo_for(servo_deg) {
                prop_assert!(found.is_finite());
            }
        }
        let uncertainty = GeometryUncertainty { length_mm: u, angle_deg: u };
        if let Ok(Some(found)) = deflection_uncertainty_deg(&drawn, servo_deg, &uncertainty) {
            prop_assert!(found.is_finite());
        }
        let point = |servo_deg| MeasuredDeflection { servo_deg, deflection_deg: angle };
        if let Ok(fit) = fit_geometry(&drawn, &[LinkageParameter::HornMm], &[point(servo_deg), point(10.0)]) {
            prop_assert!(fit.rms_deg.is_finite());
        }
    }
}

/// Travels and throws as they are wanted.
fn wanted() -> impl Strategy<Value = WantedThrows> {
    (
        0.0..65.0f64,
        0.0..30.0f64,
        30.0..60.0f64,
        20.0..60.0f64,
        40.0..150.0f64,
        -6.0..6.0f64,
        -1.0..1.0f64,
        5.0..12.0f64,
    )
        .prop_map(
            |(
                down_deg,
                up_deg,
                servo_forward_deg,
                servo_aft_deg,
                hinge_x_mm,
                hinge_z_mm,
                set_back_mm,
                room,
            )| {
                WantedThrows {
                    down_deg,
                    up_deg,
                    servo_forward_deg,
                    servo_aft_deg,
                    hinge_x_mm,
                    hinge_z_mm,
                    set_back_mm,
                    arm_mm: SizeSteps { from: 3.0, to: 9.0, step: 1.0 },
                    arm_deg: SizeSteps { from: -45.0, to: 45.0, step: 3.0 },
                    horn_mm: SizeSteps { from: 3.0, to: 15.0, step: 0.1 },
                    cover: (room > 6.0).then_some(CoverRoom {
                        axis_to_skin_mm: room,
                        sheet_mm: 0.5,
                        tip_mm: 1.9,
                        gap_mm: 0.3,
                    }),
                    least_transmission_deg: 15.0,
                    servo_play_deg: 0.6,
                    hole_play_mm: 0.06,
                }
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..random() })]

    #[test]
    fn what_is_proposed_reaches_and_keeps_the_limits(wanted in wanted()) {
        // Too many wishes that nothing fulfils would fail here.
        let found = propose(&wanted);
        prop_assume!(found.is_ok());
        for one in found.into_iter().flatten() {
            let built = LinkageGeometry {
                arm_mm: one.arm_mm,
                arm_deg: one.arm_deg,
                hinge_x_mm: wanted.hinge_x_mm,
                hinge_z_mm: wanted.hinge_z_mm,
                horn_mm: one.horn_mm,
                set_back_mm: wanted.set_back_mm,
                rod_mm: Some(one.rod_mm),
            };
            let linkage = Linkage::new(&built).expect("assembled");
            let deflection = |servo_deg: f64| linkage.at(servo_deg).expect("inside").deflection_deg;
            prop_assert!((deflection(one.servo_at_down_deg) - wanted.down_deg).abs() < 1e-7);
            prop_assert!((deflection(one.servo_at_up_deg) + wanted.up_deg).abs() < 1e-7);
            prop_assert!(one.down_end_point_pct <= 100.0001 && one.up_end_point_pct <= 100.0001);
            prop_assert!(one.transmission_deg >= 15.0);
            prop_assert!((3.0..=15.0 + 1e-9).contains(&one.horn_mm));
            prop_assert!(one.cover_gap_mm.is_none_or(|gap| gap >= 0.3 - 1e-9));
        }
    }
}

#[test]
fn a_travel_of_more_than_half_a_turn_is_followed_to_its_end() {
    // Neutral lies right beside one dead point of the arm; the other is more than half a turn away.
    let drawn = LinkageGeometry {
        arm_mm: 9.357_455_966_660_2,
        arm_deg: -90.214_454_424_990_68,
        hinge_x_mm: 30.0,
        hinge_z_mm: 16.344_983_257_680_58,
        horn_mm: 18.036_189_743_447_08,
        set_back_mm: 0.0,
        rod_mm: None,
    };
    let linkage = Linkage::new(&drawn).expect("a linkage");
    let servo_deg = servo(&linkage, 0.94);
    assert!(servo_deg > 180.0, "{servo_deg}");
    let at = linkage.at(servo_deg).expect("inside its travel");
    let back = linkage.servo_for(at.deflection_deg).expect("reached before");
    assert!((back - servo_deg).abs() < 1e-6, "{servo_deg} came back as {back}");
}

#[test]
fn the_sizes_of_the_worked_example_are_found_again() {
    // Wanted: what arm 4.5 at 28° and horn 4.6 give, with that arm and that angle among the choices.
    let wanted = WantedThrows {
        down_deg: 53.5,
        up_deg: 16.1,
        servo_forward_deg: 50.0,
        servo_aft_deg: 20.0,
        hinge_x_mm: 62.0,
        hinge_z_mm: 3.5,
        set_back_mm: 0.5,
        arm_mm: SizeSteps { from: 4.5, to: 4.5, step: 0.5 },
        arm_deg: SizeSteps { from: 0.0, to: 45.0, step: 1.0 },
        horn_mm: SizeSteps { from: 3.0, to: 12.0, step: 0.1 },
        cover: None,
        least_transmission_deg: 15.0,
        servo_play_deg: 0.6,
        hole_play_mm: 0.06,
    };
    let best = propose(&wanted).expect("reached")[0];
    assert!((4.5..=4.7).contains(&best.horn_mm) && (24.0..=32.0).contains(&best.arm_deg), "{best:?}");
    // Under the sheet of 1.0 that arm scrapes: with 7.0 to the skin an arm of 3.8 at most clears.
    let cover = Some(CoverRoom { axis_to_skin_mm: 7.0, sheet_mm: 1.0, tip_mm: 1.9, gap_mm: 0.3 });
    let refused = propose(&WantedThrows { cover, ..wanted }).expect_err("scrapes");
    assert!(refused.to_string().contains("does not clear the cover"), "{refused}");
    let shorter = SizeSteps { from: 3.0, to: 4.5, step: 0.1 };
    let horn_mm = SizeSteps { from: 2.5, to: 12.0, step: 0.1 };
    let found = propose(&WantedThrows { cover, arm_mm: shorter, horn_mm, ..wanted }).expect("reached");
    assert!(found.iter().all(|one| one.arm_mm < 3.81), "{found:?}");
}
