//! Section properties of joiners and spars: what a cross-section sets against bending. What sanding leaves of it
//! lives in `sanding`.
//!
//! `width` lies fore-aft, `height` vertical. Vertical bending (lift) turns about the fore-aft axis of the section,
//! fore-aft bending about the vertical one. Foam cores and glue carry nothing here.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// Largest outer measure taken, mm.
const LARGEST_MM: f64 = 1000.0;

/// The shape of a cross-section and its outer measures, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", tag = "shape", deny_unknown_fields)]
pub enum Section {
    /// Solid rectangle.
    Rectangle {
        /// Fore-aft, mm.
        width_mm: f64,
        /// Vertical, mm.
        height_mm: f64,
    },
    /// Rectangular box with two caps (top, bottom) and two webs (front, rear) around foam or nothing.
    Box {
        /// Fore-aft, outside, mm.
        width_mm: f64,
        /// Vertical, outside, mm.
        height_mm: f64,
        /// Thickness of each cap, mm.
        cap_mm: f64,
        /// Thickness of each web, mm.
        web_mm: f64,
    },
    /// Solid round bar.
    Round {
        /// Diameter, mm.
        diameter_mm: f64,
    },
    /// Round tube.
    Tube {
        /// Diameter outside, mm.
        diameter_mm: f64,
        /// Diameter inside, mm.
        bore_mm: f64,
    },
    /// Solid ellipse.
    Ellipse {
        /// Fore-aft axis, mm.
        width_mm: f64,
        /// Vertical axis, mm.
        height_mm: f64,
    },
    /// Two equal caps, the web between them not counted.
    Caps {
        /// Fore-aft, mm.
        width_mm: f64,
        /// Vertical, over both caps, mm.
        height_mm: f64,
        /// Thickness of each cap, mm.
        cap_mm: f64,
    },
}

/// What a cross-section sets against bending.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SectionProperties {
    /// Outer width, mm.
    pub width_mm: f64,
    /// Outer height, mm.
    pub height_mm: f64,
    /// Area of what carries, mm².
    pub area_mm2: f64,
    /// Second moment against vertical bending, mm⁴.
    pub i_vertical_mm4: f64,
    /// Second moment against fore-aft bending, mm⁴.
    pub i_fore_aft_mm4: f64,
    /// Section modulus against vertical bending, to the farther outer fibre, mm³.
    pub z_vertical_mm3: f64,
    /// Section modulus against fore-aft bending, to the farther outer fibre, mm³.
    pub z_fore_aft_mm3: f64,
    /// Radius of gyration for vertical bending, mm.
    pub gyration_vertical_mm: f64,
    /// Polar second moment about the centroid, mm⁴: the torsion constant of round sections alone.
    pub polar_mm4: f64,
}

/// Why a section has no properties.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SectionError {
    /// A measure outside its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// Inner parts fill the section or stand over it.
    #[error("{0} leaves no room inside; give what the wall measures on one side")]
    NoRoom(&'static str),
    /// The bore is as wide as the tube.
    #[error("bore_mm must be smaller than diameter_mm")]
    BoreTooWide,
}

/// Properties of a section: rectangle I = b·h³/12, box and caps the outer less the inner, round π·(D⁴ − d⁴)/64,
/// ellipse π·b·h³/64; Z = I over the distance to the outer fibre.
///
/// # Errors
/// Measures outside 0.01 to 1000 mm, walls that leave no room inside, a bore as wide as the tube.
///
/// # Source
/// Closed forms of elementary strength of materials (parallel-axis theorem).
///
/// ```
/// use preen_domain::formulas::joiner::section::{Section, properties};
/// let joiner = Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 1.5 };
/// assert_eq!(format!("{:.1}", properties(&joiner)?.z_vertical_mm3), "460.4");
/// # Ok::<(), preen_domain::formulas::joiner::section::SectionError>(())
/// ```
pub fn properties(section: &Section) -> Result<SectionProperties, SectionError> {
    check(section)?;
    Ok(match *section {
        Section::Rectangle { width_mm, height_mm } => hollow(&Walls::solid(width_mm, height_mm)),
        Section::Box { width_mm, height_mm, cap_mm, web_mm } => {
            let [top_mm, bottom_mm] = [cap_mm; 2];
            let [front_mm, rear_mm] = [web_mm; 2];
            hollow(&Walls { width_mm, height_mm, top_mm, bottom_mm, front_mm, rear_mm })
        }
        Section::Caps { width_mm, height_mm, cap_mm } => hollow(&Walls {
            width_mm,
            height_mm,
            top_mm: cap_mm,
            bottom_mm: cap_mm,
            front_mm: 0.0,
            rear_mm: 0.0,
        }),
        Section::Round { diameter_mm } => elliptical(diameter_mm, diameter_mm, 0.0),
        Section::Tube { diameter_mm, bore_mm } => elliptical(diameter_mm, diameter_mm, bore_mm),
        Section::Ellipse { width_mm, height_mm } => elliptical(width_mm, height_mm, 0.0),
    })
}

