//! What is answered about a joiner. How it is computed lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::joiner::abrasive::Abrasive;
use crate::formulas::joiner::bending::JointMoment;
use crate::formulas::joiner::sanding::{SandedFaces, SandingLife};
use crate::formulas::joiner::section::SectionProperties;
use crate::words::Severity;

/// What was asked, computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct JoinerAnswer {
    /// The section as new.
    pub section: Option<SectionProperties>,
    /// Sanding.
    pub sanding: Option<SandingAnswer>,
    /// Bending.
    pub bending: Option<BendingAnswer>,
    /// Clearance and rock.
    pub rock: Option<RockAnswer>,
    /// Paper.
    pub abrasive: Option<Abrasive>,
    /// The worst class of all parts; absent: better than all limits.
    pub class: Option<Severity>,
    /// What to mind while doing it.
    pub cautions: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// What sanding leaves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SandingAnswer {
    /// The section after all sanding.
    pub after: SectionProperties,
    /// What went from each face since new, mm.
    pub whole_life: SandedFaces,
    /// Change of the section modulus against vertical bending since new, per cent.
    pub z_vertical_change_pct: f64,
    /// Change of the section modulus against fore-aft bending since new, per cent.
    pub z_fore_aft_change_pct: f64,
    /// Change of the section modulus against vertical bending by what goes now alone, per cent.
    pub z_vertical_change_now_pct: f64,
    /// Height lost since new, mm.
    pub height_lost_mm: f64,
    /// Class of the height lost: restrict beyond 0.20 mm; absent otherwise.
    pub class: Option<Severity>,
    /// Whether an inspector is needed for it.
    pub life: SandingLife,
}

/// What bends a joint, and the stress.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BendingAnswer {
    /// How the moment came about; absent where it was given.
    pub joint: Option<JointMoment>,
    /// The moment, N m.
    pub moment_nm: f64,
    /// Stress in the outer fibre of the section as new, MPa; absent without a section.
    pub stress_mpa: Option<f64>,
    /// The same after all sanding; absent without sanding.
    pub stress_sanded_mpa: Option<f64>,
}

/// Clearance and rock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RockAnswer {
    /// Clearance in each loose socket, mm; absent where nothing was read.
    pub clearance_mm: Option<f64>,
    /// Standard uncertainty (1u) of that, mm, from the one given.
    pub u_clearance_mm: Option<f64>,
    /// Total rock of the tip, mm; absent where nothing was read.
    pub rock_mm: Option<f64>,
    /// Standard uncertainty (1u) of that, mm.
    pub u_rock_mm: Option<f64>,
    /// Class; absent: better than all limits, or nothing read.
    pub class: Option<Severity>,
    /// Limits on the bench: of the clearance, mm.
    pub bench_limits_mm: ClassLimits,
    /// Limits in the field: of the rock, in steps of what the tip is read to, mm. They follow from those on the bench.
    pub field_limits_mm: ClassLimits,
}
