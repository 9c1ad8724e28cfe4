//! The inverse problem: given the throws wanted and the room there is, which arm, arm angle and horn reach them. Every
//! proposal is solved forward again before it is made.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{
    LinkageError, checked_amount, checked_angle, checked_length, checked_place, checked_positive,
};
use super::geometry::{Linkage, LinkageGeometry};
use super::triangle::Plane;
use crate::formulas::cover::{ArmSwing, ArmUnderCover, CoverError, fit_cover};

/// Angle between rod and horn that should remain at the ends of the travel, deg. Common practice, no source.
pub const LEAST_TRANSMISSION_DEG: f64 = 15.0;

/// Most arms times arm angles looked at.
const MOST_TRIES: u32 = 50_000;
/// Most proposals given.
const MOST_PROPOSALS: usize = 12;

/// A range that is gone through in steps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeSteps {
    /// The least.
    pub from: f64,
    /// The most.
    pub to: f64,
    /// The step.
    pub step: f64,
}

/// The cover above the arm, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverRoom {
    /// From the servo's axis to the outer face of the skin.
    pub axis_to_skin_mm: f64,
    /// Thickness of the cover sheet.
    pub sheet_mm: f64,
    /// From the hole in the arm to the far end of its tip.
    pub tip_mm: f64,
    /// The gap that should remain.
    pub gap_mm: f64,
}

/// What is wanted, and the limits; for a horn below the hinge line. One above it is the same drawing turned over: give
/// the hinge's height with its sign changed, up for down, and the servo's travels exchanged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WantedThrows {
    /// Down, deg, 0 or more.
    pub down_deg: f64,
    /// Up, deg, 0 or more.
    pub up_deg: f64,
    /// Servo travel there is with the arm forward (surface down), deg, above zero.
    pub servo_forward_deg: f64,
    /// Servo travel there is with the arm aft (surface up), deg, above zero.
    pub servo_aft_deg: f64,
    /// Hinge line aft of the servo's axis, mm.
    pub hinge_x_mm: f64,
    /// Hinge line above the servo's axis, mm.
    pub hinge_z_mm: f64,
    /// Set-back of the horn's hole, mm.
    pub set_back_mm: f64,
    /// Arm radii that can be had, mm.
    pub arm_mm: SizeSteps,
    /// Arm angles that can be set, deg: the teeth of the spline.
    pub arm_deg: SizeSteps,
    /// Horn heights that can be made, mm.
    pub horn_mm: SizeSteps,
    /// The cover, if the arm must clear one without relief.
    pub cover: Option<CoverRoom>,
    /// Least transmission angle at the ends, deg, usually [`LEAST_TRANSMISSION_DEG`].
    pub least_transmission_deg: f64,
    /// Servo play by which proposals are ranked, deg at the arm.
    pub servo_play_deg: f64,
    /// Play along the rod by which they are ranked, mm.
    pub hole_play_mm: f64,
}

/// Sizes that reach the throws, and what they give when solved forward.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LinkageProposal {
    /// Arm radius, mm.
    pub arm_mm: f64,
    /// Arm angle at neutral, deg.
    pub arm_deg: f64,
    /// Horn height, mm.
    pub horn_mm: f64,
    /// Rod length that puts the surface at 0° at neutral, mm.
    pub rod_mm: f64,
    /// Servo angle that gives the wanted throw down, deg (negative: arm forward).
    pub servo_at_down_deg: f64,
    /// Servo angle that gives the wanted throw up, deg.
    pub servo_at_up_deg: f64,
    /// The end point for down, per cent of the servo travel there is.
    pub down_end_point_pct: f64,
    /// The end point for up, per cent.
    pub up_end_point_pct: f64,
    /// Deflection at `servo_at_down_deg`, solved forward, deg.
    pub down_deg: f64,
    /// Deflection at `servo_at_up_deg`, solved forward, deg; up is negative.
    pub up_deg: f64,
    /// Gain at neutral, degrees of surface per degree of servo.
    pub gain_at_neutral: f64,
    /// Gain at full down: with the servo torque it grows.
    pub gain_at_down: f64,
    /// The smaller transmission angle of both ends, deg.
    pub transmission_deg: f64,
    /// Play of the surface at neutral from the servo and hole play given, deg: proposals are ranked by it.
    pub play_deg: f64,
    /// Gap to the cover at the tightest place of the swing, mm; absent without a cover.
    pub cover_gap_mm: Option<f64>,
}

