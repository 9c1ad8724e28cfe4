//! Laws of wires, joiners and packs that hold for all inputs.

use preen_domain::formulas::class::ClassLimits;
use preen_domain::formulas::joiner::bending::{JointLoad, bend_joint, elliptical_share, outboard_centroid};
use preen_domain::formulas::joiner::rock::{
    CLEARANCE_LIMITS_MM, LooseSockets, RockGeometry, clearance_mm, field_limits, judge_rock, rock_mm,
};
use preen_domain::formulas::joiner::sanding::{SandedFaces, sand};
use preen_domain::formulas::joiner::section::{Section, properties};
use preen_domain::formulas::pack::capacity::{LaunchDraw, launches};
use preen_domain::formulas::pack::resistance::{RATIO_LIMITS, ReadingUncertainty, pack_resistance};
use preen_domain::formulas::pack::rest::{ODD_DROP_LIMITS_MV, rest_drop};
use preen_domain::formulas::wire::choose::{ChooseError, Demand, Stranding, smallest_gauge};
use preen_domain::formulas::wire::drop::{Lead, LeadUncertainty, lead_drop};
use preen_domain::formulas::wire::gauge::{awg_area_mm2, copper_mohm_per_m};
use preen_domain::formulas::wire::slack::slack_left;
use proptest::prelude::*;

fn leads() -> impl Strategy<Value = Lead> {
    (0.0..50.0, 0.0..500.0, 0_u32..8, 0.0..100.0, 0.0..30.0).prop_map(
        |(length_m, mohm_per_m, contact_pairs, contact_mohm, current_a)| Lead {
            length_m,
            mohm_per_m,
            contact_pairs,
            contact_mohm,
            current_a,
        },
    )
}

fn faces() -> impl Strategy<Value = SandedFaces> {
    (0.0..0.4, 0.0..0.4, 0.0..0.4, 0.0..0.4).prop_map(|(top_mm, bottom_mm, front_mm, rear_mm)| SandedFaces {
        top_mm,
        bottom_mm,
        front_mm,
        rear_mm,
    })
}

fn walled() -> impl Strategy<Value = Section> {
    (5.0..40.0, 5.0..20.0, 0.5..2.4, 0.5..2.4, 0..3).prop_map(
        |(width_mm, height_mm, cap_mm, web_mm, kind)| match kind {
            0 => Section::Rectangle { width_mm, height_mm },
            1 => Section::Caps { width_mm, height_mm, cap_mm },
            _ => Section::Box { width_mm, height_mm, cap_mm, web_mm },
        },
    )
}

fn joints() -> impl Strategy<Value = RockGeometry> {
    (20.0..300.0, 200.0..2000.0, any::<bool>()).prop_map(|(engagement_mm, panel_mm, is_one)| RockGeometry {
        engagement_mm,
        panel_mm,
        loose: if is_one { LooseSockets::One } else { LooseSockets::Both },
    })
}

