//! Mass and CG of lists. The published cases are in pounds and inches: the law of the lever holds in any units.

use preen_domain::formulas::balance::{MassAndCg, PointItem, balance};

use crate::close::close;
use crate::mass_list;

fn list(rows: &[(f64, f64)]) -> MassAndCg {
    let items: Vec<PointItem> =
        rows.iter().map(|&(mass_g, x_mm)| PointItem { mass_g, x_mm, ..PointItem::default() }).collect();
    balance(&items).expect("a list with mass")
}

#[test]
fn three_weights_on_a_lever() {
    // FAA-H-8083-1B ch. 2, from memory.
    let check = |rows: [(f64, f64); 3], expected| assert_eq!(list(&rows).x_mm, expected);
    check([(100.0, 50.0), (100.0, 90.0), (200.0, 150.0)], 110.0);
    check([(100.0, 50.0), (100.0, 50.0), (200.0, 150.0)], 100.0);
}

#[test]
fn most_forward_loading() {
    // AC 43.13-1B ch. 10, fig. 10-10, moments rounded there to whole inch-pounds. The minimum fuel of the case is
    // para 10-2p: 1/12 gallon per horsepower at 6 lb per gallon, rounded up.
    let min_fuel_lb: f64 = (165.0 / 12.0 * 6.0_f64).ceil();
    assert_eq!(min_fuel_lb, 83.0);
    let sum = list(&[(1169.0, 10.6), (17.0, -49.0), (170.0, 16.0), (min_fuel_lb, 22.0)]);
    assert_eq!(sum.mass_g, 1439.0);
    close("AC 43.13-1B fig. 10-10 moment", sum.mass_g * sum.x_mm, 16104.0, 1.0);
    close("AC 43.13-1B fig. 10-10", sum.x_mm, 11.2, 0.05);
    assert!(sum.x_mm >= 8.5 && sum.mass_g <= 2100.0);
}

#[test]
fn fully_loaded() {
    // AC 43.13-1B ch. 10, fig. 10-13: totals as printed. The circular prints +18.6 for 38466/2100, a misprint.
    let rows = [(1169.0, 10.6), (17.0, -49.0), (170.0, 16.0), (170.0, 16.0), (340.0, 48.0), (234.0, 22.0)];
    let sum = list(&rows);
    assert_eq!(sum.mass_g, 2100.0);
    close("AC 43.13-1B fig. 10-13 moment", sum.mass_g * sum.x_mm, 38466.0, 1.0);
    close("AC 43.13-1B fig. 10-13", sum.x_mm, 18.3171, 0.005);
}

#[test]
fn mass_list_of_the_worked_example() {
    // Worked example, computed independently.
    let sum = balance(&mass_list::rows()).expect("a list with mass");
    close("mass", sum.mass_g, 1195.7, 1e-9);
    close("x", sum.x_mm, 96.0738, 5e-5);
    close("y", sum.y_mm, 3.42, 0.005);
    close("z", sum.z_mm, 18.13, 0.005);
}