/// What kept sizes from being proposed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Obstacle {
    /// The horn would have to be shorter than allowed.
    Horn,
    /// The arm does not clear the cover.
    Cover,
    /// Rod and horn come too nearly in line.
    Transmission,
    /// The linkage passes a dead point on the way.
    DeadPoint,
}

impl Obstacle {
    const fn advice(self) -> &'static str {
        match self {
            Self::Horn => {
                "the horn would have to be shorter than allowed; allow a longer arm, more servo travel or a shorter horn"
            }
            Self::Cover => {
                "the arm does not clear the cover; allow a shorter arm, a thinner sheet or a relief slot"
            }
            Self::Transmission => {
                "rod and horn come too nearly in line; allow a smaller transmission angle, another arm angle or less throw"
            }
            Self::DeadPoint => {
                "the linkage passes a dead point on the way; allow other arm angles, a longer horn or less throw"
            }
        }
    }
}

/// Why nothing is proposed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ProposalError {
    /// A number cannot be used.
    #[error(transparent)]
    Linkage(#[from] LinkageError),
    /// A range is empty or its step is not above zero.
    #[error("{field} must run from its least to its most in steps above zero")]
    BadSteps {
        /// Which one.
        field: &'static str,
    },
    /// Too many combinations.
    #[error("arm radii and arm angles make {tries} combinations, more than 50000; take larger steps")]
    TooMany {
        /// How many.
        tries: u32,
    },
    /// The cover cannot be judged.
    #[error(transparent)]
    Cover(#[from] CoverError),
    /// No size in the limits reaches the throws.
    #[error("no arm and horn within the limits reach these throws: mostly, {}", obstacle.advice())]
    NothingReaches {
        /// What stood in the way most often.
        obstacle: Obstacle,
    },
}

/// Proposes sizes, the least play of the surface at neutral first, at most twelve, one for each arm radius.
///
/// For each arm radius and arm angle the horn height that just reaches a throw at full servo travel follows in closed
/// form from the loop: with q the horn and w the way from arm end to hinge, |w₀|² + 2 q₀·w₀ = |w₁|² + 2 q₁·w₁ is linear
/// in the height. The lower of the heights for down and up, put on a step downwards, reaches both; the end points are
/// what is then left of the travel. Of the angles of one radius the one with the least play is kept.
///
/// # Errors
/// Numbers that cannot be used; ranges that are empty or too fine; nothing that reaches, with what stood in the way.
///
/// # Source
/// F. Freudenstein's loop equation for three positions, as in R. L. Norton, *Design of Machinery*.
///
/// ```
/// use preen_domain::formulas::linkage::proposal::{LEAST_TRANSMISSION_DEG, SizeSteps, WantedThrows, propose};
/// let wanted = WantedThrows {
///     down_deg: 30.0, up_deg: 30.0, servo_forward_deg: 45.0, servo_aft_deg: 45.0,
///     hinge_x_mm: 60.0, hinge_z_mm: 0.0, set_back_mm: 0.0,
///     arm_mm: SizeSteps { from: 6.0, to: 6.0, step: 1.0 }, arm_deg: SizeSteps { from: 0.0, to: 0.0, step: 1.0 },
///     horn_mm: SizeSteps { from: 3.0, to: 12.0, step: 0.1 }, cover: None,
///     least_transmission_deg: LEAST_TRANSMISSION_DEG, servo_play_deg: 0.5, hole_play_mm: 0.05,
/// };
/// let proposals = propose(&wanted)?;
/// // r·sin 45° = h·sin 30° for a long rod, so h is near 8.5 mm.
/// assert!(proposals.first().is_some_and(|best| (8.2..8.6).contains(&best.horn_mm)));
/// # Ok::<(), preen_domain::formulas::linkage::proposal::ProposalError>(())
/// ```
pub fn propose(wanted: &WantedThrows) -> Result<Vec<LinkageProposal>, ProposalError> {
    check(wanted)?;
    let (arms, angles) = (count("arm_mm", &wanted.arm_mm)?, count("arm_deg", &wanted.arm_deg)?);
    count("horn_mm", &wanted.horn_mm)?;
    let tries = arms.saturating_mul(angles);
    if tries > MOST_TRIES {
        return Err(ProposalError::TooMany { tries });
    }
    let mut refused: [(Obstacle, u32); 4] =
        [Obstacle::Horn, Obstacle::Cover, Obstacle::Transmission, Obstacle::DeadPoint].map(|why| (why, 0));
    let mut found: Vec<LinkageProposal> = Vec::new();
    for arm in 0..arms {
        let mut best: Option<LinkageProposal> = None;
        for angle in 0..angles {
            match reach(wanted, nth(&wanted.arm_mm, arm), nth(&wanted.arm_deg, angle))? {
                Ok(one) if best.is_none_or(|best| one.play_deg < best.play_deg) => best = Some(one),
                Ok(_) => {}
                Err(why) => refused.iter_mut().filter(|(other, _)| *other == why).for_each(|(_, n)| *n += 1),
            }
        }
        found.extend(best);
    }
    found.sort_by(|one, other| one.play_deg.total_cmp(&other.play_deg));
    found.truncate(MOST_PROPOSALS);
    if found.is_empty() {
        let most = refused.into_iter().max_by_key(|(_, n)| *n);
        return Err(ProposalError::NothingReaches { obstacle: most.map_or(Obstacle::Horn, |(why, _)| why) });
    }
    Ok(found)
}

/// Arm and angle tried: sizes, or what stands in the way.
fn reach(
    wanted: &WantedThrows,
    arm_mm: f64,
    arm_deg: f64,
) -> Result<Result<LinkageProposal, Obstacle>, CoverError> {
    let heights = [
        horn_for(wanted, arm_mm, arm_deg, -wanted.servo_forward_deg, wanted.down_deg),
        horn_for(wanted, arm_mm, arm_deg, wanted.servo_aft_deg, -wanted.up_deg),
    ];
    let horn = heights.into_iter().fold(wanted.horn_mm.to, f64::min);
    let steps = ((horn - wanted.horn_mm.from) / wanted.horn_mm.step + 1e-9).floor();
    if steps.is_nan() || steps < 0.0 {
        return Ok(Err(Obstacle::Horn));
    }
    let geometry = LinkageGeometry {
        arm_mm,
        arm_deg,
        hinge_x_mm: wanted.hinge_x_mm,
        hinge_z_mm: wanted.hinge_z_mm,
        horn_mm: wanted.horn_mm.from + steps * wanted.horn_mm.step,
        set_back_mm: wanted.set_back_mm,
        rod_mm: None,
    };
    match forward(wanted, &geometry) {
        Some(one) if one.transmission_deg < wanted.least_transmission_deg => Ok(Err(Obstacle::Transmission)),
        Some(one) => under_cover(wanted, one),
        None => Ok(Err(Obstacle::DeadPoint)),
    }
}

/// The horn height at which a servo angle gives a deflection, mm; without limit where any height does.
fn horn_for(wanted: &WantedThrows, arm_mm: f64, arm_deg: f64, servo_deg: f64, deflection_deg: f64) -> f64 {
    if deflection_deg == 0.0 {
        return f64::INFINITY;
    }
    let hinge = Plane { x: wanted.hinge_x_mm, z: wanted.hinge_z_mm };
    let way = |deg: f64| hinge.minus(Plane::towards(deg.to_radians()).scaled(arm_mm));
    let (before, after) = (way(arm_deg), way(arm_deg + servo_deg));
    let (sin, cos) = deflection_deg.to_radians().sin_cos();
    let squares = before.length().powi(2) - after.length().powi(2);
    let set_back = 2.0 * wanted.set_back_mm * (before.x - cos * after.x + sin * after.z);
    (squares + set_back) / (2.0 * (before.z - sin * after.x - cos * after.z))
}

/// Solved forward: the servo angles that give the throws, if they lie inside the travel.
fn forward(wanted: &WantedThrows, geometry: &LinkageGeometry) -> Option<LinkageProposal> {
    let linkage = Linkage::new(geometry).ok()?;
    let neutral = linkage.at(0.0).ok()?;
    let down = linkage.at(linkage.servo_for(wanted.down_deg).ok()?).ok()?;
    let up = linkage.at(linkage.servo_for(-wanted.up_deg).ok()?).ok()?;
    let is_inside =
        down.servo_deg >= -wanted.servo_forward_deg - 1e-6 && up.servo_deg <= wanted.servo_aft_deg + 1e-6;
    (is_inside && neutral.gain > 0.0).then_some(LinkageProposal {
        arm_mm: geometry.arm_mm,
        arm_deg: geometry.arm_deg,
        horn_mm: geometry.horn_mm,
        rod_mm: linkage.rod_mm(),
        servo_at_down_deg: down.servo_deg,
        servo_at_up_deg: up.servo_deg,
        down_end_point_pct: -100.0 * down.servo_deg / wanted.servo_forward_deg,
        up_end_point_pct: 100.0 * up.servo_deg / wanted.servo_aft_deg,
        down_deg: down.deflection_deg,
        up_deg: up.deflection_deg,
        gain_at_neutral: neutral.gain,
        gain_at_down: down.gain,
        transmission_deg: down.transmission_deg.min(up.transmission_deg),
        play_deg: neutral.gain * wanted.servo_play_deg
            + (wanted.hole_play_mm / neutral.horn_lever_mm).to_degrees(),
        cover_gap_mm: None,
    })
}

/// The cover's skin is taken as lying straight below the servo's axis, as the arm does at 0°.
fn under_cover(
    wanted: &WantedThrows,
    one: LinkageProposal,
) -> Result<Result<LinkageProposal, Obstacle>, CoverError> {
    let Some(cover) = wanted.cover else { return Ok(Ok(one)) };
    let fit = fit_cover(&ArmUnderCover {
        axis_to_skin_mm: cover.axis_to_skin_mm,
        sheet_mm: cover.sheet_mm,
        swept_mm: one.arm_mm + cover.tip_mm,
        wanted_gap_mm: cover.gap_mm,
        swing: Some(ArmSwing {
            from_deg: (one.arm_deg + one.servo_at_down_deg).max(-180.0),
            to_deg: (one.arm_deg + one.servo_at_up_deg).min(180.0),
        }),
    })?;
    Ok(if fit.is_clear {
        Ok(LinkageProposal { cover_gap_mm: Some(fit.gap_mm), ..one })
    } else {
        Err(Obstacle::Cover)
    })
}

fn check(wanted: &WantedThrows) -> Result<(), LinkageError> {
    for (field, deg) in [("down_deg", wanted.down_deg), ("up_deg", wanted.up_deg)] {
        checked_amount(field, deg)?;
        if deg >= 180.0 {
            return Err(LinkageError::OutOfRange { field, least: 0.0, most: 180.0 });
        }
    }
    if wanted.down_deg + wanted.up_deg <= 0.0 {
        return Err(LinkageError::NotPositive { field: "down_deg" });
    }
    for (field, deg) in
        [("servo_forward_deg", wanted.servo_forward_deg), ("servo_aft_deg", wanted.servo_aft_deg)]
    {
        checked_positive(field, deg)?;
        if deg > 180.0 {
            return Err(LinkageError::OutOfRange { field, least: 0.0, most: 180.0 });
        }
    }
    checked_place("hinge_x_mm", wanted.hinge_x_mm)?;
    checked_place("hinge_z_mm", wanted.hinge_z_mm)?;
    checked_place("set_back_mm", wanted.set_back_mm)?;
    checked_length("arm_mm", wanted.arm_mm.from)?;
    checked_length("horn_mm", wanted.horn_mm.from)?;
    checked_length("arm_mm", wanted.arm_mm.to)?;
    checked_length("horn_mm", wanted.horn_mm.to)?;
    checked_angle("arm_deg", wanted.arm_deg.from)?;
    checked_angle("arm_deg", wanted.arm_deg.to)?;
    checked_amount("least_transmission_deg", wanted.least_transmission_deg)?;
    checked_amount("servo_play_deg", wanted.servo_play_deg)?;
    checked_amount("hole_play_mm", wanted.hole_play_mm)?;
    wanted.cover.map_or(Ok(()), |cover| checked_amount("tip_mm", cover.tip_mm))
}

/// How many steps a range has, both ends counted.
fn count(field: &'static str, steps: &SizeSteps) -> Result<u32, ProposalError> {
    let bad = ProposalError::BadSteps { field };
    if !(steps.step > 0.0 && steps.to >= steps.from) {
        return Err(bad);
    }
    let whole = ((steps.to - steps.from) / steps.step + 1e-9).floor();
    let most = f64::from(MOST_TRIES);
    if whole >= most {
        return Err(ProposalError::TooMany { tries: u32::MAX });
    }
    // Small whole numbers are found by counting: no cast loses anything.
    Ok((0..=MOST_TRIES).take_while(|n| f64::from(*n) <= whole).last().map_or(1, |n| n + 1))
}

fn nth(steps: &SizeSteps, n: u32) -> f64 {
    steps.from + f64::from(n) * steps.step
}
