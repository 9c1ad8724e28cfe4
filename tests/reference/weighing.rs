//! Weighing on scales, and list against scale. The published cases are in their own units: moments hold in any.

use preen_domain::formulas::balance::{MassAndCg, balance};
use preen_domain::formulas::combine::{Estimate, StandSetUp, combine};
use preen_domain::formulas::reconcile::{
    PLACE_KNOWN_WITHIN_MM, Reconciliation, UnaccountedVerdict, reconcile,
};
use preen_domain::formulas::swap::{MassChange, change_mass};
use preen_domain::formulas::weighing::{Levelling, SupportReading, Weighed, levelling_error_mm, weigh};

use crate::close::close;
use crate::mass_list;

fn on(x_mm: f64, y_mm: f64, reading_g: f64) -> SupportReading {
    SupportReading { reading_g, x_mm, y_mm, u_reading_g: 0.5, u_place_mm: 0.5 }
}

fn weighed(supports: &[SupportReading]) -> Weighed {
    weigh(supports, Levelling::default()).expect("a weighing")
}

fn x_of(supports: &[SupportReading]) -> f64 {
    weighed(supports).x.expect("supports apart along x").at_mm
}

#[test]
fn empty_weight_cg_with_two_axles() {
    // CG = D + F·L/W with main wheels at D and the other wheel at D + L.
    let check = |source, datum_to_mains: f64, wheel, wheel_from_mains: f64, total: f64, expected| {
        let supports =
            [on(datum_to_mains, 0.0, total - wheel), on(datum_to_mains + wheel_from_mains, 0.0, wheel)];
        close(source, x_of(&supports), expected, 0.05);
    };
    check("FAA-H-8083-1B ch. 3, nose wheel, datum ahead", 128.0, 340.0, -78.0, 2006.0, 114.8);
    check("FAA-H-8083-1B ch. 10, nose wheel, datum at mains", 0.0, 340.0, -78.0, 2006.0, -13.2);
    check("FAA-H-8083-1B ch. 3, tail wheel, from memory", 7.5, 67.0, 222.0, 1218.0, 19.7);
}

#[test]
fn empty_weight_with_tare_and_fuel() {
    // FAA-H-8083-30 ch. 4, fig. 4-20 (inputs); quotient computed, printed result 1,331.5 lb, +50.1 in from memory.
    let supports = [on(70.0, -1.0, 650.0 - 5.0), on(70.0, 1.0, 640.0 - 5.0), on(-30.0, 0.0, 225.0 - 2.5)];
    let scales = weighed(&supports);
    let as_weighed =
        MassAndCg { mass_g: scales.mass_g, x_mm: scales.x.expect("along x").at_mm, ..MassAndCg::default() };
    let drained = MassChange { mass_change_g: -30.0 * 5.9, x_mm: 95.0, ..MassChange::default() };
    let unusable = MassChange { mass_change_g: 6.0, x_mm: 98.0, ..MassChange::default() };
    let empty = change_mass(&as_weighed, &[drained, unusable]).expect("an empty weight").after;
    close("fig. 4-20 empty weight", empty.mass_g, 1331.5, 0.05);
    close("fig. 4-20 moment", empty.mass_g * empty.x_mm, 66698.0, 0.05);
    close("fig. 4-20 CG", empty.x_mm, 50.0924, 0.05);
}

#[test]
fn three_scales() {
    let check = |source, supports: [SupportReading; 3], total, expected| {
        assert_eq!(weighed(&supports).mass_g, total);
        close(source, x_of(&supports), expected, 0.005);
    };
    check(
        "European ATPL mass and balance question, helicopter on three points (quotient computed)",
        [on(1.4, 0.0, 220.0), on(3.9, 1.0, 500.0), on(3.9, -1.0, 480.0)],
        1200.0,
        3.4417,
    );
    check(
        "public question bank, three scales, metric",
        [on(1.2, 0.0, 1100.0), on(3.5, -1.0, 2300.0), on(3.5, 1.0, 2300.0)],
        5700.0,
        3.06,
    );
}

#[test]
fn lateral_cg_from_left_and_right_scales() {
    // Closed form y = (R − L)·s/(R + L); own numbers.
    let sides = weighed(&[on(0.0, -420.0, 1012.5), on(0.0, 420.0, 1019.5)]);
    assert_eq!(sides.mass_g, 2032.0);
    assert_eq!(sides.x, None);
    close("closed form", sides.y.expect("apart along y").at_mm, 1.44685, 1e-6);
}

#[test]
fn two_supports_of_the_worked_example() {
    // Worked example, computed independently; uncertainties combined per JCGM 100:2008.
    let result = weighed(&[on(-60.0, 0.0, 878.0), on(520.0, 0.0, 324.5)]);
    let x = result.x.expect("along x");
    assert_eq!(result.mass_g, 1202.5);
    close("u(M)", 2.0 * result.u_mass_g, 1.414, 0.0005);
    close("x", x.at_mm, 96.5156, 5e-5);
    close("u(x)", x.u_mm, 0.43, 0.005);
    close("2u(x)", 2.0 * x.u_mm, 0.86, 0.007);
    close("share of the scale", x.u_scale_mm, 0.19, 0.005);
    close("share of the places", x.u_place_mm, 0.39, 0.005);
    close("1° nose up, 40 mm high", levelling_error_mm(1.0, 40.0).expect("below 90°"), 0.70, 0.005);
}

