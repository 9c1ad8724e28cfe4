//! Clearance of a joiner in its socket and the rock of the tip that shows it, both ways, and the field limits that
//! follow from the bench limits, so that both always give the same class.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// Clearance, the whole gap, mm: starting values of a club, common practice, no source.
pub const CLEARANCE_LIMITS_MM: ClassLimits = ClassLimits::new(0.12, 0.20, 0.35);

/// What a rule with a mark every millimetre is read to at the tip, mm.
pub const READ_TO_MM: f64 = 0.1;

/// Which sockets of a joint are loose.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LooseSockets {
    /// One: the joiner sits firmly in the other. What the field check assumes.
    #[default]
    One,
    /// Both, each with the same clearance.
    Both,
}

/// A joiner in its socket and the panel it holds, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RockGeometry {
    /// Length of the joiner inside the loose socket.
    #[schema(minimum = 1.0, maximum = 2000.0)]
    pub engagement_mm: f64,
    /// From the joint to where the tip is lifted and lowered.
    #[schema(minimum = 1.0, maximum = 20_000.0)]
    pub panel_mm: f64,
    /// Which sockets are loose.
    #[serde(default)]
    pub loose: LooseSockets,
}

impl RockGeometry {
    fn check(&self) -> Result<(), OutOfRange> {
        within("engagement_mm", self.engagement_mm, 1.0, 2000.0)?;
        within("panel_mm", self.panel_mm, 1.0, 20_000.0)
    }

    /// mm of rock at the tip for each mm of clearance.
    fn gain(&self) -> f64 {
        let one = 2.0 * self.panel_mm / self.engagement_mm;
        match self.loose {
            LooseSockets::One => one,
            LooseSockets::Both => 2.0 * one,
        }
    }
}

/// Total rock of the tip, lifted to lowered, from the clearance c (the whole gap) in each loose socket: the joiner
/// tilts by ± c/e, so 2·(c/e)·L for one loose socket, twice that for two.
///
/// # Errors
/// A clearance outside 0 to 10 mm, an engagement outside 1 to 2000 mm, a panel outside 1 to 20 000 mm.
///
/// # Source
/// Geometry of small angles.
///
/// ```
/// use preen_domain::formulas::joiner::rock::{LooseSockets, RockGeometry, rock_mm};
/// let tip = RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose: LooseSockets::One };
/// assert_eq!(rock_mm(0.12, &tip).map(|mm| (mm * 100.0).round() / 100.0), Ok(2.26));
/// ```
pub fn rock_mm(clearance_mm: f64, joint: &RockGeometry) -> Result<f64, OutOfRange> {
    within("clearance_mm", clearance_mm, 0.0, 10.0)?;
    joint.check()?;
    Ok(clearance_mm * joint.gain())
}

/// Clearance of each loose socket from the total rock of the tip: the way back of [`rock_mm`]. Its uncertainty is
/// that of the rock reading in the same ratio.
///
/// # Errors
/// A rock outside 0 to 10 000 mm, an engagement outside 1 to 2000 mm, a panel outside 1 to 20 000 mm.
///
/// # Source
/// Geometry of small angles.
///
/// ```
/// use preen_domain::formulas::joiner::rock::{LooseSockets, RockGeometry, clearance_mm};
/// let tip = |loose| RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose };
/// let rounded = |mm: f64| (mm * 1000.0).round() / 1000.0;
/// assert_eq!(clearance_mm(3.0, &tip(LooseSockets::One)).map(rounded), Ok(0.159));
/// assert_eq!(clearance_mm(3.0, &tip(LooseSockets::Both)).map(rounded), Ok(0.080));
/// ```
pub fn clearance_mm(rock_mm: f64, joint: &RockGeometry) -> Result<f64, OutOfRange> {
    within("rock_mm", rock_mm, 0.0, 10_000.0)?;
    joint.check()?;
    Ok(rock_mm / joint.gain())
}

/// The class of a rock reading: that of the clearance it stands for. The field and the bench cannot disagree, because
/// there is one judgement.
///
/// # Errors
/// As [`clearance_mm`].
///
/// ```
/// use preen_domain::formulas::joiner::rock::{CLEARANCE_LIMITS_MM, LooseSockets, RockGeometry, judge_rock};
/// use preen_domain::words::Severity;
/// let tip = RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose: LooseSockets::One };
/// assert_eq!(judge_rock(6.6, &tip, &CLEARANCE_LIMITS_MM)?, Some(Severity::Ground));
/// assert_eq!(judge_rock(2.2, &tip, &CLEARANCE_LIMITS_MM)?, None);
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn judge_rock(
    rock_mm: f64,
    joint: &RockGeometry,
    limits: &ClassLimits,
) -> Result<Option<Severity>, OutOfRange> {
    // The hair keeps a reading exactly on a limit in its class through the division.
    Ok(limits.rising(clearance_mm(rock_mm, joint)? * (1.0 + 1e-12)))
}

/// Field limits of the rock from the bench limits of the clearance, in steps of what the tip is read to: each is the
/// first step whose clearance has reached the bench limit, so a reading in such steps gets the same class both ways.
///
/// # Errors
/// Bench limits outside 0 to 10 mm, steps outside 0.001 to 10 mm, a geometry outside its ranges.
///
/// # Source
/// [`rock_mm`] of each limit, rounded up to a step; common practice, no source.
///
/// ```
/// use preen_domain::formulas::class::ClassLimits;
/// use preen_domain::formulas::joiner::rock::{CLEARANCE_LIMITS_MM, LooseSockets, READ_TO_MM, RockGeometry, field_limits};
/// let tip = RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose: LooseSockets::One };
/// assert_eq!(field_limits(&tip, &CLEARANCE_LIMITS_MM, READ_TO_MM), Ok(ClassLimits::new(2.3, 3.8, 6.6)));
/// ```
pub fn field_limits(
    joint: &RockGeometry,
    bench: &ClassLimits,
    step_mm: f64,
) -> Result<ClassLimits, OutOfRange> {
    within("step_mm", step_mm, 0.001, 10.0)?;
    let steps_per_mm = 1.0 / step_mm;
    let field = |limit: Option<f64>| {
        limit
            .map(|limit| {
                let steps = (rock_mm(limit, joint)? * steps_per_mm * (1.0 - 1e-12)).ceil();
                // Dividing by steps for each mm gives 2.3 where multiplying by 0.1 gives 2.3000000000000003.
                Ok(steps / steps_per_mm)
            })
            .transpose()
    };
    Ok(ClassLimits {
        watch: field(bench.watch)?,
        restrict: field(bench.restrict)?,
        ground: field(bench.ground)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TIP: RockGeometry =
        RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose: LooseSockets::One };

    #[test]
    fn a_limit_that_is_not_held_stays_away() {
        let bench = ClassLimits { watch: None, restrict: Some(0.2), ground: None };
        let field = field_limits(&TIP, &bench, 0.1).expect("computable");
        assert_eq!(field, ClassLimits { watch: None, restrict: Some(3.8), ground: None });
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        assert_eq!(rock_mm(-0.1, &TIP).map_err(|why| why.input), Err("clearance_mm"));
        assert_eq!(clearance_mm(f64::NAN, &TIP).map_err(|why| why.input), Err("rock_mm"));
        let short = RockGeometry { engagement_mm: 0.0, ..TIP };
        assert_eq!(rock_mm(0.1, &short).map_err(|why| why.input), Err("engagement_mm"));
        assert_eq!(field_limits(&TIP, &CLEARANCE_LIMITS_MM, 0.0).map_err(|why| why.input), Err("step_mm"));
    }
}
