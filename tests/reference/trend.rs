//! Regression against certified values and the wear of the worked examples.

use preen_domain::formulas::trend::compare::{PartWear, RateVerdict, compare_rates};
use preen_domain::formulas::trend::crossing::CrossingError;
use preen_domain::formulas::trend::least_squares::{fit_polynomial, least_squares};
use preen_domain::formulas::trend::line::{Band, fit_line, fit_line_through_origin};
use preen_domain::formulas::trend::rank::{RankMethod, rank_test};
use preen_domain::formulas::trend::theil_sen::theil_sen;
use preen_domain::formulas::trend::wear::{Trouble, WearError, fit_wear};
use preen_domain::formulas::trend::{Confidence, Point, Sides};

use crate::close::close;

fn points(table: &str) -> Vec<Point> {
    let rows = table.lines().filter(|line| !line.starts_with('#') && !line.starts_with('y'));
    let number = |text: Option<&str>| text.and_then(|text| text.trim().parse().ok()).expect("a number");
    rows.map(|row| {
        let mut fields = row.split('\t');
        let y = number(fields.next());
        Point::new(number(fields.next()), y)
    })
    .collect()
}

/// Figures in common: −log₁₀ of the relative error, of the error itself where the value is zero.
fn figures(what: &str, got: f64, certified: f64, least: f64) {
    let error = if certified == 0.0 { got.abs() } else { ((got - certified) / certified).abs() };
    let common = if error == 0.0 { 15.0 } else { -error.log10() };
    assert!(common >= least, "{what}: {got} for {certified} has {common:.1} figures in common, not {least}");
}

/// The worn joiner of the worked example: cycles since it was sleeved and clearance in mm.
const JOINER: [(f64, f64); 6] =
    [(0.0, 0.050), (6.0, 0.058), (10.0, 0.071), (14.0, 0.080), (16.0, 0.094), (19.0, 0.101)];

fn joiner() -> Vec<Point> {
    JOINER.map(|(x, y)| Point::new(x, y)).to_vec()
}

#[test]
fn certified_norris() {
    // NIST/ITL Statistical Reference Datasets, Norris: lower difficulty, y = B0 + B1 x.
    let data = points(include_str!("data/strd_norris.tsv"));
    assert_eq!(data.len(), 36);
    let line = fit_line(&data).expect("a line");
    figures("intercept", line.intercept, -0.262323073774029, 11.0);
    figures("its error", line.intercept_se.expect("with intercept"), 0.232818234301152, 11.0);
    figures("slope", line.slope, 1.00211681802045, 13.0);
    figures("its error", line.slope_se, 0.000429796848199937, 11.0);
    figures("residual deviation", line.residual_sd, 0.884796396144373, 11.0);
    figures("R²", line.r_squared.expect("spread"), 0.999993745883712, 13.0);
    figures("F", line.f_statistic().expect("scatter"), 5436385.54079785, 11.0);
    figures("residual sum", line.residual_sum, 26.6173985294224, 11.0);
    let fit = fit_polynomial(&data, 1).expect("the same by QR");
    figures("intercept by QR", fit.terms[0].value, -0.262323073774029, 11.0);
    figures("slope by QR", fit.terms[1].value, 1.00211681802045, 13.0);
    figures("its error by QR", fit.terms[1].se, 0.000429796848199937, 11.0);
}

#[test]
fn certified_no_intercept() {
    // NIST/ITL Statistical Reference Datasets, NoInt1: average difficulty, y = B1 x. R² and residual deviation of its
    // certified page from memory.
    let data = points(include_str!("data/strd_noint1.tsv"));
    assert_eq!(data.len(), 11);
    let line = fit_line_through_origin(&data).expect("a line");
    figures("slope", line.slope, 2.07438016528926, 13.0);
    figures("its error", line.slope_se, 0.0165289256198347, 13.0);
    figures("residual deviation", line.residual_sd, 3.56753034006338, 13.0);
    figures("R²", line.r_squared.expect("spread"), 0.999365492298663, 13.0);
    let column: Vec<f64> = data.iter().map(|point| point.x).collect();
    let y: Vec<f64> = data.iter().map(|point| point.y).collect();
    let fit = least_squares(&[column], &y).expect("the same by QR");
    figures("slope by QR", fit.terms[0].value, 2.07438016528926, 13.0);
    figures("its error by QR", fit.terms[0].se, 0.0165289256198347, 13.0);
}

