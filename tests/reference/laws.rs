//! Laws that hold for all inputs, tried on random ones.

use chrono::{Datelike, NaiveDate};
use preen_domain::formulas::balance::{MassAndCg, PointItem, balance};
use preen_domain::formulas::calendar::{add_months, days_between, nth_month_after};
use preen_domain::formulas::inertia::{Inertia, inertia};
use preen_domain::formulas::interval::{
    CountInterval, DayInterval, Every, Rebasing, due_count_after, due_day_after, next_due_count, next_due_day,
};
use preen_domain::formulas::planform::{PlanformStation, planform};
use preen_domain::formulas::principal::{PrincipalAxis, principal_axes};
use preen_domain::formulas::standing::stand_by_count;
use preen_domain::formulas::swap::{MassChange, change_mass};
use preen_domain::formulas::trim::trim_weight_g;
use preen_domain::formulas::weighing::{Levelling, SupportReading, weigh};
use proptest::collection::vec;
use proptest::prelude::*;

fn item() -> impl Strategy<Value = PointItem> {
    (0.1..500.0, -500.0..1500.0, -2000.0..2000.0, -200.0..200.0, 0.0..1000.0, 0.0..1000.0).prop_map(
        |(mass_g, x_mm, y_mm, z_mm, own_span_mm, own_length_mm)| PointItem {
            mass_g,
            x_mm,
            y_mm,
            z_mm,
            own_span_mm,
            own_length_mm,
        },
    )
}

fn base() -> impl Strategy<Value = MassAndCg> {
    (300.0..5000.0, -100.0..300.0, -20.0..20.0, -50.0..50.0)
        .prop_map(|(mass_g, x_mm, y_mm, z_mm)| MassAndCg { mass_g, x_mm, y_mm, z_mm })
}

fn change() -> impl Strategy<Value = MassChange> {
    (-20.0..20.0, -500.0..1500.0, -2000.0..2000.0, -200.0..200.0)
        .prop_map(|(mass_change_g, x_mm, y_mm, z_mm)| MassChange { mass_change_g, x_mm, y_mm, z_mm })
}

fn any_day() -> impl Strategy<Value = NaiveDate> {
    (0u64..60_000)
        .prop_map(|days| NaiveDate::from_ymd_opt(1950, 1, 1).expect("a day") + chrono::Days::new(days))
}

fn policy() -> impl Strategy<Value = Rebasing> {
    prop_oneof![
        Just(Rebasing::DuePointInsideTolerance),
        Just(Rebasing::FromDone),
        Just(Rebasing::DuePointWhenLate),
        Just(Rebasing::Window),
    ]
}

fn every() -> impl Strategy<Value = Every> {
    prop_oneof![(1u32..800).prop_map(Every::Days), (1u32..61).prop_map(Every::Months)]
}

fn wing() -> impl Strategy<Value = Vec<PlanformStation>> {
    vec((10.0..900.0, -50.0..150.0, 20.0..400.0), 2..7).prop_map(|panels| {
        let mut y_mm = 0.0;
        let mut stations = Vec::new();
        for (width_mm, x_le_mm, chord_mm) in panels {
            stations.push(PlanformStation { y_mm, x_le_mm, chord_mm });
            y_mm += width_mm;
        }
        stations
    })
}

