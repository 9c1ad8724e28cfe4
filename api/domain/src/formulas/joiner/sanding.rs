//! What sanding a joiner's faces takes: the outer fibres go, the cavity stays, so the section loses more than its
//! outside measures suggest. How much may go in a joiner's life, and who decides beyond that, is here too.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::section::{Section, SectionError, SectionProperties, Walls, elliptical, hollow, properties};
use crate::formulas::range::{OutOfRange, within};

/// Up to this much may go from a face in a joiner's whole life without an inspector, mm. Common practice, no source.
pub const WITHOUT_INSPECTOR_MM: f64 = 0.10;

/// This much never goes from a face, mm. Common practice, no source.
pub const NEVER_MM: f64 = 0.20;

/// Material taken from each face, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SandedFaces {
    /// From the top, mm.
    #[serde(default)]
    pub top_mm: f64,
    /// From the bottom, mm.
    #[serde(default)]
    pub bottom_mm: f64,
    /// From the front, mm.
    #[serde(default)]
    pub front_mm: f64,
    /// From the rear, mm.
    #[serde(default)]
    pub rear_mm: f64,
}

impl SandedFaces {
    /// The same depth all round.
    #[must_use]
    pub const fn all(depth_mm: f64) -> Self {
        Self { top_mm: depth_mm, bottom_mm: depth_mm, front_mm: depth_mm, rear_mm: depth_mm }
    }