proptest! {
    #[test]
    fn drop_grows_with_length_and_current_and_is_the_sum_of_its_parts(lead in leads(), more in 1.0..3.0) {
        let none = LeadUncertainty::default();
        let lost = lead_drop(&lead, &none).unwrap();
        let longer = lead_drop(&Lead { length_m: lead.length_m * more, ..lead }, &none).unwrap();
        let stronger = lead_drop(&Lead { current_a: lead.current_a * more, ..lead }, &none).unwrap();
        prop_assert!(longer.drop_v >= lost.drop_v);
        prop_assert!(stronger.drop_v >= lost.drop_v);
        prop_assert!((lost.wire_v + lost.contacts_v - lost.drop_v).abs() < 1e-9);
        prop_assert_eq!(lost.ground_lift_v * 2.0, lost.drop_v);
    }

    #[test]
    fn a_thicker_gauge_never_resists_more_and_heat_raises_resistance(awg in -3_i32..40, t in -40.0..150.0) {
        let thick = copper_mohm_per_m(awg_area_mm2(awg).unwrap(), t).unwrap();
        let thin = copper_mohm_per_m(awg_area_mm2(awg + 1).unwrap(), t).unwrap();
        let hotter = copper_mohm_per_m(awg_area_mm2(awg).unwrap(), t + 10.0).unwrap();
        prop_assert!(thick < thin && thick < hotter);
    }

    #[test]
    fn the_smallest_gauge_keeps_the_limit_and_the_next_thinner_does_not(
        length_m in 0.1..20.0, current_a in 0.1..30.0, max_drop_v in 0.05..2.0, contacts_v in 0.0..0.1,
    ) {
        let demand = Demand { length_m, current_a, max_drop_v, contacts_v, conductors: 2, temperature_c: 20.0 };
        match smallest_gauge(&demand, Stranding::Solid) {
            Ok(chosen) => {
                prop_assert!(chosen.drop_v <= max_drop_v + 1e-9);
                if chosen.awg < 40 {
                    let thinner = copper_mohm_per_m(awg_area_mm2(chosen.awg + 1).unwrap(), 20.0).unwrap();
                    prop_assert!(contacts_v + 2.0 * length_m * current_a * thinner / 1000.0 > max_drop_v);
                }
            }
            Err(ChooseError::ContactsAlone(_)) => prop_assert!(contacts_v >= max_drop_v),
            Err(ChooseError::NoneThickEnough) => {
                let thickest = copper_mohm_per_m(awg_area_mm2(-3).unwrap(), 20.0).unwrap();
                prop_assert!(contacts_v + 2.0 * length_m * current_a * thickest / 1000.0 > max_drop_v);
            }
            Err(ChooseError::OutOfRange(why)) => prop_assert!(false, "{why}"),
        }
    }

    #[test]
    fn one_more_re_termination_would_take_what_must_remain(slack_mm in 0.0..200.0) {
        let left = slack_left(slack_mm, 10.0, 7.0).unwrap();
        prop_assert!(left.after_last_mm - 7.0 < 10.0);
        prop_assert!(left.re_terminations == 0 || left.after_last_mm >= 10.0 - 1e-6);
    }

    #[test]
    fn sanding_never_raises_a_modulus_and_more_of_it_takes_more(section in walled(), first in faces(), more in faces()) {
        let once = sand(&section, &first).unwrap();
        prop_assert!(once.after.z_vertical_mm3 <= once.before.z_vertical_mm3 * (1.0 + 1e-12));
        prop_assert!(once.after.z_fore_aft_mm3 <= once.before.z_fore_aft_mm3 * (1.0 + 1e-12));
        prop_assert!(once.after.area_mm2 <= once.before.area_mm2);
        if let Ok(twice) = sand(&section, &first.plus(&more)) {
            prop_assert!(twice.after.area_mm2 <= once.after.area_mm2 + 1e-9);
            prop_assert!(twice.after.i_vertical_mm4 <= once.after.i_vertical_mm4 * (1.0 + 1e-12));
        }
    }

    #[test]
    fn a_mirrored_joiner_is_as_strong(section in walled(), faces in faces()) {
        let mirrored = SandedFaces {
            top_mm: faces.bottom_mm, bottom_mm: faces.top_mm, front_mm: faces.rear_mm, rear_mm: faces.front_mm,
        };
        let (one, other) = (sand(&section, &faces).unwrap().after, sand(&section, &mirrored).unwrap().after);
        prop_assert!((one.z_vertical_mm3 / other.z_vertical_mm3 - 1.0).abs() < 1e-9);
        prop_assert!((one.z_fore_aft_mm3 / other.z_fore_aft_mm3 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_box_lies_between_its_caps_and_the_solid(w in 6.0..40.0, h in 6.0..20.0, cap in 0.5..2.5, web in 0.5..2.5) {
        let z = |section| properties(&section).unwrap().z_vertical_mm3;
        let solid = z(Section::Rectangle { width_mm: w, height_mm: h });
        let hollow = z(Section::Box { width_mm: w, height_mm: h, cap_mm: cap, web_mm: web });
        let caps = z(Section::Caps { width_mm: w, height_mm: h, cap_mm: cap });
        prop_assert!(caps < hollow && hollow < solid);
    }

    #[test]
    fn sections_scale_with_the_cube_of_their_size(section in walled(), by in 0.5_f64..3.0) {
        let scaled = match section {
            Section::Rectangle { width_mm, height_mm } => {
                Section::Rectangle { width_mm: width_mm * by, height_mm: height_mm * by }
            }
            Section::Box { width_mm, height_mm, cap_mm, web_mm } => Section::Box {
                width_mm: width_mm * by, height_mm: height_mm * by, cap_mm: cap_mm * by, web_mm: web_mm * by,
            },
            Section::Caps { width_mm, height_mm, cap_mm } => {
                Section::Caps { width_mm: width_mm * by, height_mm: height_mm * by, cap_mm: cap_mm * by }
            }
            round => round,
        };
        let (one, other) = (properties(&section).unwrap(), properties(&scaled).unwrap());
        prop_assert!((other.z_vertical_mm3 / one.z_vertical_mm3 / by.powi(3) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn clearance_and_rock_are_each_others_way_back(joint in joints(), clearance in 0.0..1.0) {
        let rock = rock_mm(clearance, &joint).unwrap();
        prop_assert!((clearance_mm(rock, &joint).unwrap() - clearance).abs() < 1e-12);
    }

    #[test]
    fn field_and_bench_give_every_reading_the_same_class(joint in joints(), tenths in 0_u32..1500) {
        let rock = f64::from(tenths) / 10.0;
        let field = field_limits(&joint, &CLEARANCE_LIMITS_MM, 0.1).unwrap();
        prop_assert_eq!(field.rising(rock), judge_rock(rock, &joint, &CLEARANCE_LIMITS_MM).unwrap());
    }

    #[test]
    fn tighter_bench_limits_never_loosen_the_field(joint in joints(), watch in 0.05..0.15, by in 0.5..1.0) {
        let wide = field_limits(&joint, &ClassLimits::new(watch, 0.2, 0.4), 0.1).unwrap();
        let tight = field_limits(&joint, &ClassLimits::new(watch * by, 0.2 * by, 0.4 * by), 0.1).unwrap();
        prop_assert!(tight.watch <= wide.watch && tight.restrict <= wide.restrict && tight.ground <= wide.ground);
    }

    #[test]
    fn share_and_place_of_the_outboard_lift_fit_the_integral(eta in 0.0_f64..0.99) {
        // Midpoint sums of the ellipse outboard of η.
        let steps = 4000_u32;
        let width = (1.0 - eta) / f64::from(steps);
        let (mut area, mut moment) = (0.0, 0.0);
        for step in 0..steps {
            let at = eta + (f64::from(step) + 0.5) * width;
            let lift = (1.0 - at * at).sqrt() * width;
            area += lift;
            moment += lift * at;
        }
        let share = elliptical_share(eta).unwrap();
        prop_assert!((share - area / std::f64::consts::FRAC_PI_4).abs() < 1e-5);
        prop_assert!((outboard_centroid(eta).unwrap() - moment / area).abs() < 1e-4);
    }

    #[test]
    fn a_joint_bends_in_proportion_to_its_load(joint_y_mm in 0.0..1400.0, mass in 100.0..3000.0, n in 1.0..40.0) {
        let load = JointLoad {
            model_mass_g: mass, half_span_mm: 1500.0, joint_y_mm, outboard_mass_g: 50.0, outboard_cg_y_mm: 1450.0,
            load_factor: n,
        };
        let bent = bend_joint(&load).unwrap();
        let twice = bend_joint(&JointLoad { load_factor: 2.0 * n, ..load }).unwrap();
        prop_assert!((twice.moment_nm - 2.0 * bent.moment_nm).abs() < 1e-9);
        prop_assert!(bent.lift_at_y_mm >= joint_y_mm && bent.lift_at_y_mm <= 1500.0);
    }

    #[test]
    fn cold_readings_shrink_and_the_order_of_cells_does_not_matter(
        cells in prop::collection::vec(1.0..50.0, 1..8), t in 0.0..25.0,
    ) {
        let none = ReadingUncertainty::default();
        let pack = pack_resistance(&cells, t, &[], &RATIO_LIMITS, none).unwrap();
        for (cell, read) in pack.cells.iter().zip(&cells) {
            prop_assert!(cell.at_25_mohm <= *read);
        }
        let mut reversed = cells.clone();
        reversed.reverse();
        let other = pack_resistance(&reversed, t, &[], &RATIO_LIMITS, none).unwrap();
        prop_assert_eq!(pack.odd_times, other.odd_times);
    }

    #[test]
    fn an_even_pack_at_rest_has_no_odd_cell(drop in 0.0..100.0, cells in 2_usize..8, days in 10.0..90.0) {
        let even = rest_drop(&vec![drop; cells], days, &ODD_DROP_LIMITS_MV).unwrap();
        prop_assert_eq!((even.odd_mv, even.class), (Some(0.0), None));
    }

    #[test]
    fn launches_never_take_more_than_may_be_used(
        capacity in 100.0..6000.0, reserve in 0.0..60.0, motor_s in 1.0..60.0, motor_a in 1.0..120.0,
    ) {
        let each = LaunchDraw { motor_s, motor_a, avionics_mah: 20.0 };
        let charge = launches(capacity, reserve, &each).unwrap();
        let taken = f64::from(charge.launches) * charge.each_mah;
        prop_assert!(taken <= charge.usable_mah * (1.0 + 1e-12));
        prop_assert!(taken + charge.each_mah > charge.usable_mah);
    }
}
