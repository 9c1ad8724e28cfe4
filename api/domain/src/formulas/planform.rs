//! Wing geometry from stations: area, span, aspect ratio, mean aerodynamic chord, projection for dihedral, loading,
//! and a CG as per cent of the MAC. Aerodynamics that need more than geometry are not here.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

const MM2_PER_DM2: f64 = 1e4;

/// One station of a half wing. Between stations leading edge and chord run straight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanformStation {
    /// Distance from the centreline, mm: along the panels or projected, the same for all stations.
    pub y_mm: f64,
    /// Leading edge, mm aft of the root leading edge.
    pub x_le_mm: f64,
    /// Chord, mm.
    pub chord_mm: f64,
}

/// The geometry of a whole wing (both halves), in the same measure (along the panels or projected) as its stations.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Planform {
    /// Area of both halves, dm².
    pub area_dm2: f64,
    /// Span, mm.
    pub span_mm: f64,
    /// Span² / area.
    pub aspect_ratio: f64,
    /// Mean aerodynamic chord, mm.
    pub mac_mm: f64,
    /// Leading edge of the MAC, mm aft of the root leading edge.
    pub mac_le_x_mm: f64,
    /// Distance of the MAC from the centreline, mm.
    pub mac_y_mm: f64,
    /// Quarter-chord point of the MAC, mm aft of the root leading edge.
    pub quarter_chord_x_mm: f64,
    /// Area / span, mm. Not the MAC.
    pub mean_chord_mm: f64,
}

/// Why stations give no planform. Stations and panels are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlanformError {
    /// Fewer than two stations.
    #[error("a planform needs at least two stations")]
    TooFewStations,
    /// A number is infinite or not a number.
    #[error("station {station} holds a number that is not finite")]
    NotFinite {
        /// Station, from 1.
        station: usize,
    },
    /// Stations do not go outwards.
    #[error("station {station} does not lie further out than the one before (the first: not below 0)")]
    NotOutward {
        /// Station, from 1.
        station: usize,
    },
    /// A chord is negative.
    #[error("station {station} has a negative chord")]
    NegativeChord {
        /// Station, from 1.
        station: usize,
    },
    /// All chords are zero.
    #[error("all chords are zero, so there is no area")]
    NoArea,
    /// Not one dihedral angle per panel.
    #[error("give one dihedral angle for each of the {panels} panels")]
    DihedralCount {
        /// Number of panels: stations less one.
        panels: usize,
    },
    /// A dihedral angle of 90° or more, or not finite.
    #[error("the dihedral of panel {panel} must lie between -90 and 90 degrees")]
    BadDihedral {
        /// Panel, from 1.
        panel: usize,
    },
    /// A mass, area or chord that must be above zero is not.
    #[error("mass, area and mean aerodynamic chord must be finite and above zero")]
    NotPositive,
    /// The numbers are too large for the sums to be finite.
    #[error("the numbers are too large; check the units (millimetres)")]
    TooLarge,
}

/// Area, span, MAC and the rest of a wing given by the stations of its right half, root first.
///
/// Per panel of width d: S = d(c₁+c₂)/2, ∫c²dy = d(c₁²+c₁c₂+c₂²)/3, ∫c·x_LE dy = d[x₁(2c₁+c₂)+x₂(c₁+2c₂)]/6 and
/// the same with y; MAC = ∫c²dy/S. Units mm and dm², x aft.
///
/// # Errors
/// Fewer than two stations, stations not in outward order, negative chords, no area, numbers not finite.
///
/// # Source
/// Definition of the mean aerodynamic chord, MAC = (2/S)∫c²dy (standard).
///
/// ```
/// use preen_domain::formulas::planform::{PlanformStation, planform};
/// let at = |y_mm, x_le_mm, chord_mm| PlanformStation { y_mm, x_le_mm, chord_mm };
/// let wing = planform(&[at(0.0, 0.0, 300.0), at(600.0, 0.0, 0.0)])?;
/// assert_eq!((wing.area_dm2, wing.span_mm, wing.mac_mm, wing.mac_y_mm), (18.0, 1200.0, 200.0, 200.0));
/// # Ok::<(), preen_domain::formulas::planform::PlanformError>(())
/// ```
pub fn planform(stations: &[PlanformStation]) -> Result<Planform, PlanformError> {
    check_stations(stations)?;
    let (mut area, mut chord_square, mut chord_x, mut chord_y) = (0.0, 0.0, 0.0, 0.0);
    for (inner, outer) in stations.iter().zip(stations.iter().skip(1)) {
        let width = outer.y_mm - inner.y_mm;
        let (c1, c2) = (inner.chord_mm, outer.chord_mm);
        let first_moment = |p1: f64, p2: f64| width * (p1 * (2.0 * c1 + c2) + p2 * (c1 + 2.0 * c2)) / 6.0;
        area += width * (c1 + c2) / 2.0;
        chord_square += width * (c1 * c1 + c1 * c2 + c2 * c2) / 3.0;
        chord_x += first_moment(inner.x_le_mm, outer.x_le_mm);
        chord_y += first_moment(inner.y_mm, outer.y_mm);
    }
    if area <= 0.0 {
        return Err(PlanformError::NoArea);
    }
    let span_mm = 2.0 * stations.last().map_or(0.0, |tip| tip.y_mm);
    let mac_mm = chord_square / area;
    let mac_le_x_mm = chord_x / area;
    let wing = Planform {
        area_dm2: 2.0 * area / MM2_PER_DM2,
        span_mm,
        aspect_ratio: span_mm * span_mm / (2.0 * area),
        mac_mm,
        mac_le_x_mm,
        mac_y_mm: chord_y / area,
        quarter_chord_x_mm: mac_le_x_mm + mac_mm / 4.0,
        mean_chord_mm: 2.0 * area / span_mm,
    };
    let numbers = [wing.area_dm2, wing.aspect_ratio, mac_mm, mac_le_x_mm, wing.mac_y_mm, wing.mean_chord_mm];
    if all_finite(&numbers) { Ok(wing) } else { Err(PlanformError::TooLarge) }
}

