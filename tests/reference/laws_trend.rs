//! Laws of wear: what a fit must not depend on, and what its bands and intervals must hold, tried on random readings.

use preen_domain::formulas::trend::compare::{PartWear, compare_rates};
use preen_domain::formulas::trend::crossing::{CrossingError, cross};
use preen_domain::formulas::trend::least_squares::{fit_polynomial, powers};
use preen_domain::formulas::trend::line::{Band, Line, fit_line, fit_line_through_origin};
use preen_domain::formulas::trend::rank::rank_test;
use preen_domain::formulas::trend::series::{Circumstance, split};
use preen_domain::formulas::trend::theil_sen::theil_sen;
use preen_domain::formulas::trend::{Confidence, FitError, Point, Sides};
use proptest::collection::vec;
use proptest::prelude::*;

/// Readings at rising counts, in whole steps, with scatter.
fn readings() -> impl Strategy<Value = Vec<Point>> {
    (vec((1u32..40, -1.0f64..1.0), 4..24), -0.5f64..0.5).prop_map(|(steps, slope)| {
        let mut x = 0.0;
        steps
            .into_iter()
            .map(|(step, scatter)| {
                x += f64::from(step);
                Point::new(x, slope * x + scatter)
            })
            .collect()
    })
}

fn confidence() -> impl Strategy<Value = Confidence> {
    (0.55f64..0.999, any::<bool>())
        .prop_map(|(level, two)| Confidence { level, sides: if two { Sides::Two } else { Sides::One } })
}

fn line(points: &[Point]) -> Line {
    fit_line(points).expect("readings at rising counts have a line")
}

fn close(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within * (1.0 + a.abs().max(b.abs()))
}

fn moved(points: &[Point], by: impl Fn(Point) -> Point) -> Vec<Point> {
    points.iter().map(|point| by(*point)).collect()
}

