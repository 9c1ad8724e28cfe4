//! The centre of gravity on its allowed range, with its uncertainty.

use super::scale::{Scale, ticks};
use crate::told::short;

/// The drawing; 640 wide, 96 high.
#[derive(Debug, Clone)]
pub struct Range {
    /// From and to of the allowed range.
    pub allowed: (f64, f64),
    /// From and to of what the balance is within, 2 σ; absent where that is not known.
    pub within: Option<(f64, f64)>,
    /// The balance itself.
    pub at: f64,
    /// Marks of the axis, mm.
    pub ticks: Vec<(f64, String)>,
}

/// Draws a balance, mm behind the datum, on its range; `u_mm` is its standard uncertainty.
pub fn range(at_mm: f64, u_mm: Option<f64>, (min_mm, max_mm): (f64, f64)) -> Range {
    let spread = u_mm.map(|u| 2.0 * u);
    let reach = spread.unwrap_or(0.0);
    let low = min_mm.min(at_mm - reach);
    let high = max_mm.max(at_mm + reach);
    let margin = (high - low).max(1.0) * 0.15;
    let scale = Scale::new((low - margin, high + margin), (20.0, 620.0));
    Range {
        allowed: (scale.at(min_mm), scale.at(max_mm)),
        within: spread.map(|reach| (scale.at(at_mm - reach), scale.at(at_mm + reach))),
        at: scale.at(at_mm),
        ticks: ticks(low - margin, high + margin, 6)
            .into_iter()
            .map(|one| (scale.at(one), short(one)))
            .collect(),
    }
}
