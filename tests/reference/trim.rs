//! Weight that brings a CG where it is wanted, and loads to a limit.

use preen_domain::formulas::trim::{Addable, LimitSide, mass_to_limit, trim_weight_g};

use crate::close::close;

#[test]
fn ballast_for_a_target() {
    let check = |source, mass_g, cg_mm, target_mm, place_mm, expected, tolerance| {
        let weight_g = trim_weight_g(mass_g, cg_mm, target_mm, place_mm).expect("within reach");
        close(source, weight_g, expected, tolerance);
        let reached_mm = (mass_g * cg_mm + weight_g * place_mm) / (mass_g + weight_g);
        close(source, reached_mm, target_mm, 1e-9);
    };
    check("FAA-H-8083-1B ch. 7, ballast, partly from memory", 1876.0, 32.2, 33.0, 228.0, 7.7, 0.05);
    check("same formula, own numbers", 1695.8, 100.754_216_299, 98.0, -330.0, 10.912_617, 1e-5);
    // Worked example, computed independently: nose weight after a tail servo swap, and after three servos.
    check("tail servo", 1204.4, 96.5156 + 1.9 * (985.0 - 96.5156) / 1204.4, 96.5156, -335.0, 3.91, 0.005);
    check("three servos", 1207.2, 96.5156 + 1.318, 96.5156, -335.0, 3.69, 0.005);
    // Worked example, computed independently: levelling along y with a weight at a tip, arm 1900 mm.
    check("levelling the weighed model", 1202.5, 3.37, 0.0, -1900.0, 2.1, 0.05);
    check("levelling 6 g of repair at y +1700", 1208.5, 6.0 * 1700.0 / 1208.5, 0.0, -1900.0, 5.37, 0.005);
}

#[test]
fn load_to_the_rear_limit() {
    // FAA knowledge-test question: 2,900 lb at 115.0, rear limit 116.0, station 130.
    let addable = mass_to_limit(2900.0, 115.0, 116.0, LimitSide::Rear, 130.0).expect("inside the limit");
    let Addable::UpToG(mass) = addable else { panic!("station behind the limit: {addable:?}") };
    close("FAA knowledge test", mass, 207.1, 0.05);
}