fn check_stations(stations: &[PlanformStation]) -> Result<(), PlanformError> {
    if stations.len() < 2 {
        return Err(PlanformError::TooFewStations);
    }
    let mut before_mm = None;
    for (index, at) in stations.iter().enumerate() {
        let station = index + 1;
        if !all_finite(&[at.y_mm, at.x_le_mm, at.chord_mm]) {
            return Err(PlanformError::NotFinite { station });
        }
        if before_mm.map_or(at.y_mm < 0.0, |before_mm| at.y_mm <= before_mm) {
            return Err(PlanformError::NotOutward { station });
        }
        if at.chord_mm < 0.0 {
            return Err(PlanformError::NegativeChord { station });
        }
        before_mm = Some(at.y_mm);
    }
    Ok(())
}

/// The stations as seen from above: each panel's width times the cosine of its dihedral, degrees against the
/// horizontal, one for each panel from the root. Stations come in along the panels and go out projected.
///
/// # Errors
/// As [`planform`], and angles that are not one per panel or not below 90°.
///
/// # Source
/// Geometry.
///
/// ```
/// use preen_domain::formulas::planform::{PlanformStation, project};
/// let at = |y_mm| PlanformStation { y_mm, x_le_mm: 0.0, chord_mm: 200.0 };
/// let seen = project(&[at(0.0), at(500.0), at(1000.0)], &[0.0, 60.0])?;
/// assert!(seen.last().is_some_and(|tip| (tip.y_mm - 750.0).abs() < 1e-9));
/// # Ok::<(), preen_domain::formulas::planform::PlanformError>(())
/// ```
pub fn project(
    stations: &[PlanformStation],
    dihedral_deg: &[f64],
) -> Result<Vec<PlanformStation>, PlanformError> {
    check_stations(stations)?;
    let panels = stations.len() - 1;
    if dihedral_deg.len() != panels {
        return Err(PlanformError::DihedralCount { panels });
    }
    let mut seen: Vec<PlanformStation> = stations.iter().take(1).copied().collect();
    let mut y_mm = stations.first().map_or(0.0, |root| root.y_mm);
    let widths = stations.iter().zip(stations.iter().skip(1));
    for (index, ((inner, outer), angle_deg)) in widths.zip(dihedral_deg).enumerate() {
        if !angle_deg.is_finite() || angle_deg.abs() >= 90.0 {
            return Err(PlanformError::BadDihedral { panel: index + 1 });
        }
        y_mm += (outer.y_mm - inner.y_mm) * angle_deg.to_radians().cos();
        seen.push(PlanformStation { y_mm, ..*outer });
    }
    Ok(seen)
}

crate::text_enum! {
    /// Which area counts for a loading.
    #[derive(Default)]
    AreaDefinition {
        /// The wing alone, along its panels: what pilots mean by wing loading (common practice, no source).
        #[default]
        Wing = "wing",
        /// Wing and tail, along their panels.
        WingAndTail = "wing_and_tail",
        /// Wing and tail as seen from above: what the classes of the FAI Sporting Code limit (Section 4, total surface
        /// area, from memory; unconfirmed until a person confirms the current edition).
        ProjectedWingAndTail = "projected_wing_and_tail",
    }
}

/// The areas of a model, dm², as far as they are known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Areas {
    /// Wing along its panels.
    pub wing_dm2: f64,
    /// Wing as seen from above; `None` where its dihedral is not known.
    pub projected_wing_dm2: Option<f64>,
    /// Tail along its panels.
    pub tail_dm2: f64,
    /// Tail as seen from above; a tail without dihedral has the same area either way.
    pub projected_tail_dm2: f64,
}

