//! How long parts last: survival curves, the Weibull law, MTBF, log-rank, and the club's invented lives. Repairs of
//! systems over their age are in `life_repairs`.

use preen_domain::formulas::life::kaplan_meier::{BoundScale, CountedAt, SurvivalCurve, kaplan_meier};
use preen_domain::formulas::life::log_rank::log_rank;
use preen_domain::formulas::life::mtbf::{Mtbf, compare_rates, mtbf};
use preen_domain::formulas::life::spares::{poisson_at_most, spares_needed};
use preen_domain::formulas::life::weibull::{WeibullFit, fit_weibull};
use preen_domain::formulas::life::weibull_plot::plot_weibull;
use preen_domain::formulas::life::{Life, Truncation};

use crate::close::close;

fn life(age: f64, is_failure: bool) -> Life {
    if is_failure { Life::failed(age) } else { Life::running(age) }
}

/// Lives from lines of columns; `group` picks the lines whose first column it is.
fn lives(text: &str, separator: u8, group: Option<&str>) -> Vec<Life> {
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).delimiter(separator).from_reader(text.as_bytes());
    let rows = reader.records().map(|row| row.expect("a row"));
    let lives: Vec<Life> = rows
        .filter(|row| group.is_none_or(|group| &row[0] == group))
        .map(|row| {
            let (age, event) = (&row[row.len() - 2], &row[row.len() - 1]);
            life(age.parse().expect("an age"), event == "1")
        })
        .collect();
    assert!(!lives.is_empty());
    lives
}

fn six_mp() -> Vec<Life> {
    lives(include_str!("data/gehan_6mp.tsv"), b'\t', None)
}

fn aml(group: &str) -> Vec<Life> {
    lives(include_str!("data/aml.tsv"), b'\t', Some(group))
}

fn batch(name: &str) -> Vec<Life> {
    lives(include_str!("data/example_lives.csv"), b',', Some(name))
}

fn curve(lives: &[Life], scale: BoundScale) -> SurvivalCurve {
    kaplan_meier(lives, 0.95, scale, CountedAt::Found).expect("a curve")
}

fn fitted(lives: &[Life]) -> WeibullFit {
    fit_weibull(lives).expect("a law")
}

fn mean_life(exposure: f64, failures: u32, confidence: f64) -> Mtbf {
    mtbf(exposure, failures, confidence, Truncation::Time).expect("bounds")
}

#[test]
fn mtbf_bounds() {
    let source = "NIST/SEMATECH e-Handbook 8.4.5.1, R output";
    let two = mean_life(800.0, 2, 0.9);
    assert_eq!(two.mtbf, Some(400.0));
    close(source, two.low / 127.069, 1.0, 4e-6);
    close(source, two.high.expect("bounded") / 2251.229, 1.0, 5e-7);
    // Factors of the table form; recomputed independently.
    let table = [
        (1, 0.2108, 19.4957),
        (2, 0.3177, 5.6281),
        (3, 0.3869, 3.6689),
        (5, 0.4756, 2.5379),
        (10, 0.5895, 1.8432),
    ];
    for (failures, low, high) in table {
        let factors = mean_life(f64::from(failures), failures, 0.9);
        close(source, factors.low, low, 5e-5);
        close(source, factors.high.expect("bounded"), high, 5e-5);
    }
    // Nothing failed: T/-ln(alpha); the formula of the same chapter, computed.
    for (one_sided, low) in [(0.6, 873.085334), (0.8, 497.067948), (0.9, 347.435586), (0.95, 267.046561)] {
        let none = mean_life(800.0, 0, 2.0 * one_sided - 1.0);
        close(source, none.low, low, 1e-6);
        close(source, none.one_sided_confidence, one_sided, 1e-12);
        assert_eq!((none.mtbf, none.high), (None, None));
    }
}