proptest! {
    #[test]
    fn shift_and_scale_change_nothing_of_substance(
        points in readings(), shift in -1000.0f64..1000.0, rise in -50.0f64..50.0, of_x in 0.1f64..10.0, of_y in 0.1f64..10.0,
    ) {
        let plain = line(&points);
        let other = line(&moved(&points, |p| Point::new(p.x * of_x + shift, p.y * of_y + rise)));
        prop_assert!(close(other.slope, plain.slope * of_y / of_x, 1e-8));
        prop_assert!(close(other.residual_sd, plain.residual_sd * of_y, 1e-8));
        prop_assert!(close(other.slope_se, plain.slope_se * of_y / of_x, 1e-8));
        prop_assert!(close(other.r_squared.unwrap_or(0.0), plain.r_squared.unwrap_or(0.0), 1e-7));
        let robust = theil_sen(&points, 0.9).expect("a slope");
        let of_other = theil_sen(&moved(&points, |p| Point::new(p.x * 2.0 + 64.0, p.y * 4.0)), 0.9).expect("a slope");
        prop_assert!(close(of_other.slope, robust.slope * 2.0, 1e-9));
    }

    #[test]
    fn crossings_move_with_shift_and_scale(
        points in readings(), ahead in 0.1f64..3.0, shift in -500.0f64..500.0, of_x in 0.2f64..5.0, of_y in 0.2f64..5.0,
    ) {
        let plain = line(&points);
        prop_assume!(plain.slope > 1e-3);
        let limit = plain.at(points[points.len() - 1].x) + ahead;
        let met = cross(&plain, limit, Confidence::WEAR).expect("it grows");
        let other = line(&moved(&points, |p| Point::new(p.x * of_x + shift, p.y * of_y)));
        let of_other = cross(&other, limit * of_y, Confidence::WEAR).expect("it grows");
        prop_assert!(close(of_other.at, met.at * of_x + shift, 1e-6));
        prop_assert_eq!(of_other.earliest.is_some(), met.earliest.is_some());
        if let (Some(one), Some(two)) = (met.earliest, of_other.earliest) {
            prop_assert!(close(two, one * of_x + shift, 1e-5));
        }
    }

    #[test]
    fn residuals_stand_square_on_the_columns(points in readings(), degree in 1usize..3) {
        let plain = line(&points);
        let off = |p: &Point| p.y - plain.at(p.x);
        prop_assert!(points.iter().map(off).sum::<f64>().abs() < 1e-9);
        let along: f64 = points.iter().map(|p| off(p) * (p.x - plain.centre_x)).sum();
        prop_assert!(along.abs() < 1e-9 * (1.0 + plain.spread_x));
        let origin = fit_line_through_origin(&points).expect("a line");
        let along: f64 = points.iter().map(|p| (p.y - origin.at(p.x)) * p.x).sum();
        prop_assert!(along.abs() < 1e-9 * (1.0 + origin.spread_x));
        let fit = fit_polynomial(&points, degree).expect("enough points");
        for k in 0..=degree {
            let along: f64 = points.iter().zip(&fit.residuals).map(|(p, off)| powers(p.x, degree)[k] * off).sum();
            let size: f64 = points.iter().map(|p| powers(p.x, degree)[k].abs()).sum();
            prop_assert!(along.abs() < 1e-9 * (1.0 + size), "{} of {}", along, size);
        }
    }

    #[test]
    fn no_other_line_lies_closer(points in readings(), tilt in -0.1f64..0.1, lift in -0.5f64..0.5) {
        let plain = line(&points);
        let other: f64 =
            points.iter().map(|p| (p.y - plain.at(p.x) - lift - tilt * (p.x - plain.centre_x)).powi(2)).sum();
        prop_assert!(other >= plain.residual_sum * (1.0 - 1e-12));
    }

    #[test]
    fn bands_hold_the_line_and_widen_outwards(
        points in readings(), confidence in confidence(), near in 0.0f64..200.0, further in 0.1f64..200.0,
    ) {
        let plain = line(&points);
        let width = |x, band| plain.half_width(x, band, confidence).expect("a width");
        for side in [-1.0, 1.0] {
            let (x, far) = (plain.centre_x + side * near, plain.centre_x + side * (near + further));
            prop_assert!(width(x, Band::Mean) >= 0.0 && width(x, Band::Reading) > width(x, Band::Mean));
            prop_assert!(width(far, Band::Reading) > width(x, Band::Reading));
        }
        let one = plain.half_width(near, Band::Reading, Confidence { sides: Sides::One, ..confidence }).expect("a width");
        let two = plain.half_width(near, Band::Reading, Confidence { sides: Sides::Two, ..confidence }).expect("a width");
        prop_assert!(two > one);
    }

    #[test]
    fn the_band_meets_the_limit_at_the_earliest_and_latest(
        points in readings(), confidence in confidence(), ahead in -2.0f64..5.0,
    ) {
        let plain = line(&points);
        let limit = plain.centre_y + ahead;
        match cross(&plain, limit, confidence) {
            Err(why) => prop_assert!(why == CrossingError::NoGrowth && plain.slope <= 0.0 || why == CrossingError::TooFar),
            Ok(met) => {
                let width = |x| plain.half_width(x, Band::Reading, confidence).expect("a width");
                let size = |x: f64| 1e-6 * (1.0 + plain.at(x).abs() + width(x));
                prop_assert!((plain.at(met.at) - limit).abs() < size(met.at));
                match met.earliest {
                    Some(x) => {
                        prop_assert!(x <= met.at);
                        prop_assert!((plain.at(x) + width(x) - limit).abs() < size(x));
                        // From there on the edge stays beyond.
                        for step in [1.0, 10.0, 1000.0] {
                            prop_assert!(plain.at(x + step) + width(x + step) >= limit - size(x + step));
                        }
                    }
                    None => for x in [-1e4, -100.0, 0.0, 50.0, 1e4] {
                        let x = plain.centre_x + x;
                        prop_assert!(plain.at(x) + width(x) >= limit - size(x));
                    },
                }
                if let Some(x) = met.latest {
                    prop_assert!(x >= met.at && (plain.at(x) - width(x) - limit).abs() < size(x));
                }
            }
        }
    }

    #[test]
    fn a_higher_limit_is_reached_later(points in readings(), more in 0.01f64..3.0, ahead in 0.0f64..3.0) {
        let plain = line(&points);
        prop_assume!(plain.slope > 1e-3);
        let met = |limit| cross(&plain, limit, Confidence::WEAR).expect("it grows");
        let (low, high) = (met(plain.centre_y + ahead), met(plain.centre_y + ahead + more));
        prop_assert!(high.at > low.at);
        prop_assert!(high.earliest.unwrap_or(f64::NEG_INFINITY) >= low.earliest.unwrap_or(f64::NEG_INFINITY));
    }

    #[test]
    fn a_restart_equals_a_fresh_series(before in readings(), after in readings()) {
        let circumstances: Vec<Circumstance<'_>> = (0..before.len() + after.len())
            .map(|index| Circumstance { is_after_rework: index == before.len(), method: None, unit: "mm", duty: None })
            .collect();
        let all: Vec<Point> = before.iter().chain(&after).copied().collect();
        let series = split(&circumstances);
        prop_assert_eq!(series.len(), 2);
        let last = &all[series[1].readings.clone()];
        prop_assert_eq!(last, &after[..]);
        prop_assert_eq!(fit_line(last), fit_line(&after));
    }

    #[test]
    fn order_of_points_does_not_matter(points in readings()) {
        let turned: Vec<Point> = points.iter().rev().copied().collect();
        let (one, other) = (line(&points), line(&turned));
        prop_assert!(close(one.slope, other.slope, 1e-12) && close(one.residual_sd, other.residual_sd, 1e-10));
        let (one, other) = (theil_sen(&points, 0.9).expect("a slope"), theil_sen(&turned, 0.9).expect("a slope"));
        prop_assert_eq!((one.slope, one.interval), (other.slope, other.interval));
    }

    #[test]
    fn one_wild_reading_barely_moves_the_robust_slope(points in readings(), wild in 100.0f64..1e6) {
        prop_assume!(points.len() >= 8);
        let calm = theil_sen(&points, 0.9).expect("a slope");
        let mut stained = points.clone();
        let last = stained.len() - 1;
        stained[last].y += wild;
        let robust = theil_sen(&stained, 0.9).expect("a slope");
        let slopes = points.iter().enumerate().flat_map(|(index, a)| {
            points.iter().skip(index + 1).map(move |b| (b.y - a.y) / (b.x - a.x))
        });
        let (low, high) = slopes.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| (low.min(s), high.max(s)));
        prop_assert!(robust.slope >= low && robust.slope <= high, "{} {}", robust.slope, calm.slope);
    }

    #[test]
    fn robust_intervals_hold_the_slope_and_grow_with_the_level(points in readings()) {
        let at = |level| theil_sen(&points, level).expect("a slope");
        let (narrow, wide) = (at(0.8), at(0.98));
        if let (Some(narrow), Some(wide)) = (narrow.interval, wide.interval) {
            prop_assert!(wide.low <= narrow.low && narrow.high <= wide.high);
        }
        if let Some(interval) = narrow.interval {
            prop_assert!(interval.low <= narrow.slope && narrow.slope <= interval.high);
            prop_assert!(interval.level >= 0.8 - 1e-12);
        }
    }

    #[test]
    fn ranks_care_for_order_alone(first in vec(-20i32..20, 1..12), second in vec(-20i32..20, 1..12)) {
        let as_numbers = |list: &[i32], of: fn(f64) -> f64| -> Vec<f64> { list.iter().map(|v| of(f64::from(*v))).collect() };
        let test = |of: fn(f64) -> f64| rank_test(&as_numbers(&first, of), &as_numbers(&second, of));
        prop_assert_eq!(test(|v| v), test(f64::exp));
        let other = rank_test(&as_numbers(&second, |v| v), &as_numbers(&first, |v| v));
        if let (Ok(one), Ok(other)) = (test(|v| v), other) {
            prop_assert_eq!((one.p_larger, one.p_smaller, one.p_two_sided), (other.p_smaller, other.p_larger, other.p_two_sided));
            prop_assert!((one.share_larger + other.share_larger - 1.0).abs() < 1e-12);
            prop_assert!(one.p_larger + one.p_smaller >= 1.0 - 1e-9 && one.p_two_sided <= 1.0);
        }
    }

    #[test]
    fn the_difference_lies_in_its_interval(first in vec(0.1f64..9.0, 4..9), second in vec(0.1f64..9.0, 4..9), more in 0.0f64..5.0) {
        let part = |worn: &f64| PartWear { worn: *worn, used: 10.0 };
        let parts = |list: &[f64]| list.iter().map(part).collect::<Vec<_>>();
        let compared = compare_rates(&parts(&first), &parts(&second)).expect("compared");
        if let Some(interval) = compared.difference_interval {
            prop_assert!(interval.low <= compared.difference && compared.difference <= interval.high);
        }
        let faster: Vec<f64> = first.iter().map(|worn| worn + more).collect();
        let shifted = compare_rates(&parts(&faster), &parts(&second)).expect("compared");
        prop_assert!(close(shifted.difference, compared.difference + more / 10.0, 1e-9));
        prop_assert!(shifted.test.p_larger <= compared.test.p_larger + 1e-12);
    }

    #[test]
    fn nothing_but_finite_numbers_comes_out(points in vec((any::<f64>(), any::<f64>()), 0..8), limit in any::<f64>(), level in any::<f64>()) {
        let points: Vec<Point> = points.into_iter().map(|(x, y)| Point::new(x, y)).collect();
        let confidence = Confidence { level, sides: Sides::One };
        if let Ok(line) = fit_line(&points) {
            prop_assert!([line.slope, line.intercept, line.residual_sd, line.slope_se].iter().all(|n| n.is_finite()));
            if let Ok(met) = cross(&line, limit, confidence) {
                prop_assert!(met.at.is_finite() && met.earliest.is_none_or(f64::is_finite) && met.latest.is_none_or(f64::is_finite));
            }
            if let Ok(width) = line.half_width(limit, Band::Reading, confidence) {
                prop_assert!(width.is_finite());
            }
        }
        if let Ok(robust) = theil_sen(&points, 0.9) {
            prop_assert!(robust.slope.is_finite() && robust.intercept.is_finite());
        }
        for degree in [0, 2] {
            match fit_polynomial(&points, degree) {
                Ok(fit) => prop_assert!(fit.terms.iter().all(|term| term.value.is_finite() && term.se.is_finite())),
                Err(why) => prop_assert!(why != FitError::BadLevel),
            }
        }
    }
}
