//! Laws of the life formulas, tried on random lives.

use preen_domain::formulas::life::kaplan_meier::{BoundScale, CountedAt, kaplan_meier};
use preen_domain::formulas::life::log_rank::log_rank;
use preen_domain::formulas::life::mean_cumulative::{RepairedSystem, mean_cumulative};
use preen_domain::formulas::life::mtbf::{compare_rates, mtbf};
use preen_domain::formulas::life::power_law::fit_power_law;
use preen_domain::formulas::life::spares::{poisson_at_most, spares_needed};
use preen_domain::formulas::life::weibull::{WeibullFit, fit_weibull};
use preen_domain::formulas::life::{Life, LifeEnd, Truncation};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::close::close;

/// Ages on a grid, so that ties occur; used parts, and failures between looks.
fn life() -> impl Strategy<Value = Life> {
    (0u32..4, 1u32..40, 0u32..3, 0u32..20).prop_map(|(kind, age, is_used, more)| {
        let entered = if is_used == 2 { f64::from(age) } else { 0.0 };
        let at = entered + f64::from(age);
        let end = match kind {
            0 | 1 => LifeEnd::Failed { at },
            2 => LifeEnd::Running { at },
            _ => LifeEnd::FailedBetween { good_at: at, found_at: at + 1.0 + f64::from(more) },
        };
        Life { entered, end }
    })
}

fn scaled(life: &Life, by: f64) -> Life {
    let end = match life.end {
        LifeEnd::Failed { at } => LifeEnd::Failed { at: at * by },
        LifeEnd::Running { at } => LifeEnd::Running { at: at * by },
        LifeEnd::FailedBetween { good_at, found_at } => {
            LifeEnd::FailedBetween { good_at: good_at * by, found_at: found_at * by }
        }
    };
    Life { entered: life.entered * by, end }
}

/// The log-likelihood by its definition, term by term.
fn log_likelihood(lives: &[Life], eta: f64, beta: f64) -> f64 {
    let hazard = |age: f64| (age / eta).powf(beta);
    lives
        .iter()
        .map(|life| {
            let entry = hazard(life.entered);
            match life.end {
                LifeEnd::Failed { at } => (beta / at).ln() + beta * (at / eta).ln() - hazard(at) + entry,
                LifeEnd::Running { at } => entry - hazard(at),
                LifeEnd::FailedBetween { good_at, found_at } => {
                    entry + ((-hazard(good_at)).exp() - (-hazard(found_at)).exp()).ln()
                }
            }
        })
        .sum()
}

fn same(a: &WeibullFit, b: &WeibullFit, by: f64, within: f64) {
    close("eta", b.eta / (a.eta * by), 1.0, within);
    close("beta", b.beta / a.beta, 1.0, within);
    close("se ln eta", b.se_log_eta / a.se_log_eta, 1.0, 10.0 * within);
    close("se ln beta", b.se_log_beta / a.se_log_beta, 1.0, 10.0 * within);
}