fn random() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(random())]

    #[test]
    fn the_cg_lies_within_the_hull_of_the_places(items in vec(item(), 1..30)) {
        let sum = balance(&items).expect("positive masses");
        let inside = |at: f64, place: fn(&PointItem) -> f64| {
            let front = items.iter().map(place).fold(f64::INFINITY, f64::min);
            let rear = items.iter().map(place).fold(f64::NEG_INFINITY, f64::max);
            front - 1e-9 <= at && at <= rear + 1e-9
        };
        prop_assert!(inside(sum.x_mm, |item| item.x_mm));
        prop_assert!(inside(sum.y_mm, |item| item.y_mm));
        prop_assert!(inside(sum.z_mm, |item| item.z_mm));
    }

    #[test]
    fn a_mirrored_model_has_mirrored_y_and_the_same_inertia(items in vec(item(), 1..30)) {
        let mirrored: Vec<PointItem> =
            items.iter().map(|item| PointItem { y_mm: -item.y_mm, ..*item }).collect();
        let (one, other) = (balance(&items).expect("masses"), balance(&mirrored).expect("masses"));
        prop_assert_eq!(one, MassAndCg { y_mm: -other.y_mm, ..other });
        let (one, other) = (inertia(&items).expect("masses"), inertia(&mirrored).expect("masses"));
        let turned = Inertia {
            product_xy_kg_m2: -other.product_xy_kg_m2,
            product_yz_kg_m2: -other.product_yz_kg_m2,
            ..other
        };
        prop_assert_eq!(one, turned);
    }

    #[test]
    fn principal_axes_stand_across_each_other_and_keep_the_sum_of_moments(items in vec(item(), 2..30)) {
        let about = inertia(&items).expect("masses");
        let axes = principal_axes(&about).expect("some inertia");
        let dot = |a: PrincipalAxis, b: PrincipalAxis| a.x * b.x + a.y * b.y + a.z * b.z;
        for (one, other) in [(axes.roll, axes.pitch), (axes.pitch, axes.yaw), (axes.yaw, axes.roll)] {
            prop_assert!(dot(one, other).abs() < 1e-9);
            prop_assert!((dot(one, one) - 1.0).abs() < 1e-9);
        }
        let moments = [axes.roll, axes.pitch, axes.yaw].map(|axis| axis.moment_kg_m2);
        let trace = about.roll_kg_m2 + about.pitch_kg_m2 + about.yaw_kg_m2;
        prop_assert!((moments.iter().sum::<f64>() - trace).abs() <= 1e-9 * trace);
        // No moment of real mass exceeds the sum of the other two.
        prop_assert!(moments.iter().all(|moment| *moment <= trace - moment + 1e-9 * trace));
    }

    #[test]
    fn a_swap_and_its_reverse_restore_mass_and_cg(base in base(), changes in vec(change(), 0..6)) {
        let there = change_mass(&base, &changes).expect("small changes").after;
        let back: Vec<MassChange> = changes
            .iter()
            .map(|change| MassChange { mass_change_g: -change.mass_change_g, ..*change })
            .collect();
        let restored = change_mass(&there, &back).expect("small changes").after;
        prop_assert!((restored.mass_g - base.mass_g).abs() < 1e-9);
        prop_assert!((restored.x_mm - base.x_mm).abs() < 1e-9);
        prop_assert!((restored.y_mm - base.y_mm).abs() < 1e-9);
        prop_assert!((restored.z_mm - base.z_mm).abs() < 1e-9);
    }

    #[test]
    fn a_change_is_one_more_row_of_the_list(items in vec(item(), 1..10), added in item()) {
        let change = MassChange { mass_change_g: added.mass_g, x_mm: added.x_mm, y_mm: added.y_mm, z_mm: added.z_mm };
        let changed = change_mass(&balance(&items).expect("masses"), &[change]).expect("more mass").after;
        let listed = balance(&[items.as_slice(), &[added]].concat()).expect("masses");
        prop_assert!((changed.mass_g - listed.mass_g).abs() < 1e-9);
        prop_assert!((changed.x_mm - listed.x_mm).abs() < 1e-9);
        prop_assert!((changed.y_mm - listed.y_mm).abs() < 1e-9);
    }

    #[test]
    fn a_trim_weight_brings_the_cg_to_its_target(base in base(), target in -50.0..250.0, arm in 50.0..600.0) {
        // In front of the target for a CG behind it, and the other way round.
        let place = if base.x_mm > target { target - arm } else { target + arm };
        let weight = trim_weight_g(base.mass_g, base.x_mm, target, place).expect("within reach");
        let fitted = MassChange { mass_change_g: weight, x_mm: place, ..MassChange::default() };
        prop_assert!(weight >= 0.0);
        prop_assert!((change_mass(&base, &[fitted]).expect("more mass").after.x_mm - target).abs() < 1e-9);
    }

    #[test]
    fn scales_under_a_balanced_model_weigh_its_balance(base in base(), front in 150.0..600.0f64, rear in 350.0..800.0f64) {
        let (x1, x2): (f64, f64) = (-front, rear);
        let reading_2 = base.mass_g * (base.x_mm - x1) / (x2 - x1);
        let on = |x_mm, reading_g| SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 };
        let weighed = weigh(&[on(x1, base.mass_g - reading_2), on(x2, reading_2)], Levelling::default()).expect("a weighing");
        let x = weighed.x.expect("apart along x");
        prop_assert!((weighed.mass_g - base.mass_g).abs() < 1e-9);
        prop_assert!((x.at_mm - base.x_mm).abs() < 1e-9);
        prop_assert!((x.u_mm.powi(2) - x.u_scale_mm.powi(2) - x.u_place_mm.powi(2)).abs() < 1e-12);
    }

    #[test]
    fn the_mac_scales_with_the_wing(stations in wing(), scale in 0.1..10.0) {
        let scaled: Vec<PlanformStation> = stations
            .iter()
            .map(|at| PlanformStation {
                y_mm: at.y_mm * scale,
                x_le_mm: at.x_le_mm * scale,
                chord_mm: at.chord_mm * scale,
            })
            .collect();
        let (one, other) = (planform(&stations).expect("a wing"), planform(&scaled).expect("a wing"));
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + b.abs());
        prop_assert!(same(one.mac_mm * scale, other.mac_mm));
        prop_assert!(same(one.mac_le_x_mm * scale, other.mac_le_x_mm));
        prop_assert!(same(one.area_dm2 * scale * scale, other.area_dm2));
        prop_assert!(same(one.aspect_ratio, other.aspect_ratio));
        // By Cauchy's inequality the MAC is never below the mean chord.
        prop_assert!(one.mac_mm >= one.mean_chord_mm - 1e-9);
    }

    #[test]
    fn the_next_due_count_lies_beyond_what_was_done(
        due in 0i64..5000, done in 0i64..9000, every in 1u32..500, tolerance in 0u32..500, policy in policy(),
    ) {
        prop_assume!(tolerance < every);
        let next = next_due_count(Some(due), done, CountInterval { every, tolerance }, policy).expect("a count");
        prop_assert!(next > done);
        if policy == Rebasing::FromDone {
            prop_assert_eq!(next, done + i64::from(every));
        }
    }

    #[test]
    fn what_was_done_before_a_series_decides_on_nothing(
        gaps in vec(0i64..320, 1..12),
        every in 1u32..200,
        months in prop_oneof![(1u32..300).prop_map(Every::Days), (1u32..10).prop_map(Every::Months)],
        tolerance in 0u32..60,
        policy in policy(),
    ) {
        let at = gaps.iter().scan(0, |at, gap| { *at += gap; Some(*at) }).collect::<Vec<i64>>();
        let interval = CountInterval { every, tolerance: tolerance.min(every - 1) };
        let whole = at.iter().fold(None, |due, done| next_due_count(due, *done, interval, policy).ok());
        prop_assert_eq!(due_count_after(at.iter().rev().copied(), interval, policy), whole);
        let shortest = match months { Every::Days(days) => days, Every::Months(months) => months * 28 };
        let interval = DayInterval { every: months, tolerance_days: tolerance.min(shortest - 1) };
        let first: NaiveDate = "2019-01-31".parse().expect("a day");
        let on = at.iter().map(|days| first + chrono::TimeDelta::days(*days)).collect::<Vec<_>>();
        let whole = on.iter().fold(None, |due, done| next_due_day(due, *done, interval, policy).ok());
        prop_assert_eq!(due_day_after(on.iter().rev().copied(), interval, policy), whole);
    }

    #[test]
    fn the_next_due_day_lies_beyond_what_was_done(
        due_on in any_day(), late in -400i64..4000, every in every(), tolerance_days in 0u32..28, policy in policy(),
    ) {
        let done_on = preen_domain::formulas::calendar::add_days(due_on, late).expect("a day");
        let interval = DayInterval { every, tolerance_days };
        prop_assume!(!matches!(every, Every::Days(days) if days <= tolerance_days));
        let next = next_due_day(Some(due_on.into()), done_on, interval, policy).expect("a day");
        prop_assert!(next.due_on > done_on);
        if policy == Rebasing::FromDone {
            prop_assert_eq!(next.anchor_on, done_on);
        }
    }

    #[test]
    fn tolerance_never_moves_a_due_point(due in 0i64..5000, now in 0i64..9000, less in 0u32..100, more in 0u32..100) {
        let (tight, wide) = (stand_by_count(due, less, now), stand_by_count(due, less + more, now));
        prop_assert_eq!(tight.due_at_count, wide.due_at_count);
        prop_assert_eq!((tight.count_left, tight.count_over), (wide.count_left, wide.count_over));
        prop_assert!(wide.state <= tight.state);
        prop_assert_eq!(tight.state == preen_domain::formulas::standing::DueState::Clear, now < due);
    }

    #[test]
    fn a_first_due_point_does_not_know_of_tolerance(
        done in 0i64..5000, every in 2u32..500, share in 0.0..1.0, policy in policy(),
    ) {
        let tolerance = (f64::from(every - 1) * share) as u32;
        let next = |tolerance| next_due_count(None, done, CountInterval { every, tolerance }, policy);
        prop_assert_eq!(next(tolerance), next(0));
    }

    #[test]
    fn months_from_an_anchor_never_drift(anchor in any_day(), every in 1u32..25, nth in 0u32..60) {
        let there = nth_month_after(anchor, every, nth).expect("a day");
        let month_length = valid_days(there);
        prop_assert_eq!(there.day(), anchor.day().min(month_length));
        let months = (there.year() - anchor.year()) * 12 + there.month() as i32 - anchor.month() as i32;
        prop_assert_eq!(months, (every * nth) as i32);
        prop_assert!(days_between(anchor, there) >= 28 * i64::from(every * nth));
    }
}

/// Days of the month that `on` lies in.
fn valid_days(on: NaiveDate) -> u32 {
    let first = on.with_day(1).expect("every month has a 1st");
    u32::try_from(days_between(first, add_months(first, 1).expect("a day"))).expect("a month has days")
}