#[test]
fn certified_wampler() {
    // NIST/ITL Statistical Reference Datasets, Wampler1 (exact polynomial) and Wampler4 (large noise): higher
    // difficulty, fifth degree.
    let exact = fit_polynomial(&points(include_str!("data/strd_wampler1.tsv")), 5).expect("a polynomial");
    for (k, term) in exact.terms.iter().enumerate() {
        figures(&format!("Wampler1 B{k}"), term.value, 1.0, 9.0);
        figures(&format!("Wampler1 error of B{k}"), term.se, 0.0, 9.0);
    }
    let noisy = fit_polynomial(&points(include_str!("data/strd_wampler4.tsv")), 5).expect("a polynomial");
    let errors = [
        215232.62467817,
        236355.173469681,
        77934.3524331583,
        10147.550755035,
        564.566512170752,
        11.2324854679312,
    ];
    for (k, (term, error)) in noisy.terms.iter().zip(errors).enumerate() {
        figures(&format!("Wampler4 B{k}"), term.value, 1.0, 9.0);
        figures(&format!("Wampler4 error of B{k}"), term.se, error, 11.0);
    }
}

#[test]
fn joiner_reaches_watch_and_restrict() {
    // Worked example, computed independently (NumPy and SciPy): six readings since the joiner was sleeved, now at 21.
    let worn = fit_wear(&joiner(), Trouble::Above).expect("six readings");
    close("slope", worn.line.slope, 0.002788, 5e-7);
    close("slope", worn.line.slope, 0.002788291354663036, 1e-15);
    close("scatter", worn.line.residual_sd, 0.0046, 5e-5);
    close("scatter", worn.line.residual_sd, 0.00463302731888217, 1e-15);
    let reach = |limit| worn.reaches(limit, 21.0, Confidence::WEAR).expect("it grows");
    let watch = reach(0.12);
    close("watch at", watch.at_count, 26.7, 0.05);
    close("watch left", watch.count_left, 5.7, 0.05);
    close("watch earliest", watch.earliest_left, 1.1, 0.05);
    close("watch earliest", watch.earliest_count.expect("sure"), 22.130939500400796, 1e-9);
    close("watch latest", watch.latest_count.expect("sure"), 33.05314040163348, 1e-9);
    let restrict = reach(0.20);
    close("restrict at", restrict.at_count, 55.4, 0.05);
    close("restrict left", restrict.count_left, 34.4, 0.05);
    close("restrict earliest", restrict.earliest_left, 25.5, 0.05);
    close("restrict latest", restrict.latest_count.expect("sure"), 69.17532647151, 1e-8);
}

#[test]
fn a_fit_across_the_rework_hides_the_wear() {
    // The same joiner from its first fitting on: before it was sleeved .040 .070 .110 .150 at 1, 14, 31 and 43 cycles;
    // the sleeve came at 47.
    let before = [(1.0, 0.04), (14.0, 0.07), (31.0, 0.11), (43.0, 0.15)].map(|(x, y)| Point::new(x, y));
    let after = joiner().into_iter().map(|point| Point::new(point.x + 47.0, point.y));
    let whole: Vec<Point> = before.into_iter().chain(after).collect();
    let ratio = fit_line(&whole).expect("a line").slope / fit_line(&joiner()).expect("a line").slope;
    close("share of the true slope", ratio, 0.16, 0.005);
}

#[test]
fn flap_servo_reaches_its_limit() {
    // Worked example, computed independently (NumPy and SciPy): free play in degrees by flights, now at 271.
    let readings = [(62.0, 0.35), (144.0, 0.50), (211.0, 0.70), (254.0, 0.90)].map(|(x, y)| Point::new(x, y));
    let worn = fit_wear(&readings, Trouble::Above).expect("four readings");
    let limit = worn.reaches(1.2, 271.0, Confidence::WEAR).expect("it grows");
    close("at", limit.at_count, 377.38085151450963, 1e-9);
    close("left", limit.count_left, 106.4, 0.05);
    close("earliest", limit.earliest_count.expect("sure"), 293.4403582276182, 1e-9);
    close("earliest left", limit.earliest_left, 22.4, 0.05);
    close("latest", limit.latest_count.expect("sure"), 545.5491234629495, 1e-8);
    // Median of all six slopes by scipy.stats.theilslopes.
    close("robust slope", worn.robust.expect("few readings").slope, 0.0029248289800995024, 1e-15);
}

#[test]
fn bands_of_the_joiner() {
    // Computed by statsmodels' formulas written out in NumPy with SciPy's t quantiles, at 21 cycles.
    let line = fit_line(&joiner()).expect("a line");
    let at = |band, level, sides| line.half_width(21.0, band, Confidence { level, sides }).expect("a width");
    close("line", line.at(21.0), 0.104_014_295_439_074_19, 1e-13);
    close("mean, two-sided", at(Band::Mean, 0.95, Sides::Two), 0.009_870_771_718_260_726, 1e-12);
    close("reading, two-sided", at(Band::Reading, 0.95, Sides::Two), 0.016_214_123_633_101_32, 1e-12);
    close("reading, one-sided", at(Band::Reading, 0.95, Sides::One), 0.012_449_742_764_810_597, 1e-12);
}

