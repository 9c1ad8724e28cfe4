//! χ² quantiles and tails against printed tables, and for many degrees of freedom against 40 digits.

use preen_domain::formulas::forecast::counting_rate;
use preen_domain::formulas::quantile::{chi_square_above, chi_square_quantile};

use crate::close::close;

#[test]
fn quantiles_of_the_printed_tables() {
    // NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory): upper critical values at 0.10, 0.05, 0.01 and 0.001, lower ones
    // at 0.05.
    let rows = [
        (2.0, [4.605, 5.991, 9.210, 13.816], 0.103),
        (5.0, [9.236, 11.070, 15.086, 20.515], 1.145),
        (10.0, [15.987, 18.307, 23.209, 29.588], 3.940),
        (20.0, [28.412, 31.410, 37.566, 45.315], 10.851),
        (30.0, [40.256, 43.773, 50.892, 59.703], 18.493),
        (50.0, [63.167, 67.505, 76.154, 86.661], 34.764),
        (100.0, [118.498, 124.342, 135.807, 149.449], 77.929),
    ];
    for (freedom, upper, lower) in rows {
        for (above, printed) in [0.10, 0.05, 0.01, 0.001].into_iter().zip(upper) {
            let value = chi_square_quantile(1.0 - above, freedom).expect("in range");
            close(&format!("{above} of {freedom}"), value, printed, 0.0006);
        }
        let value = chi_square_quantile(0.05, freedom).expect("in range");
        close(&format!("lower 0.05 of {freedom}"), value, lower, 0.0006);
    }
}

#[test]
fn quantiles_of_many_degrees_of_freedom() {
    // Computed with 40 digits by integrating the density.
    let rows = [
        (1e6, 0.05, 997_674.963_276_473_8),
        (1e6, 0.5, 999_999.333_333_412_3),
        (1e6, 0.95, 1_002_327.310_781_219),
        (1e6, 1e-6, 993_292.033_737_391_3),
        (2e6, 0.05, 1_996_711.430_167_435_6),
        (2e6, 0.95, 2_003_290.843_890_38),
        (1e9, 0.05, 999_926_441.046_588_5),
        (1e9, 0.95, 1_000_073_561.227_469_4),
        (1e9, 1e-6, 999_787_434.798_902_4),
        (8_589_934_592.0, 0.05, 8_589_718_998.882_443),
        (8_589_934_592.0, 0.95, 8_590_150_187.391_615),
    ];
    for (freedom, share, expected) in rows {
        let value = chi_square_quantile(share, freedom).expect("in range");
        close(&format!("{share} of {freedom}"), value / expected, 1.0, 2e-15);
    }
    let tails = [
        (1e6, -3.0, 0.998_666_766_700_178_7),
        (1e6, 0.0, 0.499_811_936_803_394_5),
        (1e6, 2.0, 0.022_826_432_656_557_25),
        (1e9, -3.0, 0.998_650_630_448_381),
        (1e9, 0.0, 0.499_994_052_919_612_8),
        (1e9, 2.0, 0.022_752_546_443_612_1),
    ];
    for (freedom, deviations, expected) in tails {
        let value = freedom + deviations * f64::sqrt(2.0 * freedom);
        let above = chi_square_above(value, freedom).expect("in range");
        // A value of a billion has sixteen figures: its last one moves the share by 1e-12.
        close(&format!("{deviations} of {freedom}"), above / expected, 1.0, 1e-10);
    }
}

#[test]
fn a_rate_of_very_many_events_has_bounds() {
    // The most that is counted: half the degrees of freedom above, over one day.
    let rate = counting_rate(u32::MAX, 1).expect("bounds");
    close("upper", 2.0 * rate.high_per_day / 8_590_150_187.391_615, 1.0, 1e-15);
    // Two degrees fewer shift the quantile by two.
    close("lower", 2.0 * rate.low_per_day / (8_589_718_998.882_443 - 2.0), 1.0, 1e-13);
}
