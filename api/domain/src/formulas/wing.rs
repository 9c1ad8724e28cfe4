//! A whole wing from stations with dihedral and washout: along its panels, as seen from above, and how far it twists
//! and rises. Areas and chords themselves are computed in `planform`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::planform::{Planform, PlanformError, PlanformStation, planform, project};

/// One station of a half wing, and the panel that begins there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WingStation {
    /// Distance from the centreline along the panels, mm.
    pub y_mm: f64,
    /// Leading edge, mm aft of the root leading edge.
    pub x_le_mm: f64,
    /// Chord, mm.
    pub chord_mm: f64,
    /// Dihedral of the panel outboard of this station against the horizontal, degrees; of the last one not used.
    #[serde(default)]
    pub dihedral_deg: f64,
    /// Twist of this station against the root, degrees, leading edge down positive. Between stations it runs straight.
    #[serde(default)]
    pub washout_deg: f64,
}

/// Both measures of a wing, its twist and its rise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Wing {
    /// Along the panels.
    pub along: Planform,
    /// As seen from above.
    pub projected: Planform,
    /// Washout of the tip against the root, degrees.
    pub tip_washout_deg: f64,
    /// Washout averaged over the area, degrees: what the whole wing loses in angle against its root.
    pub mean_washout_deg: f64,
    /// Height of the tip above the root, mm.
    pub tip_height_mm: f64,
}

/// Largest twist that is taken, degrees either way.
const MOST_WASHOUT_DEG: f64 = 45.0;

/// Why stations give no wing. Stations are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WingError {
    /// The planform has none.
    #[error(transparent)]
    Planform(#[from] PlanformError),
    /// A twist that no wing has.
    #[error("the washout of station {station} must lie between -45 and 45 degrees")]
    BadWashout {
        /// Station, from 1.
        station: usize,
    },
}

/// Area, chords, twist and rise of a wing by the stations of its right half, root first.
///
/// Per panel of width d: ∫c·ε dy = d[ε₁(2c₁+c₂) + ε₂(c₁+2c₂)]/6 for the mean washout, d·sin(dihedral) for the rise.
/// The washout counts against the first station's. Units mm, dm² and degrees.
///
/// # Errors
/// As [`planform`] and [`project`]; a washout beyond 45°.
///
/// # Source
/// Geometry; MAC as in [`planform`].
///
/// ```
/// use preen_domain::formulas::wing::{WingStation, wing};
/// let at = |y_mm, washout_deg| WingStation { y_mm, chord_mm: 200.0, washout_deg, dihedral_deg: 60.0, x_le_mm: 0.0 };
/// let seen = wing(&[at(0.0, 0.0), at(1000.0, 2.0)])?;
/// assert_eq!((seen.along.area_dm2, seen.mean_washout_deg, seen.tip_washout_deg), (40.0, 1.0, 2.0));
/// assert_eq!(format!("{:.2} {:.1}", seen.projected.area_dm2, seen.tip_height_mm), "20.00 866.0");
/// # Ok::<(), preen_domain::formulas::wing::WingError>(())
/// ```
pub fn wing(stations: &[WingStation]) -> Result<Wing, WingError> {
    let plain: Vec<PlanformStation> = stations
        .iter()
        .map(|at| PlanformStation { y_mm: at.y_mm, x_le_mm: at.x_le_mm, chord_mm: at.chord_mm })
        .collect();
    let along = planform(&plain)?;
    let angles: Vec<f64> =
        stations.iter().take(stations.len().saturating_sub(1)).map(|at| at.dihedral_deg).collect();
    let projected = planform(&project(&plain, &angles)?)?;
    let is_wrong = |at: &WingStation| !at.washout_deg.is_finite() || at.washout_deg.abs() > MOST_WASHOUT_DEG;
    if let Some(index) = stations.iter().position(is_wrong) {
        return Err(WingError::BadWashout { station: index + 1 });
    }
    let root_deg = stations.first().map_or(0.0, |root| root.washout_deg);
    let (mut area, mut twisted, mut tip_height_mm) = (0.0, 0.0, 0.0);
    for (inner, outer) in stations.iter().zip(stations.iter().skip(1)) {
        let width = outer.y_mm - inner.y_mm;
        let (c1, c2) = (inner.chord_mm, outer.chord_mm);
        let (twist_1, twist_2) = (inner.washout_deg - root_deg, outer.washout_deg - root_deg);
        area += width * (c1 + c2) / 2.0;
        twisted += width * (twist_1 * (2.0 * c1 + c2) + twist_2 * (c1 + 2.0 * c2)) / 6.0;
        tip_height_mm += width * inner.dihedral_deg.to_radians().sin();
    }
    let mean_washout_deg = twisted / area;
    let tip_washout_deg = stations.last().map_or(0.0, |tip| tip.washout_deg - root_deg);
    if !all_finite(&[mean_washout_deg, tip_height_mm]) {
        return Err(PlanformError::TooLarge.into());
    }
    Ok(Wing { along, projected, tip_washout_deg, mean_washout_deg, tip_height_mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_twist_that_no_wing_has_is_refused() {
        let at =
            |y_mm, washout_deg| WingStation { y_mm, chord_mm: 200.0, washout_deg, ..WingStation::default() };
        assert_eq!(wing(&[at(0.0, 0.0), at(900.0, 46.0)]), Err(WingError::BadWashout { station: 2 }));
        assert_eq!(wing(&[at(0.0, f64::NAN), at(900.0, 0.0)]), Err(WingError::BadWashout { station: 1 }));
        assert_eq!(wing(&[]), Err(WingError::Planform(PlanformError::TooFewStations)));
    }
}