#[test]
fn too_few_and_no_wear_have_no_date() {
    // Common practice: a forecast needs four readings, and what does not grow has no date.
    let three = fit_wear(&joiner()[..3], Trouble::Above).expect_err("three readings");
    assert_eq!(three, WearError::TooFewReadings { readings: 3 });
    let healing = [(0.0, 0.4), (20.0, 0.4), (40.0, 0.35), (60.0, 0.35)].map(|(x, y)| Point::new(x, y));
    let worn = fit_wear(&healing, Trouble::Above).expect("four readings");
    let refused = worn.reaches(1.0, 60.0, Confidence::WEAR).expect_err("no growth");
    assert_eq!(refused, WearError::Crossing(CrossingError::NoGrowth));
}

#[test]
fn robust_slopes_and_intervals() {
    // By hand (P. K. Sen's method): five readings, slopes of the ten pairs 1 1 1 1 1 1 10 13 19 37 for the wild
    // last one; the exact interval at 90 % leaves 1 + 4 of 120 orders on each side, so two slopes.
    let wild = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 3.0), (4.0, 40.0)].map(|(x, y)| Point::new(x, y));
    let robust = theil_sen(&wild, 0.9).expect("a slope");
    let interval = robust.interval.expect("enough points");
    assert_eq!((robust.slope, robust.intercept, robust.pairs), (1.0, 0.0, 10));
    assert_eq!((interval.low, interval.high), (1.0, 19.0));
    close("level", interval.level, 1.0 - 10.0 / 120.0, 1e-12);
}

#[test]
fn batches_by_measured_wear() {
    // Worked example: free play last read less 0.25° as new, and the flights to that reading, of flap servos of two
    // batches. One-sided 7 of 1716 ways.
    let part = |(last, used): (f64, f64)| PartWear { worn: last - 0.25, used: used / 100.0 };
    let b =
        [(0.7, 254.0), (0.9, 254.0), (1.0, 229.0), (1.1, 274.0), (0.95, 274.0), (1.3, 175.0), (0.8, 175.0)];
    let a = [(0.4, 118.0), (0.6, 175.0), (0.55, 175.0), (0.5, 112.0), (0.45, 112.0), (0.35, 58.0)];
    let compared = compare_rates(&b.map(part), &a.map(part)).expect("compared");
    close("B per 100 flights", compared.first.mean, 0.320, 0.0005);
    close("A per 100 flights", compared.second.mean, 0.179, 0.0005);
    let counted = compared.test.counted.expect("counted out");
    assert_eq!((counted.at_least, counted.ways, compared.test.method), (7, 1716, RankMethod::Exact));
    close("one-sided", compared.test.p_larger, 0.0041, 0.00005);
    close("two-sided", compared.test.p_two_sided, 0.0082, 0.00005);
    close("exactly", compared.test.p_larger, 7.0 / 1716.0, 1e-12);
    assert_eq!(compared.verdict, RateVerdict::FirstFaster);
}

#[test]
fn rank_tables() {
    // Lower tail of U from the tables of Mann and Whitney (1947), from memory and met by scipy.stats: .100 and .057 for
    // U 3 and 2 of samples of 4 and 4, .048 for U 4 of 5 and 5, .026 for U 4 of 6 and 5.
    let check = |second: &[f64], first: &[f64], u, p| {
        let test = rank_test(first, second).expect("comparable");
        assert_eq!(test.u, u);
        close(&format!("U {u}"), test.p_smaller, p, 0.0005);
    };
    check(&[3.0, 4.0, 6.0, 8.0], &[1.0, 2.0, 5.0, 3.5], 3.0, 0.100);
    check(&[3.0, 5.0, 6.0, 8.0], &[1.0, 2.0, 4.0, 4.5], 2.0, 0.057);
    check(&[4.0, 5.5, 6.0, 7.0, 8.0], &[1.0, 2.0, 3.0, 5.0, 6.5], 4.0, 0.048);
    check(&[3.5, 5.5, 6.0, 7.0, 8.0], &[1.0, 2.0, 3.0, 3.2, 4.0, 6.5], 4.0, 0.026);
}

#[test]
fn ranks_with_ties() {
    // Computed with scipy.stats: permutation of mid-ranks over all ways, and mannwhitneyu(method="asymptotic").
    let test = rank_test(&[1.0, 2.0, 2.0, 5.0, 6.0], &[2.0, 0.0, 1.0, 1.0]).expect("comparable");
    assert_eq!(test.method, RankMethod::ExactGivenTies);
    close("exact given ties", test.p_larger, 10.0 / 126.0, 1e-12);
    let long = |shift: f64, step: f64| -> Vec<f64> {
        (0..80).map(|index| (f64::from(index) * step).floor() + shift).collect()
    };
    let test = rank_test(&long(3.0, 0.5), &long(0.0, 0.5)).expect("comparable");
    assert_eq!(test.method, RankMethod::NormalApproximation);
    close("approximation", test.p_larger, 0.057_587_009_107_302_62, 1e-10);
}