#[test]
fn three_supports_of_the_worked_example() {
    // Worked example, computed independently.
    let result = weighed(&[on(-60.0, -150.0, 426.0), on(-60.0, 150.0, 453.0), on(520.0, 0.0, 323.5)]);
    let (x, y) = (result.x.expect("along x"), result.y.expect("along y"));
    assert_eq!(result.mass_g, 1202.5);
    close("x", x.at_mm, 96.03, 0.005);
    close("y", y.at_mm, 3.37, 0.005);
    close("u(x)", x.u_mm, 0.35, 0.005);
    // Both ways of weighing agree within their combined standard uncertainty.
    let two = weighed(&[on(-60.0, 0.0, 878.0), on(520.0, 0.0, 324.5)]).x.expect("along x");
    close("difference of the two ways", two.at_mm - x.at_mm, 0.48, 0.005);
    close("combined uncertainty of the difference", two.u_mm.hypot(x.u_mm), 0.56, 0.005);
}

#[test]
fn list_against_scale_of_the_worked_example() {
    // Worked example, computed independently.
    let list = balance(&mass_list::rows()).expect("a list with mass");
    let supports = [on(-60.0, 0.0, 878.0), on(520.0, 0.0, 324.5)];
    let compare = |list: &MassAndCg| -> Reconciliation {
        let level = Levelling::default();
        reconcile(list, &[supports.to_vec()], level, StandSetUp::Kept, PLACE_KNOWN_WITHIN_MM)
            .expect("comparable")
    };
    let gap = compare(&list);
    close("gap", gap.mass_gap_g, 6.8, 1e-9);
    close("arm", gap.arm_mm.expect("a gap has an arm"), 174.0, 0.5);
    close("2u of the arm", gap.arm_2u_mm.expect("a gap has an arm"), 151.0, 0.5);
    assert_eq!(gap.verdict, UnaccountedVerdict::PlaceNotKnown);

    let complete = MassAndCg { mass_g: 1201.2, ..list };
    let none = compare(&complete);
    assert_eq!((none.verdict, none.arm_mm), (UnaccountedVerdict::NoUnaccountedMass, None));
}

#[test]
fn levelling_of_the_worked_example() {
    // Worked example: level within 1°, the CG 40 mm above the supports, is 0.70 mm; with 0.43 mm it makes 0.82 mm.
    let level = Levelling { u_angle_deg: 1.0, cg_height_mm: 40.0 };
    let x = weigh(&[on(-60.0, 0.0, 878.0), on(520.0, 0.0, 324.5)], level)
        .expect("a weighing")
        .x
        .expect("along x");
    close("share of the levelling", x.u_level_mm, 0.70, 0.005);
    close("combined", x.u_mm, 0.433_f64.hypot(0.698), 0.001);
}

#[test]
fn the_reading_that_stands_out() {
    // NIST/SEMATECH e-Handbook 1.3.5.17.1 (data of Tietjen and Moore 1972): eight mass spectrometer readings, Grubbs'
    // G = 2.468765 for the last (from memory); on two sides the 5 % point for eight is 2.1266 (printed tables, from memory).
    let data = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    let all: Vec<Estimate> = data.iter().map(|&value| Estimate { value, parts: vec![] }).collect();
    let mean = combine(&all, StandSetUp::Kept).expect("readings");
    let [out] = mean.outliers.as_slice() else { panic!("one stands out: {:?}", mean.outliers) };
    assert_eq!(out.number, 8);
    close("G", out.distance, 2.468_765, 5e-7);
    close("mean, not cleaned", mean.value, data.iter().sum::<f64>() / 8.0, 1e-9);
    close("mean without it", out.value_without, data[..7].iter().sum::<f64>() / 7.0, 1e-9);
    // Three readings at 0 … and the fourth just at the 5 % point of G for four (1.4812, printed tables, from memory).
    let at = |g: f64| -> bool {
        // For x = (-1, 0, 1, v) find v with the wanted G by bisection; beyond it the chance falls below 5 %.
        let grubbs = |v: f64| {
            let x = [-1.0, 0.0, 1.0, v];
            let mean = x.iter().sum::<f64>() / 4.0;
            (v - mean) / (x.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 3.0).sqrt()
        };
        let (mut low, mut high) = (1.0, 1e6);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if grubbs(middle) < g { low = middle } else { high = middle }
        }
        let x = [-1.0, 0.0, 1.0, low].map(|value| Estimate { value, parts: vec![] });
        !combine(&x, StandSetUp::Kept).expect("readings").outliers.is_empty()
    };
    assert_eq!((at(1.4811), at(1.4814)), (false, true));
}

#[test]
fn scatter_of_repeated_readings() {
    // JCGM 100:2008, 4.4.3: twenty temperatures with mean 100.145 °C, s 1.489 °C, s/√20 = 0.333 °C (data from memory).
    let readings = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
        100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let all = readings.map(|value| Estimate { value, parts: vec![0.0] });
    let mean = combine(&all, StandSetUp::Anew).expect("readings");
    close("mean", mean.value, 100.145, 5e-4);
    close("u of the mean", mean.u, 0.333, 5e-4);
    // Student's t for 19 degrees of freedom, 95 %: 2.093 (JCGM 100:2008, table G.2).
    close("factor", mean.coverage_factor, 2.093, 5e-4);
}