    const fn depths(&self) -> [(&'static str, f64); 4] {
        [
            ("top_mm", self.top_mm),
            ("bottom_mm", self.bottom_mm),
            ("front_mm", self.front_mm),
            ("rear_mm", self.rear_mm),
        ]
    }

    /// The faces by their names, in order: top, bottom, front, rear.
    #[must_use]
    pub const fn faces(&self) -> [(&'static str, f64); 4] {
        [("top", self.top_mm), ("bottom", self.bottom_mm), ("front", self.front_mm), ("rear", self.rear_mm)]
    }

    /// The deepest of all faces, mm.
    #[must_use]
    pub fn deepest_mm(&self) -> f64 {
        self.depths().into_iter().fold(0.0, |deepest, (_, depth)| depth.max(deepest))
    }

    /// What both took together, face by face.
    #[must_use]
    pub fn plus(&self, more: &Self) -> Self {
        Self {
            top_mm: self.top_mm + more.top_mm,
            bottom_mm: self.bottom_mm + more.bottom_mm,
            front_mm: self.front_mm + more.front_mm,
            rear_mm: self.rear_mm + more.rear_mm,
        }
    }
}

/// What is left of a section.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Sanded {
    /// The section as it was.
    pub before: SectionProperties,
    /// The section sanded.
    pub after: SectionProperties,
    /// Change of the section modulus against vertical bending, per cent; never above 0.
    pub z_vertical_change_pct: f64,
    /// Change of the section modulus against fore-aft bending, per cent; never above 0.
    pub z_fore_aft_change_pct: f64,
}

/// Why sanding cannot be computed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SandingError {
    /// The section itself is at fault.
    #[error(transparent)]
    Section(#[from] SectionError),
    /// A depth outside its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// A wall would be gone.
    #[error("sanding {0} goes through the wall; give less")]
    Through(&'static str),
    /// A round section sanded on one side.
    #[error("a round or elliptical section is sanded evenly; give the same depth for all four faces")]
    Uneven,
}

/// The section after sanding: outside measures shrink, the cavity stays; a box sanded unevenly turns about its new
/// centroid. An ellipse loses the depth at the ends of both axes and is taken as an ellipse again.
///
/// # Errors
/// A section that is none, depths outside 0 to 100 mm, walls sanded through, a round section sanded unevenly.
///
/// # Source
/// Closed forms of elementary strength of materials (parallel-axis theorem).
///
/// ```
/// use preen_domain::formulas::joiner::{sanding::{SandedFaces, sand}, section::Section};
/// let joiner = Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 1.5 };
/// let sanded = sand(&joiner, &SandedFaces::all(0.10))?;
/// assert_eq!(format!("{:.2} mm, {:.1} %", sanded.after.height_mm, sanded.z_vertical_change_pct), "11.80 mm, -6.1 %");
/// # Ok::<(), preen_domain::formulas::joiner::sanding::SandingError>(())
/// ```
pub fn sand(section: &Section, faces: &SandedFaces) -> Result<Sanded, SandingError> {
    let before = properties(section)?;
    for (name, depth) in faces.depths() {
        within(name, depth, 0.0, 100.0)?;
    }
    let after = match *section {
        Section::Rectangle { width_mm, height_mm } => {
            let (width_mm, height_mm) = outside(width_mm, height_mm, faces)?;
            hollow(&Walls::solid(width_mm, height_mm))
        }
        Section::Box { width_mm, height_mm, cap_mm, web_mm } => {
            walled(width_mm, height_mm, cap_mm, Some(web_mm), faces)?
        }
        Section::Caps { width_mm, height_mm, cap_mm } => walled(width_mm, height_mm, cap_mm, None, faces)?,
        Section::Round { diameter_mm } => {
            let left_mm = even(faces, diameter_mm)?;
            elliptical(left_mm, left_mm, 0.0)
        }
        Section::Tube { diameter_mm, bore_mm } => {
            let left_mm = even(faces, diameter_mm)?;
            if left_mm <= bore_mm {
                return Err(SandingError::Through("all round"));
            }
            elliptical(left_mm, left_mm, bore_mm)
        }
        Section::Ellipse { width_mm, height_mm } => {
            let left_mm = even(faces, width_mm)?;
            elliptical(left_mm, even(faces, height_mm)?, 0.0)
        }
    };
    let change = |before: f64, after: f64| (100.0 * (after / before - 1.0)).min(0.0);
    Ok(Sanded {
        before,
        after,
        z_vertical_change_pct: change(before.z_vertical_mm3, after.z_vertical_mm3),
        z_fore_aft_change_pct: change(before.z_fore_aft_mm3, after.z_fore_aft_mm3),
    })
}

fn outside(width_mm: f64, height_mm: f64, faces: &SandedFaces) -> Result<(f64, f64), SandingError> {
    let width_left = width_mm - faces.front_mm - faces.rear_mm;
    let height_left = height_mm - faces.top_mm - faces.bottom_mm;
    if width_left <= 0.0 {
        return Err(SandingError::Through("front and rear"));
    }
    if height_left <= 0.0 {
        return Err(SandingError::Through("top and bottom"));
    }
    Ok((width_left, height_left))
}

fn walled(
    width_mm: f64,
    height_mm: f64,
    cap_mm: f64,
    web_mm: Option<f64>,
    faces: &SandedFaces,
) -> Result<SectionProperties, SandingError> {
    let (width_mm, height_mm) = outside(width_mm, height_mm, faces)?;
    let left = |name, wall: f64, depth: f64| {
        if depth < wall { Ok(wall - depth) } else { Err(SandingError::Through(name)) }
    };
    let side = |name, depth| web_mm.map_or(Ok(0.0), |web| left(name, web, depth));
    Ok(hollow(&Walls {
        width_mm,
        height_mm,
        top_mm: left("top_mm", cap_mm, faces.top_mm)?,
        bottom_mm: left("bottom_mm", cap_mm, faces.bottom_mm)?,
        front_mm: side("front_mm", faces.front_mm)?,
        rear_mm: side("rear_mm", faces.rear_mm)?,
    }))
}

fn even(faces: &SandedFaces, across_mm: f64) -> Result<f64, SandingError> {
    let depth = faces.top_mm;
    if faces.depths().into_iter().any(|(_, other)| other != depth) {
        return Err(SandingError::Uneven);
    }
    let left_mm = across_mm - 2.0 * depth;
    if left_mm > 0.0 { Ok(left_mm) } else { Err(SandingError::Through("all round")) }
}

/// Whether the material taken from a joiner in its whole life needs an inspector.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SandingLife {
    /// The owner or builder may do it; more needs an inspector.
    Within,
    /// Only an inspector may accept it.
    InspectorNeeded,
    /// Not to be done: replace or re-sleeve the joiner.
    Never,
}

/// Judges the deepest face of a joiner's whole life: up to 0.10 mm is free, 0.20 mm and more is never done.
///
/// ```
/// use preen_domain::formulas::joiner::sanding::{SandedFaces, SandingLife, judge_sanding};
/// assert_eq!(judge_sanding(&SandedFaces::all(0.10)), SandingLife::Within);
/// let more = SandedFaces { top_mm: 0.12, ..SandedFaces::default() };
/// assert_eq!(judge_sanding(&more), SandingLife::InspectorNeeded);
/// assert_eq!(judge_sanding(&SandedFaces::all(0.20)), SandingLife::Never);
/// ```
#[must_use]
pub fn judge_sanding(whole_life: &SandedFaces) -> SandingLife {
    // Sums of hundredths carry a hair of rounding: 0.04 + 0.06 is 0.10.
    let deepest = whole_life.deepest_mm();
    if deepest >= NEVER_MM - 1e-9 {
        SandingLife::Never
    } else if deepest > WITHOUT_INSPECTOR_MM + 1e-9 {
        SandingLife::InspectorNeeded
    } else {
        SandingLife::Within
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOX: Section = Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 1.5 };

    #[test]
    fn nothing_sanded_is_nothing_lost() {
        let sanded = sand(&BOX, &SandedFaces::default()).expect("computable");
        assert_eq!((sanded.before, sanded.z_vertical_change_pct), (sanded.after, 0.0));
    }

    #[test]
    fn what_cannot_be_sanded_is_refused() {
        let refused = |section: &Section, faces: SandedFaces| sand(section, &faces).unwrap_err();
        let top = |top_mm| SandedFaces { top_mm, ..SandedFaces::default() };
        assert_eq!(refused(&BOX, top(2.0)), SandingError::Through("top_mm"));
        assert!(matches!(refused(&BOX, top(-0.1)), SandingError::OutOfRange(why) if why.input == "top_mm"));
        let rod = Section::Round { diameter_mm: 10.0 };
        assert_eq!(refused(&rod, top(0.1)), SandingError::Uneven);
        assert_eq!(refused(&rod, SandedFaces::all(5.0)), SandingError::Through("all round"));
        let tube = Section::Tube { diameter_mm: 10.0, bore_mm: 8.0 };
        assert_eq!(refused(&tube, SandedFaces::all(1.0)), SandingError::Through("all round"));
        let plate = Section::Rectangle { width_mm: 10.0, height_mm: 1.0 };
        assert_eq!(refused(&plate, SandedFaces::all(0.5)), SandingError::Through("top and bottom"));
    }

    #[test]
    fn life_adds_up_face_by_face() {
        let early = SandedFaces { top_mm: 0.04, ..SandedFaces::default() };
        let later = SandedFaces { top_mm: 0.06, bottom_mm: 0.09, ..SandedFaces::default() };
        assert_eq!(judge_sanding(&early.plus(&later)), SandingLife::Within);
    }
}
