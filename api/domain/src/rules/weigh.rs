//! Weighings.

use super::Verdict;
use crate::{facts::Weighing, fleet::Fleet};

pub(super) fn check(fleet: &Fleet, weighing: &Weighing, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", weighing.model);
    verdict.range("/mass_g", weighing.mass_g, 1.0, 50_000.0, "g");
    verdict.range("/x_mm", weighing.x_mm, -5000.0, 5000.0, "mm");
    verdict.range("/u_x_mm", weighing.u_x_mm, 0.0, 1000.0, "mm");
    if let Some(y_mm) = weighing.y_mm {
        verdict.range("/y_mm", y_mm, -5000.0, 5000.0, "mm");
    }
    for (index, support) in weighing.supports.iter().enumerate() {
        let at = format!("/supports/{index}");
        verdict.range(&format!("{at}/x_mm"), support.x_mm, -5000.0, 5000.0, "mm");
        verdict.range(&format!("{at}/y_mm"), support.y_mm, -5000.0, 5000.0, "mm");
        verdict.range(&format!("{at}/reading_g"), support.reading_g, 0.0, 50_000.0, "g");
    }
    let sum_g: f64 = weighing.supports.iter().map(|support| support.reading_g).sum();
    if !weighing.supports.is_empty() && (sum_g - weighing.mass_g).abs() > 0.5 {
        verdict.value(
            "supports_do_not_add_up",
            "/mass_g",
            format!("the supports read {sum_g:.1} g together, the mass says {:.1} g", weighing.mass_g),
        );
    }
}