fn random() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(random())]

    #[test]
    fn survival_falls_from_one_towards_zero_within_its_bounds(lives in vec(life(), 1..30), scale in 0usize..3) {
        let scale = [BoundScale::Plain, BoundScale::Log, BoundScale::LogLog][scale];
        for end in [CountedAt::LastGood, CountedAt::Found] {
            let curve = kaplan_meier(&lives, 0.9, scale, end).expect("a curve");
            let mut before = 1.0;
            for step in &curve.steps {
                prop_assert!((0.0..=before).contains(&step.survival));
                prop_assert!(step.failed >= 1 && step.at_risk >= step.failed);
                if let (Some(low), Some(high)) = (step.low, step.high) {
                    prop_assert!(0.0 <= low && low <= step.survival && step.survival <= high && high <= 1.0);
                }
                before = step.survival;
            }
        }
    }

    #[test]
    fn without_a_removal_survival_is_the_share_left(ages in vec(1u32..30, 1..25)) {
        let lives: Vec<Life> = ages.iter().map(|age| Life::failed(f64::from(*age))).collect();
        let curve = kaplan_meier(&lives, 0.9, BoundScale::Plain, CountedAt::Found).expect("a curve");
        for step in &curve.steps {
            let left = ages.iter().filter(|age| f64::from(**age) > step.at).count();
            close("share left", step.survival, left as f64 / ages.len() as f64, 1e-12);
        }
    }

    #[test]
    fn a_used_part_is_split_without_a_difference(lives in vec(life(), 2..20)) {
        // A life watched to some age and then watched on is two lives: the first running, the second entering late.
        let split: Vec<Life> = lives.iter().flat_map(|life| {
            let half = life.entered + 0.25;
            let first = Life { end: LifeEnd::Running { at: half }, ..*life };
            [first, life.entered_at(half)]
        }).collect();
        let of = |lives: &[Life]| kaplan_meier(lives, 0.9, BoundScale::LogLog, CountedAt::Found).expect("a curve").steps;
        prop_assert_eq!(of(&lives), of(&split));
        if let (Ok(whole), Ok(split)) = (fit_weibull(&lives), fit_weibull(&split)) {
            same(&whole, &split, 1.0, 1e-5);
        }
    }

    #[test]
    fn the_order_and_the_unit_of_lives_change_nothing(lives in vec(life(), 3..25), by in 0.01f64..500.0) {
        let mut turned: Vec<Life> = lives.iter().map(|life| scaled(life, by)).collect();
        turned.reverse();
        match (fit_weibull(&lives), fit_weibull(&turned)) {
            (Ok(one), Ok(other)) => same(&one, &other, by, 1e-5),
            (one, other) => prop_assert_eq!(one.is_ok(), other.is_ok(), "{:?} {:?}", one, other),
        }
    }

    #[test]
    fn the_fit_is_the_top_of_the_likelihood(lives in vec(life(), 4..25)) {
        if let Ok(fit) = fit_weibull(&lives) {
            let top = log_likelihood(&lives, fit.eta, fit.beta);
            close("log-likelihood", top, fit.log_likelihood, 1e-7 * top.abs().max(1.0));
            for (eta, beta) in [(1.01, 1.0), (0.99, 1.0), (1.0, 1.01), (1.0, 0.99), (1.2, 1.3), (0.7, 0.6), (2.0, 0.5)] {
                prop_assert!(log_likelihood(&lives, fit.eta * eta, fit.beta * beta) <= top + 1e-9);
            }
            let mut before = 1.0;
            for age in [0.1, 1.0, 5.0, 20.0, 80.0, 1e4] {
                let share = fit.survival(age, 0.9).expect("an age");
                prop_assert!(0.0 <= share.low && share.low <= share.value && share.value <= share.high && share.high <= 1.0);
                prop_assert!(share.value <= before);
                before = share.value;
            }
        }
    }

    #[test]
    fn two_stretches_survived_are_the_whole(lives in vec(life(), 4..25), from in 1.0f64..30.0, more in 1.0f64..30.0) {
        if let Ok(fit) = fit_weibull(&lives) {
            let share = |from, to| fit.conditional_survival(from, to, 0.9).expect("ages").value;
            close("product", share(0.0, from) * share(from, from + more), share(0.0, from + more), 1e-9);
        }
    }

    #[test]
    fn an_interval_that_shrinks_becomes_exact(ages in vec(10u32..200, 4..15)) {
        prop_assume!(ages.iter().any(|age| *age != ages[0]));
        let of = |width: f64| {
            let lives: Vec<Life> = ages.iter().map(|age| f64::from(*age))
                .map(|age| Life::failed_between(age - width / 2.0, age + width / 2.0)).collect();
            fit_weibull(&lives).expect("a fit")
        };
        let lives: Vec<Life> = ages.iter().map(|age| Life::failed(f64::from(*age))).collect();
        let exact = fit_weibull(&lives).expect("a fit");
        let miss = |width| (of(width).beta / exact.beta - 1.0).abs();
        prop_assert!(miss(1e-4) < 1e-6, "{}", miss(1e-4));
        prop_assert!(miss(1.0) <= 0.5 && miss(0.01) < 1e-3);
    }

    #[test]
    fn counts_judge_a_group_by_its_share(exposure in 1.0f64..1e5, first in 0u32..40, second in 1u32..40) {
        let rates = compare_rates((exposure, first), (2.0 * exposure, second)).expect("comparable");
        let turned = compare_rates((2.0 * exposure, second), (exposure, first)).expect("comparable");
        close("turned", rates.p_first_worse, turned.p_first_better, 1e-12);
        // Both tails hold the count itself.
        prop_assert!(rates.p_first_worse + rates.p_first_better >= 1.0 - 1e-9);
        let one = mtbf(exposure, first, 0.9, Truncation::Time).expect("bounds");
        let twice = mtbf(2.0 * exposure, first, 0.9, Truncation::Time).expect("bounds");
        close("scaling", twice.low / one.low, 2.0, 1e-12);
        let more = mtbf(exposure, first + 1, 0.9, Truncation::Time).expect("bounds");
        prop_assert!(more.low < one.low);
        if let (Some(mean), Some(high)) = (one.mtbf, one.high) {
            prop_assert!(one.low < mean && mean < high);
        }
    }

    #[test]
    fn log_rank_does_not_care_which_group_is_first(a in vec(life(), 2..15), b in vec(life(), 2..15), by in 0.1f64..9.0) {
        let (one, other) = (log_rank(&a, &b), log_rank(&b, &a));
        prop_assert_eq!(one.is_ok(), other.is_ok());
        if let (Ok(one), Ok(other)) = (one, other) {
            close("turned", one.chi_square, other.chi_square, 1e-9);
            prop_assert!((0.0..=1.0).contains(&one.p));
            let all = f64::from(one.observed[0] + one.observed[1]);
            close("expected", one.expected[0] + one.expected[1], all, 1e-9);
            let scale = |lives: &[Life]| lives.iter().map(|life| scaled(life, by)).collect::<Vec<_>>();
            let scaled = log_rank(&scale(&a), &scale(&b)).expect("comparable");
            close("scaled", scaled.chi_square, one.chi_square, 1e-9);
        }
    }

    #[test]
    fn more_spares_are_enough_more_often(mean in 0.0f64..2000.0, target in 0.5f64..0.9999) {
        let mut before = 0.0;
        for spares in 0..50 {
            let chance = poisson_at_most(spares, mean).expect("a chance");
            prop_assert!((before..=1.0).contains(&chance));
            before = chance;
        }
        let need = spares_needed(mean, target).expect("a number");
        prop_assert!(poisson_at_most(need.needed, mean).expect("a chance") >= target);
        prop_assert!(spares_needed(mean * 1.5, target).expect("a number").needed >= need.needed);
    }

    #[test]
    fn the_mean_of_alike_systems_is_one_of_them(ages in vec(1u32..50, 1..10), systems in 1usize..6) {
        let system = RepairedSystem { repaired_at: ages.iter().map(|age| f64::from(*age)).collect(), watched_until: 60.0 };
        let curve = mean_cumulative(&vec![system; systems], 0.9).expect("a curve");
        close("all repairs", curve.last().expect("a step").mean, ages.len() as f64, 1e-9);
        prop_assert!(curve.is_sorted_by(|a, b| a.at < b.at && a.mean < b.mean));
    }

    #[test]
    fn a_power_law_keeps_its_exponent_in_any_unit(ages in vec(1u32..1000, 3..20), by in 0.01f64..100.0) {
        let mut ages: Vec<f64> = ages.iter().map(|age| f64::from(*age)).collect();
        ages.sort_by(f64::total_cmp);
        let law = fit_power_law(&ages, 1000.0, Truncation::Time).expect("a law");
        let other: Vec<f64> = ages.iter().map(|age| age * by).collect();
        let other = fit_power_law(&other, 1000.0 * by, Truncation::Time).expect("a law");
        close("exponent", other.beta / law.beta, 1.0, 1e-9);
        close("MTBF", other.mtbf / law.mtbf, by, 1e-7 * by);
    }
}

#[test]
fn an_exponential_life_is_a_weibull_life_of_shape_one() {
    // Quantiles of the exponential law with mean 100 at the middles of 2,000 slices.
    let lives: Vec<Life> = (0..2000)
        .map(|slice| -100.0 * (1.0 - (f64::from(slice) + 0.5) / 2000.0).ln())
        .map(Life::failed)
        .collect();
    let fit = fit_weibull(&lives).expect("a fit");
    close("shape", fit.beta, 1.0, 0.002);
    close("scale", fit.eta, 100.0, 0.2);
    // Cutting the young end off by late entry changes neither.
    let late: Vec<Life> =
        lives.iter().filter(|life| life.last_age() > 40.0).map(|life| life.entered_at(40.0)).collect();
    let fit = fit_weibull(&late).expect("a fit");
    close("shape, late", fit.beta, 1.0, 0.02);
    close("scale, late", fit.eta, 100.0, 2.0);
    // At shape 1 the scale is exposure over failures.
    let total = lives.iter().map(Life::exposure).sum::<f64>();
    let mean = mtbf(total, 2000, 0.9, Truncation::Time).expect("bounds").mtbf.expect("failures");
    close("MTBF", mean, 100.0, 0.05);
}
