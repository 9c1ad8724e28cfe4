//! Rules of repairs that hold a number: how long a joint must taper, when a damage needs one, and what a repair on a
//! moving surface may not do. Who may do and sign a structural repair is recorded elsewhere: an inspector decides.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::range::{OutOfRange, within};

/// What is joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScarfKind {
    /// Plywood skin.
    PlywoodSkin,
    /// Feathered end of a reinforcing plate.
    PlateEnd,
    /// Glass skin of a leading edge.
    LeadingEdge,
    /// Caps of a spar, each side.
    SparCap,
    /// Wall of a boom, the overlap on each side.
    BoomWall,
}

/// The taper of a joint.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ScarfRule {
    /// What is joined.
    pub kind: ScarfKind,
    /// Length for each unit of thickness: the shortest that holds.
    pub length_per_thickness: f64,
    /// Where it comes from.
    pub source: &'static str,
}

/// The tapers known here. Wood practice is not composite practice: rows say which they are.
pub const SCARF_RULES: [ScarfRule; 5] = [
    ScarfRule {
        kind: ScarfKind::PlywoodSkin,
        length_per_thickness: 12.0,
        source: "FAA AC 43.13-1B ch. 1, figs 1-15 and 1-16 (wood)",
    },
    ScarfRule {
        kind: ScarfKind::PlateEnd,
        length_per_thickness: 5.0,
        source: "FAA AC 43.13-1B fig. 1-6 (wood)",
    },
    ScarfRule {
        kind: ScarfKind::LeadingEdge,
        length_per_thickness: 10.0,
        source: "common practice, no source (composite)",
    },
    ScarfRule {
        kind: ScarfKind::SparCap,
        length_per_thickness: 50.0,
        source: "common practice, no source (composite)",
    },
    ScarfRule {
        kind: ScarfKind::BoomWall,
        length_per_thickness: 20.0,
        source: "common practice, no source (composite)",
    },
];

/// A hole in a plywood skin on a curve of more than so many skin thicknesses may take a scarfed patch. Source: FAA AC
/// 43.13-1B ch. 1 (wood).
pub const SCARF_PATCH_ABOVE_THICKNESSES: f64 = 100.0;

/// The rule for a joint.
#[must_use]
pub fn scarf_rule(kind: ScarfKind) -> Option<&'static ScarfRule> {
    SCARF_RULES.iter().find(|rule| rule.kind == kind)
}

/// Shortest length of a scarf, mm: thickness × the rule's slope.
///
/// # Errors
/// A thickness outside 0.01 to 100 mm, a slope outside 1 to 200.
///
/// ```
/// use preen_domain::formulas::scarf::{ScarfKind, scarf_length_mm, scarf_rule};
/// let plywood = scarf_rule(ScarfKind::PlywoodSkin).ok_or("a rule")?;
/// assert_eq!(scarf_length_mm(1.5, plywood.length_per_thickness)?, 18.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn scarf_length_mm(thickness_mm: f64, length_per_thickness: f64) -> Result<f64, OutOfRange> {
    within("thickness_mm", thickness_mm, 0.01, 100.0)?;
    within("length_per_thickness", length_per_thickness, 1.0, 200.0)?;
    Ok(thickness_mm * length_per_thickness)
}

/// Whether a plywood skin is curved gently enough for a scarfed patch: radius above 100 × thickness.
///
/// # Errors
/// A radius outside 1 to 1e6 mm, a thickness outside 0.01 to 100 mm.
///
/// # Source
/// FAA AC 43.13-1B ch. 1 (wood).
///
/// ```
/// use preen_domain::formulas::scarf::takes_scarf_patch;
/// assert_eq!(takes_scarf_patch(150.0, 1.0), Ok(true));
/// assert_eq!(takes_scarf_patch(100.0, 1.0), Ok(false));
/// ```
pub fn takes_scarf_patch(radius_mm: f64, thickness_mm: f64) -> Result<bool, OutOfRange> {
    within("radius_mm", radius_mm, 1.0, 1e6)?;
    within("thickness_mm", thickness_mm, 0.01, 100.0)?;
    Ok(radius_mm > SCARF_PATCH_ABOVE_THICKNESSES * thickness_mm)
}

/// What a repair on a moving surface did to its balance about the hinge line, g mm, tail-heavy positive: mass × place
/// aft of the hinge line. Above zero is against the rule: no weight is added aft of the hinge line; check balance and
/// free play after any such repair.
///
/// # Errors
/// A mass outside ±1000 g, a place outside ±1000 mm.
///
/// # Source
/// FAA AC 43.13-1B para 1-38.
///
/// ```
/// use preen_domain::formulas::scarf::hinge_moment_change_g_mm;
/// assert_eq!(hinge_moment_change_g_mm(0.4, 30.0), Ok(12.0));
/// ```
pub fn hinge_moment_change_g_mm(mass_added_g: f64, aft_of_hinge_mm: f64) -> Result<f64, OutOfRange> {
    within("mass_added_g", mass_added_g, -1000.0, 1000.0)?;
    within("aft_of_hinge_mm", aft_of_hinge_mm, -1000.0, 1000.0)?;
    Ok(mass_added_g * aft_of_hinge_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_joint_has_its_rule_and_what_lies_outside_is_refused_by_name() {
        for rule in SCARF_RULES {
            assert_eq!(scarf_rule(rule.kind).map(|found| found.source), Some(rule.source));
        }
        assert_eq!(scarf_length_mm(0.0, 12.0).map_err(|why| why.input), Err("thickness_mm"));
        assert_eq!(takes_scarf_patch(f64::NAN, 1.0).map_err(|why| why.input), Err("radius_mm"));
        assert_eq!(hinge_moment_change_g_mm(2e3, 1.0).map_err(|why| why.input), Err("mass_added_g"));
    }
}