impl Areas {
    /// The area that counts, dm²; `None` when the projected area is asked for and not known.
    ///
    /// ```
    /// use preen_domain::formulas::planform::{AreaDefinition, Areas};
    /// let areas = Areas { wing_dm2: 70.89, projected_wing_dm2: Some(70.66), tail_dm2: 5.9, projected_tail_dm2: 5.9 };
    /// let counts = |by| areas.counted_by(by).map(|area| format!("{area:.2}"));
    /// assert_eq!(counts(AreaDefinition::Wing).as_deref(), Some("70.89"));
    /// assert_eq!(counts(AreaDefinition::ProjectedWingAndTail).as_deref(), Some("76.56"));
    /// ```
    #[must_use]
    pub fn counted_by(&self, definition: AreaDefinition) -> Option<f64> {
        match definition {
            AreaDefinition::Wing => Some(self.wing_dm2),
            AreaDefinition::WingAndTail => Some(self.wing_dm2 + self.tail_dm2),
            AreaDefinition::ProjectedWingAndTail => {
                self.projected_wing_dm2.map(|wing_dm2| wing_dm2 + self.projected_tail_dm2)
            }
        }
    }
}

/// Wing loading, g/dm²: mass over area. Which area counts is for the rule of the class to say; see
/// [`AreaDefinition`].
///
/// # Errors
/// Mass or area not finite or not above zero.
///
/// ```
/// use preen_domain::formulas::planform::loading_g_dm2;
/// assert_eq!(loading_g_dm2(1202.5, 70.89).map(|loading| (loading * 100.0).round() / 100.0), Ok(16.96));
/// ```
pub fn loading_g_dm2(mass_g: f64, area_dm2: f64) -> Result<f64, PlanformError> {
    ratio_of_positives(mass_g, area_dm2)
}

/// A CG as per cent of the mean aerodynamic chord: 100·(x − x_LE)/MAC; below 0 it lies in front of the MAC.
///
/// # Errors
/// A MAC that is not above zero, or numbers that are not finite.
///
/// # Source
/// FAA-H-8083-1B (CG as per cent MAC).
///
/// ```
/// use preen_domain::formulas::planform::percent_mac;
/// assert_eq!(percent_mac(724.0, 517.0, 1706.0 - 517.0).map(|percent| percent.round()), Ok(17.0));
/// ```
pub fn percent_mac(x_mm: f64, mac_le_x_mm: f64, mac_mm: f64) -> Result<f64, PlanformError> {
    let share = ratio_of_positives(1.0, mac_mm)?;
    let percent = 100.0 * (x_mm - mac_le_x_mm) * share;
    if percent.is_finite() { Ok(percent) } else { Err(PlanformError::TooLarge) }
}

fn ratio_of_positives(over: f64, under: f64) -> Result<f64, PlanformError> {
    if over <= 0.0 || under <= 0.0 || !all_finite(&[over, under]) {
        return Err(PlanformError::NotPositive);
    }
    let ratio = over / under;
    if ratio.is_finite() { Ok(ratio) } else { Err(PlanformError::TooLarge) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(y_mm: f64, chord_mm: f64) -> PlanformStation {
        PlanformStation { y_mm, x_le_mm: 0.0, chord_mm }
    }

    #[test]
    fn stations_without_a_planform_are_refused() {
        let check = |stations: &[PlanformStation], expected| assert_eq!(planform(stations), Err(expected));
        check(&[at(0.0, 200.0)], PlanformError::TooFewStations);
        check(&[at(0.0, 200.0), at(0.0, 100.0)], PlanformError::NotOutward { station: 2 });
        check(&[at(-1.0, 200.0), at(9.0, 100.0)], PlanformError::NotOutward { station: 1 });
        check(&[at(0.0, 200.0), at(9.0, -1.0)], PlanformError::NegativeChord { station: 2 });
        check(&[at(0.0, 0.0), at(9.0, 0.0)], PlanformError::NoArea);
        check(&[at(f64::NAN, 1.0), at(9.0, 1.0)], PlanformError::NotFinite { station: 1 });
        check(&[at(0.0, 1e200), at(1.0, 1e200)], PlanformError::TooLarge);
    }

    #[test]
    fn dihedral_must_fit_the_panels() {
        let wing = [at(0.0, 200.0), at(500.0, 100.0)];
        assert_eq!(project(&wing, &[]), Err(PlanformError::DihedralCount { panels: 1 }));
        assert_eq!(project(&wing, &[90.0]), Err(PlanformError::BadDihedral { panel: 1 }));
        assert_eq!(project(&wing, &[f64::NAN]), Err(PlanformError::BadDihedral { panel: 1 }));
    }

    #[test]
    fn nothing_is_divided_by_zero() {
        assert_eq!(loading_g_dm2(1202.5, 0.0), Err(PlanformError::NotPositive));
        assert_eq!(percent_mac(96.5, 16.7, 0.0), Err(PlanformError::NotPositive));
        assert_eq!(percent_mac(f64::NAN, 16.7, 193.7), Err(PlanformError::TooLarge));
    }
}
