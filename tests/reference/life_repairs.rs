//! Repairs of systems over their age: the power law, the three tests of a trend, the mean cumulative function.

use std::collections::BTreeMap;

use preen_domain::formulas::life::Truncation;
use preen_domain::formulas::life::mean_cumulative::{RepairedSystem, mean_cumulative};
use preen_domain::formulas::life::power_law::{fit_grouped, fit_power_law};
use preen_domain::formulas::life::repair_trend::{handbook_test, laplace_test, reverse_arrangement};

use crate::close::close;

const TEN: [f64; 10] = [5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0];

/// Data: MIL-HDBK-189 (1981), App. C, 27 failures in 300 hours.
const TWENTY_SEVEN: [f64; 27] = [
    2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1, 101.1, 132.0,
    142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1,
];

#[test]
fn power_law_without_bias() {
    let source = "NIST/SEMATECH e-Handbook 8.4.5.2, R output";
    let law = fit_power_law(&TEN, 1500.0, Truncation::Time).expect("a law");
    let relative = |computed: f64, expected: f64| close(source, computed / expected, 1.0, 1e-6);
    let beta = law.beta_unbiased.expect("enough failures");
    relative(1.0 - beta, 0.516494);
    relative(law.lambda_unbiased.expect("enough failures"), 0.2913003);
    relative(beta, 0.483506);
    let now = law.current_mtbf(0.8).expect("bounds");
    relative(now.mtbf, 310.234);
    relative(now.low, 157.7138);
    relative(now.high.expect("bounded"), 548.5566);
    // By maximum likelihood, computed independently.
    relative(law.beta, 0.537228866);
    relative(law.mtbf, 279.210611);
}

#[test]
fn power_law_of_counts() {
    let source = "MIL-HDBK-189 (1981), grouped example";
    let law = fit_grouped(&[20.0, 40.0, 60.0, 80.0, 100.0], &[13, 16, 5, 8, 7]).expect("a law");
    close(source, law.beta, 0.752851, 1e-6);
    close(source, law.lambda, 1.529306, 3e-5);
    close(source, law.intensity, 0.3688969345, 3e-5);
    close(source, law.mtbf, 2.71078425, 3e-5);
    close(source, law.last_interval_intensity, 0.3788703065, 3e-5);
    close(source, law.last_interval_mtbf, 2.63942564, 3e-5);
}

#[test]
fn three_tests_of_a_trend() {
    let source = "NIST/SEMATECH e-Handbook 8.2.3.4, statistics computed by its formulas";
    let arrangement = reverse_arrangement(&TEN).expect("counted");
    assert_eq!((arrangement.reversals, arrangement.expected, arrangement.maximum), (33, 22.5, 45));
    assert!(arrangement.is_exact && arrangement.p_improving < 0.05, "{arrangement:?}");
    let laplace = laplace_test(&TEN, 1500.0, Truncation::Time).expect("a test");
    close(source, laplace.z, -1.326949183, 1e-8);
    close(source, laplace.p_improving, 0.092262747, 1e-8);

    let laplace = laplace_test(&TWENTY_SEVEN, 300.0, Truncation::Time).expect("a test");
    close(source, laplace.z, -2.318, 0.0005);
    let handbook = handbook_test(&TWENTY_SEVEN, 300.0, Truncation::Time).expect("a test");
    close(source, handbook.chi_square, 75.3832755469, 1e-9);
    assert_eq!(handbook.freedom, 54);
    // One tie at 16.5 gives a time of zero between; counted with strict inequality.
    assert_eq!(reverse_arrangement(&TWENTY_SEVEN).map(|test| test.reversals), Ok(213));
}

#[test]
fn mean_cumulative_repairs_of_valve_seats() {
    // Data: Nelson & Doganaksoy 1989; figures recomputed by two independent programs.
    let mut systems: BTreeMap<String, RepairedSystem> = BTreeMap::new();
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .delimiter(b'\t')
        .from_reader(include_str!("data/valve_seat.tsv").as_bytes());
    for row in reader.deserialize::<(String, f64, u8)>() {
        let (engine, at, event) = row.expect("a row");
        let empty = RepairedSystem { repaired_at: Vec::new(), watched_until: 0.0 };
        let system = systems.entry(engine).or_insert(empty);
        if event == 1 {
            system.repaired_at.push(at);
        }
        system.watched_until = system.watched_until.max(at);
    }
    let systems: Vec<RepairedSystem> = systems.into_values().collect();
    assert_eq!(systems.len(), 41);
    assert_eq!(systems.iter().map(|system| system.repaired_at.len()).sum::<usize>(), 48);
    let curve = mean_cumulative(&systems, 0.95).expect("a curve");
    for (at, at_risk, mean) in [
        (61.0, 41, 0.024390244),
        (139.0, 41, 0.219512195),
        (377.0, 41, 0.658536585),
        (404.0, 40, 0.683536585),
        (573.0, 40, 0.958536585),
        (581.0, 38, 0.984852375),
        (604.0, 22, 1.059718685),
        (621.0, 17, 1.118542214),
        (646.0, 13, 1.320465291),
        (653.0, 9, 1.542687514),
    ] {
        let point = curve.iter().find(|point| point.at == at).expect("a step at that age");
        assert_eq!(point.at_risk, at_risk, "{at}");
        close("mean", point.mean, mean, 1e-8);
        assert!(point.low < mean && mean < point.high);
    }
}