fn check(section: &Section) -> Result<(), SectionError> {
    let outer = |name, mm| within(name, mm, 0.01, LARGEST_MM);
    match *section {
        Section::Rectangle { width_mm, height_mm } | Section::Ellipse { width_mm, height_mm } => {
            outer("width_mm", width_mm)?;
            outer("height_mm", height_mm)?;
        }
        Section::Box { width_mm, height_mm, cap_mm, web_mm } => {
            outer("width_mm", width_mm)?;
            outer("height_mm", height_mm)?;
            wall("cap_mm", cap_mm, height_mm)?;
            wall("web_mm", web_mm, width_mm)?;
        }
        Section::Caps { width_mm, height_mm, cap_mm } => {
            outer("width_mm", width_mm)?;
            outer("height_mm", height_mm)?;
            wall("cap_mm", cap_mm, height_mm)?;
        }
        Section::Round { diameter_mm } => outer("diameter_mm", diameter_mm)?,
        Section::Tube { diameter_mm, bore_mm } => {
            outer("diameter_mm", diameter_mm)?;
            within("bore_mm", bore_mm, 0.0, LARGEST_MM)?;
            if bore_mm >= diameter_mm {
                return Err(SectionError::BoreTooWide);
            }
        }
    }
    Ok(())
}

fn wall(name: &'static str, wall_mm: f64, across_mm: f64) -> Result<(), SectionError> {
    within(name, wall_mm, 0.01, LARGEST_MM)?;
    if 2.0 * wall_mm >= across_mm { Err(SectionError::NoRoom(name)) } else { Ok(()) }
}

/// A rectangle with a rectangular hole, its walls not necessarily alike.
#[derive(Clone, Copy, Debug)]
pub(super) struct Walls {
    pub width_mm: f64,
    pub height_mm: f64,
    pub top_mm: f64,
    pub bottom_mm: f64,
    pub front_mm: f64,
    pub rear_mm: f64,
}

impl Walls {
    /// No hole.
    pub const fn solid(width_mm: f64, height_mm: f64) -> Self {
        Self { width_mm, height_mm, top_mm: height_mm, bottom_mm: 0.0, front_mm: 0.0, rear_mm: 0.0 }
    }
}

/// Properties of a rectangle less its hole, about the centroid of what remains.
pub(super) fn hollow(walls: &Walls) -> SectionProperties {
    let Walls { width_mm, height_mm, .. } = *walls;
    let hole_width_mm = width_mm - walls.front_mm - walls.rear_mm;
    let hole_height_mm = height_mm - walls.top_mm - walls.bottom_mm;
    let hole = hole_width_mm * hole_height_mm;
    let area_mm2 = width_mm * height_mm - hole;
    // Heights and depths are counted from the middle of the outer rectangle, towards the top and the front.
    let hole_up_mm = (walls.bottom_mm - walls.top_mm) / 2.0;
    let hole_ahead_mm = (walls.rear_mm - walls.front_mm) / 2.0;
    let about = |across: f64, along: f64, hole_across: f64, hole_along: f64, hole_off: f64| {
        let centroid = -hole * hole_off / area_mm2;
        let outer = across * along.powi(3) / 12.0 + across * along * centroid.powi(2);
        let inner = hole_across * hole_along.powi(3) / 12.0 + hole * (hole_off - centroid).powi(2);
        let second = outer - inner;
        (second, second / (along / 2.0 + centroid.abs()))
    };
    let (i_vertical_mm4, z_vertical_mm3) =
        about(width_mm, height_mm, hole_width_mm, hole_height_mm, hole_up_mm);
    let (i_fore_aft_mm4, z_fore_aft_mm3) =
        about(height_mm, width_mm, hole_height_mm, hole_width_mm, hole_ahead_mm);
    SectionProperties {
        width_mm,
        height_mm,
        area_mm2,
        i_vertical_mm4,
        i_fore_aft_mm4,
        z_vertical_mm3,
        z_fore_aft_mm3,
        gyration_vertical_mm: (i_vertical_mm4 / area_mm2).sqrt(),
        polar_mm4: i_vertical_mm4 + i_fore_aft_mm4,
    }
}