#[test]
fn survival_with_staggered_removals() {
    let source = "NIST/SEMATECH e-Handbook 8.2.1.5";
    let failures = [10.0, 32.0, 56.0, 98.0, 122.0, 181.0].map(Life::failed);
    let removed = [50.0, 100.0, 125.0, 150.0].map(Life::running);
    let lives: Vec<Life> = failures.into_iter().chain(removed).chain([Life::running(200.0); 10]).collect();
    let rows = [
        (10.0, 20, 0.95),
        (32.0, 19, 0.9),
        (56.0, 17, 0.847_058_823_529),
        (98.0, 16, 0.794_117_647_059),
        (122.0, 14, 0.737_394_957_983),
        (181.0, 11, 0.670_359_052_712),
    ];
    let steps = curve(&lives, BoundScale::Plain).steps;
    assert_eq!(steps.len(), rows.len());
    for (step, (at, at_risk, survival)) in steps.iter().zip(rows) {
        assert_eq!((step.at, step.at_risk), (at, at_risk));
        close(source, step.survival, survival, 1e-12);
    }
}

#[test]
fn survival_of_the_six_mp_arm() {
    // Data: Freireich 1963, Gehan 1965; figures by R survival 3.5-3 (the published three digits agree, from memory).
    let rows = [
        (6.0, 21, 3, 0.857142857, 0.076360355),
        (7.0, 17, 1, 0.806722689, 0.086935285),
        (10.0, 15, 1, 0.752941176, 0.096349653),
        (13.0, 12, 1, 0.690196078, 0.106814708),
        (16.0, 11, 1, 0.62745098, 0.114053865),
        (22.0, 7, 1, 0.537815126, 0.128233752),
        (23.0, 6, 1, 0.448179272, 0.134591457),
    ];
    let curve = curve(&six_mp(), BoundScale::LogLog);
    assert_eq!(curve.steps.len(), rows.len());
    for (step, (at, at_risk, failed, survival, error)) in curve.steps.iter().zip(rows) {
        assert_eq!((step.at, step.at_risk, step.failed), (at, at_risk, failed));
        close("survival", step.survival, survival, 1e-8);
        close("Greenwood", step.std_error.expect("an error"), error, 1e-8);
    }
    let median = curve.age_reached(0.5);
    assert_eq!((median.at, median.low, median.high), (Some(23.0), Some(13.0), None));
}

#[test]
fn survival_of_the_maintained_arm_with_log_bounds() {
    // Data: Miller 1981; figures by R survival 3.5-3, bounds on the log scale cut at 1.
    let rows = [
        (9.0, 11, 0.90909091, 0.086678417, 0.754133845, 1.0),
        (13.0, 10, 0.81818182, 0.1162913, 0.619248987, 1.0),
        (18.0, 8, 0.71590909, 0.139664971, 0.488426287, 1.0),
        (23.0, 7, 0.61363636, 0.152632331, 0.37686706, 0.9991576),
        (31.0, 5, 0.49090909, 0.164193267, 0.254859951, 0.94558496),
        (34.0, 4, 0.36818182, 0.162668886, 0.154877118, 0.87526068),
        (48.0, 2, 0.18409091, 0.153492746, 0.035917898, 0.94352577),
    ];
    let steps = curve(&aml("M"), BoundScale::Log).steps;
    assert_eq!(steps.len(), rows.len());
    for (step, (at, at_risk, survival, error, low, high)) in steps.iter().zip(rows) {
        assert_eq!((step.at, step.at_risk), (at, at_risk));
        close("survival", step.survival, survival, 1e-8);
        close("Greenwood", step.std_error.expect("an error"), error, 1e-8);
        close("low", step.low.expect("a bound"), low, 1e-8);
        close("high", step.high.expect("a bound"), high, 1e-8);
    }
}

#[test]
fn log_rank_of_two_arms() {
    // Figures by R survival 3.5-3; published 16.79, from memory.
    let placebo = lives(include_str!("data/gehan_placebo.tsv"), b'\t', None);
    let test = log_rank(&six_mp(), &placebo).expect("comparable");
    assert_eq!(test.observed, [9, 21]);
    close("expected, first", test.expected[0], 19.250501, 1e-6);
    close("expected, second", test.expected[1], 10.749499, 1e-6);
    close("chi-square", test.chi_square, 16.792941, 1e-6);
    close("p", test.p / 4.16881e-5, 1.0, 1e-6);
}

