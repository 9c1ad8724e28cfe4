//! What may be asked about a joiner. How it is answered lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::joiner::bending::JointLoad;
use crate::formulas::joiner::rock::RockGeometry;
use crate::formulas::joiner::sanding::SandedFaces;
use crate::formulas::joiner::section::Section;

/// What is asked about a joiner; at least one part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinerQuestion {
    /// Its section as new.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<Section>,
    /// Material sanded off; needs a section.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sanding: Option<SandingQuestion>,
    /// What loads the joint; with a section the stress follows. Give this or `moment_nm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load: Option<JointLoad>,
    /// A bending moment that is known, N m; with a section the stress follows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moment_nm: Option<f64>,
    /// Clearance or rock of the tip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rock: Option<RockQuestion>,
    /// Paper that is to go on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub abrasive: Option<AbrasiveQuestion>,
}

/// Material sanded off.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SandingQuestion {
    /// What is to go, or just went.
    pub now: SandedFaces,
    /// What went since new before that.
    #[serde(default)]
    pub earlier: SandedFaces,
}

/// Clearance of a joiner in its socket, or the rock of the tip that shows it: one of the two, or neither for the field
/// limits alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RockQuestion {
    /// Joiner and panel.
    pub joint: RockGeometry,
    /// Clearance, the whole gap, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance_mm: Option<f64>,
    /// Total rock of the tip, lifted to lowered, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rock_mm: Option<f64>,
    /// Standard uncertainty (1u) of what was read, mm.
    #[serde(default)]
    pub u_mm: f64,
    /// What the tip is read to, mm; 0.1 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_to_mm: Option<f64>,
    /// The club's own limits of the clearance, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_mm: Option<ClassLimits>,
}

/// Paper for a carbon joiner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AbrasiveQuestion {
    /// P-grade, as printed on its back.
    pub grade: u32,
    /// Coarsest grade the club permits on carbon; 400 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard_grade: Option<u32>,
}
