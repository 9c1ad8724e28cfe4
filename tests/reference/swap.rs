//! Changes to a known balance: shifts, swaps, ballast.

use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::planform::{loading_g_dm2, percent_mac};
use preen_domain::formulas::swap::{Changed, MassChange, change_mass};

use crate::close::close;

/// The weighed balance of the worked example.
const WEIGHED: MassAndCg = MassAndCg { mass_g: 1202.5, x_mm: 96.5156, y_mm: 0.0, z_mm: 0.0 };

fn at_x(changes: &[(f64, f64)]) -> Vec<MassChange> {
    changes
        .iter()
        .map(|&(mass_change_g, x_mm)| MassChange { mass_change_g, x_mm, ..MassChange::default() })
        .collect()
}

fn changed(base: MassAndCg, changes: &[(f64, f64)]) -> Changed {
    change_mass(&base, &at_x(changes)).expect("a balance")
}

#[test]
fn weight_shifted_at_constant_total() {
    // FAA Pilot's Handbook of Aeronautical Knowledge, weight and balance.
    let base = MassAndCg { mass_g: 8000.0, x_mm: 616_000.0 / 8000.0, ..MassAndCg::default() };
    let after = changed(base, &[(-100.0, 30.0), (100.0, 150.0)]);
    assert_eq!(after.after.x_mm, 78.5);
    assert_eq!(after.x_change_mm * base.mass_g, 12_000.0);
    // Weight-shift example of a published training page: 100 lb moved by 50 in.
    let base = MassAndCg { mass_g: 2450.0, x_mm: 90.0, ..MassAndCg::default() };
    close("100 lb by 50 in", changed(base, &[(-100.0, 30.0), (100.0, 80.0)]).x_change_mm, 2.04, 0.005);
}

#[test]
fn servo_swaps_of_the_worked_example() {
    // Worked example, computed independently.
    let tail = changed(WEIGHED, &[(8.1 - 6.2, 985.0)]);
    close("tail servo, x", tail.after.x_mm, 97.92, 0.005);
    close("tail servo, move", tail.x_change_mm, 1.40, 0.005);
    let flaps = changed(WEIGHED, &[(11.8 - 10.4, 62.0), (11.8 - 10.4, 62.0)]);
    close("flap servos, move", flaps.x_change_mm, -0.080, 0.0005);
    let all = changed(WEIGHED, &[(1.9, 985.0), (1.4, 62.0), (1.4, 62.0)]);
    close("all three, move", all.x_change_mm, 1.318, 0.0005);
}

#[test]
fn negligible_changes_by_the_rule_for_full_size_aircraft() {
    // AC 43.13-1B para 10-2c: for a fixed wing a CG change below 0.05 % MAC is negligible, and 1 lb of 5,000 lb.
    let percent = |x_mm| percent_mac(x_mm, 16.7, 193.7).expect("a MAC");
    let move_percent = |changes: &[(f64, f64)]| {
        (percent(changed(WEIGHED, changes).after.x_mm) - percent(WEIGHED.x_mm)).abs()
    };
    assert!(move_percent(&[(1.4, 62.0), (1.4, 62.0)]) < 0.05);
    assert!(move_percent(&[(1.9, 985.0)]) > 0.05);
    let light = MassAndCg { mass_g: 5000.0, ..MassAndCg::default() };
    let share = changed(light, &[(1.0, 0.0)]).mass_change_g / light.mass_g;
    close("1 lb of 5,000 lb, per cent", share * 100.0, 0.02, 1e-12);
}

#[test]
fn repair_at_a_tip_of_the_worked_example() {
    // Worked example, computed independently: 6 g of repair at y +1700.
    let repair = MassChange { mass_change_g: 6.0, y_mm: 1700.0, ..MassChange::default() };
    let after = change_mass(&WEIGHED, &[repair]).expect("a balance");
    close("y after the repair", after.after.y_mm, 8.44, 0.005);
}

#[test]
fn ballast_tube_of_the_worked_example() {
    // Worked example, computed independently: slugs of 50 g in cells at 62, 98 and 134 mm.
    let check = |slugs: [f64; 3], expected| {
        let [front, middle, rear] = slugs;
        let loads = [(front * 50.0, 62.0), (middle * 50.0, 98.0), (rear * 50.0, 134.0)];
        let loaded = changed(WEIGHED, &loads);
        close(&format!("{slugs:?}"), loaded.x_change_mm, expected, 0.005);
        close("loading", loading_g_dm2(loaded.after.mass_g, 70.89).expect("an area"), 20.49, 0.005);
    };
    check([2.0, 1.0, 2.0], 0.26);
    check([3.0, 2.0, 0.0], -3.46);
    check([0.0, 2.0, 3.0], 3.97);
}