#[test]
fn weibull_of_a_test_stopped_at_500_hours() {
    let source = "NIST/SEMATECH e-Handbook 8.4.1.3, R output";
    let failures = [55.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0].map(Life::failed);
    let lives: Vec<Life> = failures.into_iter().chain([Life::running(500.0); 10]).collect();
    let fit = fitted(&lives);
    close(source, fit.eta, 606.005, 0.0005);
    close(source, fit.beta, 1.72563, 0.000005);
    close(source, fit.log_likelihood, -75.122, 0.0005);
    close(source, fit.aic(), 154.24, 0.005);
    let (mean, deviation) = fit.mean_and_deviation().expect("finite");
    close(source, mean, 540.175, 0.0005);
    close(source, deviation, 322.647, 0.0005);
    // Four independent programs agree on these figures.
    close("recomputed", fit.eta, 606.004798, 1e-6);
    close("recomputed", fit.beta, 1.725626, 5e-7);
    let at_386 = curve(&lives, BoundScale::Plain).survival_at(386.0);
    close(source, at_386.expect("watched"), 0.5, 1e-12);
}

#[test]
fn weibull_with_multiple_right_censoring() {
    // Shock absorbers, O'Connor 1985; Meeker & Escobar 1998 table C.2 (published 10.23, 0.3164 from memory).
    let fit = fitted(&lives(include_str!("data/shock_absorber.tsv"), b'\t', None));
    let relative = |name, computed: f64, expected: f64| close(name, computed / expected, 1.0, 1e-6);
    relative("eta", fit.eta, 27717.362);
    relative("beta", fit.beta, 3.1605796);
    relative("log-likelihood", fit.log_likelihood, -123.993944);
    relative("se ln eta", fit.se_log_eta, 0.10988154);
    relative("se ln beta", fit.se_log_beta, 0.23122257);
    close("published mu", fit.eta.ln(), 10.23, 0.005);
    close("published sigma", 1.0 / fit.beta, 0.3164, 0.00005);
}

#[test]
fn weibull_of_both_arms() {
    // Data: Miller 1981; figures by R survival 3.5-3.
    for (group, eta, beta, log_likelihood) in
        [("M", 60.32288978, 1.03185424, -35.70395631), ("N", 25.08323789, 1.57362855, -44.14421212)]
    {
        let fit = fitted(&aml(group));
        close(group, fit.eta / eta, 1.0, 1e-6);
        close(group, fit.beta / beta, 1.0, 1e-6);
        close(group, fit.log_likelihood / log_likelihood, 1.0, 1e-6);
    }
}

#[test]
fn weibull_with_intervals_and_late_entry() {
    // Own lives; maximum, its second derivatives and the bounds of B10 computed with 40 digits by another program.
    let lives = [
        Life::failed(84.0),
        Life::failed(96.0),
        Life::failed(118.0).entered_at(30.0),
        Life::running(72.0),
        Life::running(133.0).entered_at(60.0),
        Life::failed_between(100.0, 125.0),
        Life::failed_between(70.0, 110.0).entered_at(40.0),
        Life::failed_between(0.0, 90.0),
        Life::failed(140.0),
        Life::running(60.0).entered_at(25.0),
    ];
    let fit = fitted(&lives);
    let relative = |name, computed: f64, expected: f64| close(name, computed / expected, 1.0, 1e-9);
    relative("eta", fit.eta, 118.126905858);
    relative("beta", fit.beta, 4.85285154229);
    relative("log-likelihood", fit.log_likelihood, -23.2042264234);
    relative("se ln eta", fit.se_log_eta, 0.079915115935);
    relative("se ln beta", fit.se_log_beta, 0.328663785061);
    relative("covariance", fit.cov_log, 0.00502021059947);
    let b10 = fit.b_life(0.1, 0.9).expect("finite");
    relative("B10", b10.value, 74.29464672);
    relative("B10 low", b10.low, 54.7916717);
    relative("B10 high", b10.high, 100.7396628);
}

