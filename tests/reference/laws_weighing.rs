//! Laws of weighings and of estimates taken together, tried on random ones, and the hull of a CG in every direction.

use preen_domain::formulas::balance::{MassAndCg, PointItem, balance};
use preen_domain::formulas::combine::{Estimate, StandSetUp, combine};
use preen_domain::formulas::quantile::{chi_square_above, chi_square_quantile};
use preen_domain::formulas::reweigh::reweigh;
use preen_domain::formulas::support_check::{WholeMass, check_whole, share_load};
use preen_domain::formulas::swap::{MassChange, unweighed_moves};
use preen_domain::formulas::weighing::{Levelling, SupportReading, weigh};
use proptest::collection::vec;
use proptest::prelude::*;

fn support() -> impl Strategy<Value = SupportReading> {
    (1.0..2000.0f64, -300.0..900.0f64, -500.0..500.0f64, 0.05..2.0f64, 0.0..3.0f64).prop_map(
        |(reading_g, x_mm, y_mm, u_reading_g, u_place_mm)| SupportReading {
            reading_g,
            x_mm,
            y_mm,
            u_reading_g,
            u_place_mm,
        },
    )
}

fn levelling() -> impl Strategy<Value = Levelling> {
    (0.0..5.0f64, -80.0..80.0f64)
        .prop_map(|(u_angle_deg, cg_height_mm)| Levelling { u_angle_deg, cg_height_mm })
}

fn estimates() -> impl Strategy<Value = Vec<Estimate>> {
    vec((-100.0..100.0f64, 0.01..5.0f64, 0.0..5.0f64), 1..12).prop_map(|rows| {
        rows.into_iter().map(|(value, one, other)| Estimate { value, parts: vec![one, other] }).collect()
    })
}

fn set_up() -> impl Strategy<Value = StandSetUp> {
    prop_oneof![Just(StandSetUp::Kept), Just(StandSetUp::Anew)]
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within * a.abs().max(b.abs()).max(1.0)
}