/// Properties of an ellipse, or of a circle with a round bore.
pub(super) fn elliptical(width_mm: f64, height_mm: f64, bore_mm: f64) -> SectionProperties {
    let area_mm2 = PI / 4.0 * (width_mm * height_mm - bore_mm.powi(2));
    let i_vertical_mm4 = PI / 64.0 * (width_mm * height_mm.powi(3) - bore_mm.powi(4));
    let i_fore_aft_mm4 = PI / 64.0 * (height_mm * width_mm.powi(3) - bore_mm.powi(4));
    SectionProperties {
        width_mm,
        height_mm,
        area_mm2,
        i_vertical_mm4,
        i_fore_aft_mm4,
        z_vertical_mm3: i_vertical_mm4 / (height_mm / 2.0),
        z_fore_aft_mm3: i_fore_aft_mm4 / (width_mm / 2.0),
        gyration_vertical_mm: (i_vertical_mm4 / area_mm2).sqrt(),
        polar_mm4: i_vertical_mm4 + i_fore_aft_mm4,
    }
}

/// Second moment of a thin round tube, mm⁴: π·R³·t with R the radius of the wall's middle; low for thick walls (by
/// 0.8 % for a wall of a twelfth of the diameter). For a quick look; [`properties`] is exact.
///
/// # Errors
/// A radius or wall outside 0.01 to 1000 mm.
///
/// ```
/// use preen_domain::formulas::joiner::section::thin_tube_mm4;
/// assert_eq!(thin_tube_mm4(5.5, 1.0).map(|i| (i * 100.0).round() / 100.0), Ok(522.68));
/// ```
pub fn thin_tube_mm4(middle_radius_mm: f64, wall_mm: f64) -> Result<f64, OutOfRange> {
    within("middle_radius_mm", middle_radius_mm, 0.01, LARGEST_MM)?;
    within("wall_mm", wall_mm, 0.01, LARGEST_MM)?;
    Ok(PI * middle_radius_mm.powi(3) * wall_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lopsided_box_turns_about_its_own_centroid() {
        // Two strips: 10 × 2 on top, 10 × 1 at the bottom of a height of 10, no webs; by hand: centroid
        // (20·9 + 10·0.5)/30 = 6.1667, I = 10·8/12 + 20·2.8333² + 10/12 + 10·5.6667² = 489.17.
        let walls = Walls {
            width_mm: 10.0,
            height_mm: 10.0,
            top_mm: 2.0,
            bottom_mm: 1.0,
            front_mm: 0.0,
            rear_mm: 0.0,
        };
        let strips = hollow(&walls);
        assert!((strips.area_mm2 - 30.0).abs() < 1e-12);
        assert!((strips.i_vertical_mm4 - 489.1667).abs() < 1e-3, "{}", strips.i_vertical_mm4);
        assert!((strips.z_vertical_mm3 - 489.1667 / 6.1667).abs() < 1e-2);
    }

    #[test]
    fn impossible_sections_are_refused() {
        let refused = |section: Section| properties(&section).unwrap_err().to_string();
        let solid = Section::Rectangle { width_mm: 0.0, height_mm: 5.0 };
        assert_eq!(refused(solid), "width_mm must be from 0.01 to 1000");
        let no_hole = Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 6.0, web_mm: 1.0 };
        assert_eq!(refused(no_hole), "cap_mm leaves no room inside; give what the wall measures on one side");
        assert_eq!(
            refused(Section::Tube { diameter_mm: 8.0, bore_mm: 8.0 }),
            "bore_mm must be smaller than diameter_mm"
        );
        assert!(refused(Section::Round { diameter_mm: f64::NAN }).starts_with("diameter_mm"));
    }
}
