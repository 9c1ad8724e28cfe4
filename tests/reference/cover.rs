//! The arm under its cover: the worked example, computed independently.

use preen_domain::formulas::cover::{ArmSwing, ArmUnderCover, WANTED_GAP_MM, fit_cover};

use crate::close::close;

#[test]
fn cover_of_the_worked_example() {
    // Axis 7.0 under the skin, sheet 1.0, hole at 4.5 and 1.9 of tip beyond it.
    let cover = ArmUnderCover {
        axis_to_skin_mm: 7.0,
        sheet_mm: 1.0,
        swept_mm: 4.5 + 1.9,
        wanted_gap_mm: WANTED_GAP_MM,
        swing: None,
    };
    let fit = fit_cover(&cover).expect("a cover");
    close("gap", fit.gap_mm, -0.40, 1e-9);
    close("blister", fit.blister_mm, 0.70, 1e-9);
    let relief = fit.relief.expect("the arm scrapes");
    close("relief", relief.length_mm, 5.82, 0.005);
    close("half swing", relief.half_swing_deg, 27.0, 0.05);
    let thin = fit_cover(&ArmUnderCover { sheet_mm: 0.5, ..cover }).expect("a cover");
    close("gap under half the sheet", thin.gap_mm, 0.10, 1e-9);
    assert!(!thin.is_clear);
    let thickest = fit.thickest_sheet_mm.expect("there is room for some sheet");
    close("thickest sheet", thickest, 0.30, 1e-9);
    assert!(fit_cover(&ArmUnderCover { sheet_mm: thickest, ..cover }).expect("a cover").is_clear);
    // The swing of the landing flap, 28° aft to 22° forward: free at neither end, worst between them.
    let swing = Some(ArmSwing { from_deg: 28.0 - 50.0, to_deg: 28.0 + 20.0 });
    let swung = fit_cover(&ArmUnderCover { swing, ..cover }).expect("a cover");
    close("the same top of swing", swung.gap_mm, -0.40, 1e-9);
    close(
        "gap at the aft end",
        swung.gap_at_to_mm.expect("an end"),
        6.0 - 6.4 * 48f64.to_radians().cos(),
        1e-9,
    );
    assert!(swung.relief.expect("the arm scrapes").length_mm < relief.length_mm);
}