fn random() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(random())]

    #[test]
    fn no_plane_parts_a_cg_from_its_masses(
        places in vec((0.1..500.0f64, -500.0..1500.0f64, -2000.0..2000.0f64, -200.0..200.0f64), 1..20),
        turn in 0.0..std::f64::consts::TAU, lift in -1.0..1.0f64,
    ) {
        let items: Vec<PointItem> = places
            .iter()
            .map(|&(mass_g, x_mm, y_mm, z_mm)| PointItem { mass_g, x_mm, y_mm, z_mm, ..PointItem::default() })
            .collect();
        let sum = balance(&items).expect("masses");
        // A direction of the whole sphere: along it the CG lies between the first and the last mass.
        let flat = (1.0 - lift * lift).sqrt();
        let along = |x: f64, y: f64, z: f64| x * flat * turn.cos() + y * flat * turn.sin() + z * lift;
        let ends = items.iter().map(|item| along(item.x_mm, item.y_mm, item.z_mm));
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        let at = along(sum.x_mm, sum.y_mm, sum.z_mm);
        prop_assert!(low - 1e-9 <= at && at <= high + 1e-9, "{at} outside {low} to {high}");
    }

    #[test]
    fn shares_of_a_weighing_make_up_its_uncertainty(supports in vec(support(), 2..7), level in levelling()) {
        let weighed = weigh(&supports, level).expect("supports apart");
        let level_mm = (level.cg_height_mm * level.u_angle_deg.to_radians().tan()).abs();
        for arm in [weighed.x, weighed.y].into_iter().flatten() {
            let squares = arm.u_scale_mm.powi(2) + arm.u_place_mm.powi(2) + arm.u_level_mm.powi(2);
            prop_assert!(near(arm.u_mm.powi(2), squares, 1e-12));
            prop_assert!(near(arm.u_level_mm, level_mm, 1e-12));
        }
        // Shifted by a hair, every place at once: the CG goes along, its uncertainty stays.
        let shifted: Vec<SupportReading> =
            supports.iter().map(|on| SupportReading { x_mm: on.x_mm + 250.0, ..*on }).collect();
        let moved = weigh(&shifted, level).expect("supports apart");
        let (was, is) = (weighed.x.expect("apart"), moved.x.expect("apart"));
        prop_assert!(near(was.at_mm + 250.0, is.at_mm, 1e-9) && near(was.u_mm, is.u_mm, 1e-9));
    }

    #[test]
    fn a_mean_lies_between_and_follows_shift_scale_and_order(
        list in estimates(), how in set_up(), shift in -1e3..1e3f64, scale in 0.01..100.0f64,
    ) {
        let mean = combine(&list, how).expect("estimates");
        let values = list.iter().map(|one| one.value);
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        prop_assert!(low - 1e-9 <= mean.value && mean.value <= high + 1e-9);
        let moved: Vec<Estimate> = list
            .iter()
            .rev()
            .map(|one| Estimate {
                value: one.value * scale + shift,
                parts: one.parts.iter().map(|part| part * scale).collect(),
            })
            .collect();
        let other = combine(&moved, how).expect("estimates");
        prop_assert!(near(other.value, mean.value * scale + shift, 1e-9));
        prop_assert!(near(other.u, mean.u * scale, 1e-6) && near(other.expanded, mean.expanded * scale, 1e-3));
        prop_assert_eq!(other.outliers.len(), mean.outliers.len());
        prop_assert!(mean.expanded >= mean.u && mean.u_scatter >= 0.0);
    }

    #[test]
    fn what_is_kept_never_averages_out(list in estimates()) {
        let kept = combine(&list, StandSetUp::Kept).expect("estimates");
        let anew = combine(&list, StandSetUp::Anew).expect("estimates");
        prop_assert!(kept.u_instrument >= anew.u_instrument - 1e-12);
        prop_assert_eq!((kept.value, kept.u_scatter), (anew.value, anew.u_scatter));
        let least = list.iter().map(|one| one.parts[0].hypot(one.parts[1])).fold(f64::INFINITY, f64::min);
        prop_assert!(anew.u_instrument <= least + 1e-9, "together never worse than the best alone");
    }

    #[test]
    fn the_same_weighing_again_changes_nothing(supports in vec(support(), 2..5), level in levelling(), times in 1usize..5) {
        let once = weigh(&supports, level).expect("supports apart");
        let all = reweigh(&vec![supports; times], level, StandSetUp::Kept).expect("weighings");
        prop_assert!(near(all.mass.value, once.mass_g, 1e-12) && near(all.mass.u, once.u_mass_g, 1e-6));
        let (one, x) = (once.x.expect("apart"), all.x.expect("apart"));
        prop_assert!(near(x.value, one.at_mm, 1e-9) && near(x.u, one.u_mm, 1e-6));
        prop_assert!(x.outliers.is_empty());
    }

    #[test]
    fn adjusted_readings_meet_between_supports_and_whole(
        supports in vec(support(), 2..6), off in -20.0..20.0f64, u_g in 0.0..3.0f64,
    ) {
        let sum: f64 = supports.iter().map(|on| on.reading_g).sum();
        let whole = WholeMass { mass_g: sum + off, u_g };
        prop_assume!(whole.mass_g > 1.0 && supports.iter().all(|on| on.reading_g > 25.0));
        let check = check_whole(&supports, Levelling::default(), whole).expect("comparable");
        let adjusted = check.adjusted.mass_g;
        prop_assert!(sum.min(whole.mass_g) - 1e-9 <= adjusted && adjusted <= sum.max(whole.mass_g) + 1e-9);
        prop_assert!(near(check.residuals_g.iter().sum::<f64>(), adjusted - sum, 1e-9));
        let plain = weigh(&supports, Levelling::default()).expect("supports apart");
        prop_assert!(check.adjusted.u_mass_g <= plain.u_mass_g.min(u_g) + 1e-9, "surer than either");
    }

    #[test]
    fn what_is_left_of_equal_supports_has_no_weight_and_no_moment(supports in vec(support(), 4..8)) {
        if let Some(sharing) = share_load(&supports).expect("a CG") {
            let moment = |place: fn(&SupportReading) -> f64| {
                supports.iter().zip(&sharing.residuals_g).map(|(on, left)| place(on) * left).sum::<f64>()
            };
            prop_assert!(moment(|_| 1.0).abs() < 1e-7);
            prop_assert!(moment(|on| on.x_mm).abs() < 1e-4 && moment(|on| on.y_mm).abs() < 1e-4);
        }
    }

    #[test]
    fn moves_added_by_size_are_never_less_than_what_is_left_of_them(
        x_mm in 50.0..150.0f64, changes in vec((-20.0..20.0f64, -400.0..1000.0f64), 0..8),
    ) {
        let base = MassAndCg { mass_g: 1200.0, x_mm, ..MassAndCg::default() };
        let changes: Vec<MassChange> = changes
            .iter()
            .map(|&(mass_change_g, x_mm)| MassChange { mass_change_g, x_mm, ..MassChange::default() })
            .collect();
        let moves = unweighed_moves(&base, &changes).expect("small changes");
        prop_assert!(moves.total_x_mm >= moves.net_x_mm.abs() - 1e-12);
        // A part taken off and put back where it was is no move.
        let back: Vec<MassChange> = changes
            .iter()
            .map(|change| MassChange { mass_change_g: -change.mass_change_g, ..*change })
            .collect();
        let none = unweighed_moves(&base, &[changes, back].concat()).expect("nothing in all");
        prop_assert!(none.total_x_mm < 1e-9 && !none.should_weigh);
    }

    #[test]
    fn quantiles_rise_and_give_their_share_back(share in 1e-6..0.999_999f64, more in 0.0..1.0f64, exponent in 0.31..12.0f64) {
        let freedom = 10f64.powf(exponent);
        let value = chi_square_quantile(share, freedom).expect("in range");
        let further = share + (1.0 - 1e-7 - share) * more;
        prop_assert!(chi_square_quantile(further, freedom).expect("in range") >= value);
        // The share moves by density times the last figure of the value.
        let last = 4.0 * f64::EPSILON * value / (2.0 * freedom).sqrt();
        let above = chi_square_above(value, freedom).expect("in range");
        prop_assert!((above - (1.0 - share)).abs() < 1e-8 * share.min(1.0 - share) + last, "{above} for {share}");
    }
}