#[test]
fn weibull_line_by_median_ranks() {
    let source = "NIST/SEMATECH e-Handbook 8.2.2.1, R output";
    let ages = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
    let plot = plot_weibull(&ages, 20).expect("a line");
    close(source, plot.intercept, -4.116536, 1e-6);
    close(source, plot.slope, 1.457519, 1e-6);
    close(source, plot.points[0].hazard, 0.03491627, 1e-8);
    close(source, plot.points[9].hazard, 0.64529116, 1e-8);
}

#[test]
fn the_invented_lives_of_two_batches() {
    // 24 invented lives; figures computed independently.
    let (a, b) = (batch("A"), batch("B"));
    assert_eq!((a.len(), b.len()), (12, 12));
    let exposure = |lives: &[Life]| lives.iter().map(Life::exposure).sum::<f64>();
    assert_eq!((exposure(&a), exposure(&b)), (2434.0, 1257.0));

    let survival = curve(&b, BoundScale::LogLog);
    let rows = [(84.0, 0.900), (96.0, 0.788), (110.0, 0.656), (118.0, 0.525), (125.0, 0.394), (140.0, 0.0)];
    assert_eq!(survival.steps.len(), rows.len());
    for (step, (at, share)) in survival.steps.iter().zip(rows) {
        assert_eq!(step.at, at);
        // Printed to three figures.
        close("survival", step.survival, share, 0.000_501);
    }

    let fit = fitted(&b);
    close("beta", fit.beta, 7.15, 0.005);
    close("eta", fit.eta, 129.2, 0.05);
    close("B10", fit.b_life(0.1, 0.9).expect("finite").value, 94.0, 0.5);
    close("B50", fit.b_life(0.5, 0.9).expect("finite").value, 123.0, 0.5);
    close("100 to 150", fit.conditional_survival(100.0, 150.0, 0.9).expect("finite").value, 0.064, 0.0005);

    for (exposure, failures, mean, low, high, within) in
        [(1257.0, 6, 210.0, 106.0, 481.0, 0.55), (2434.0, 2, 1217.0, 387.0, 6849.0, 0.5)]
    {
        let bounds = mean_life(exposure, failures, 0.9);
        close("MTBF", bounds.mtbf.expect("failures"), mean, within);
        close("low", bounds.low, low, 0.5);
        close("high", bounds.high.expect("bounded"), high, 0.5);
    }
    let test = log_rank(&a, &b).expect("comparable");
    close("log-rank", test.chi_square, 14.93, 0.005);
    close("log-rank p", test.p, 0.0001, 0.00005);
    let none = mean_life(214.0, 0, 0.9);
    close("no failure in 214", none.low, 71.0, 0.5);
    assert_eq!((none.mtbf, none.high, none.one_sided_confidence), (None, None, 0.95));
}

#[test]
fn few_failures_tell_no_batches_apart() {
    // Two in 2344 flights against one in 1293: binomial by an independent library.
    let rates = compare_rates((2344.0, 2), (1293.0, 1)).expect("comparable");
    close("chance of two or more", rates.p_first_worse, 0.710_698_031_5, 1e-9);
    let (b, a) = (mean_life(2344.0, 2, 0.9), mean_life(1293.0, 1, 0.9));
    assert_eq!((b.mtbf, a.mtbf), (Some(1172.0), Some(1293.0)));
    assert!(b.low < a.high.expect("bounded") && a.low < b.high.expect("bounded"), "bounds overlap");
}

#[test]
fn spares_for_a_contest() {
    // Invented exposures; figures computed independently.
    let check = |name, mean: f64, rows: &[f64], needed| {
        for (spares, chance) in (0..).zip(rows) {
            close(name, poisson_at_most(spares, mean).expect("a chance"), *chance, 0.0005);
        }
        assert_eq!(spares_needed(mean, 0.95).expect("a number").needed, needed, "{name}");
    };
    close("mean of the servos", 100.0 / 209.5, 0.4773, 0.00005);
    check("flap servos", 100.0 / 209.5, &[0.620, 0.917, 0.987, 0.999], 2);
    check("blades", 60.0 * 0.02, &[0.301, 0.663, 0.879, 0.966, 0.992], 3);
    check("joiner", 60.0 * 0.0008, &[0.953, 0.999], 0);
}
