//! Which slugs of the club's stock go into which cells of a model, for a wanted mass or loading. The choice itself is
//! the bench calculator's; here are the model's balance, the club's slugs and the design's cells.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::balance::{Balanced, CgInRange, Method, balance};
use super::compute::{
    BadQuestion, BallastAnswer, BallastCell, BallastQuestion, BallastSlug, answer, compute_ballast,
};
use crate::finding::Finding;
use crate::{
    facts::Design,
    fleet::Fleet,
    formulas::{
        balance::MassAndCg,
        planform::{AreaDefinition, Areas, PlanformStation, planform, project},
    },
    ids::ModelId,
    text::Text,
    time::Instant,
    words::{Severity, SlugUse},
};

/// What is wanted of a model's ballast. What is left out is taken from the record or from common practice.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BallastWanted {
    /// Wanted mass, g; this or a loading.
    pub target_mass_g: Option<f64>,
    /// Wanted loading, g/dm²; this or a mass.
    pub target_loading_g_dm2: Option<f64>,
    /// Which area counts for the loading.
    pub area: AreaDefinition,
    /// How far the mass may be off, g.
    pub mass_tolerance_g: Option<f64>,
    /// Wanted centre of gravity, mm aft of the datum; where it is without ballast if not given.
    pub target_x_mm: Option<f64>,
    /// How far the centre of gravity may be off, mm.
    pub x_tolerance_mm: Option<f64>,
    /// How far the slugs may pull the centre of gravity to one side, mm.
    pub y_tolerance_mm: Option<f64>,
    /// Other cells than the design's.
    pub cells: Option<Vec<BallastCell>>,
}

/// Ballast for a model as it is fitted at a moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelBallast {
    /// Tag of the model.
    pub model: String,
    /// How its mass and centre of gravity without ballast were arrived at.
    pub balance_method: Method,
    /// Mass and centre of gravity without ballast.
    pub base: MassAndCg,
    /// Standard uncertainty of that centre of gravity by the weighing, mm; null from the list.
    pub u_x_mm: Option<f64>,
    /// Configuration of the weighing: ballast that was in it then is not taken out here.
    pub configuration: Option<Text>,
    /// Which area counts.
    pub area: AreaDefinition,
    /// That area, dm².
    pub area_dm2: f64,
    /// Slugs in stock that fit the design.
    pub slugs: Vec<BallastSlug>,
    /// The allowed range, and whether the best loading lies inside; null when nothing is within tolerance.
    pub range: Option<CgInRange>,
    /// What to load, and what that comes to.
    #[serde(flatten)]
    pub ballast: BallastAnswer,
    /// What the reader should know.
    pub findings: Vec<Finding>,
}

/// Why there is no ballast to choose for a model.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoBallast {
    /// The model has no balance.
    #[error("there is no mass and centre of gravity of this model")]
    NoBalance,
    /// No slugs are on record.
    #[error("no ballast slugs that fit {design} are in stock; record them among the slugs")]
    NoSlugs {
        /// Tag of the design.
        design: String,
    },
    /// No cells are on record, and none came with the question.
    #[error(
        "the design {design} names no cells for ballast; give them with the question or add them to the design"
    )]
    NoCells {
        /// Tag of the design.
        design: String,
    },
    /// The projected area is asked for and not known.
    #[error(
        "the design {design} has no stations with dihedral, so its projected area is not known; ask by another area"
    )]
    NoProjectedArea {
        /// Tag of the design.
        design: String,
    },
    /// The question cannot be answered.
    #[error(transparent)]
    Bad(#[from] BadQuestion),
}

/// Chooses ballast for a model: its balance at a moment (see [`balance`]), the club's ballast slugs that fit its
/// design, the design's cells.
///
/// # Errors
/// A model without balance, no slugs, no cells, an area that is not known, and whatever the calculator refuses.
pub fn ballast(
    fleet: &Fleet,
    model: ModelId,
    wanted: &BallastWanted,
    as_of: Instant,
) -> Result<ModelBallast, NoBallast> {
    let design = fleet.design_of(model).ok_or(NoBallast::NoBalance)?;
    let balanced = balance(fleet, model, as_of).ok_or(NoBallast::NoBalance)?;
    let tag = || design.tag.to_string();
    let slugs = slugs_for(fleet, design);
    if slugs.is_empty() {
        return Err(NoBallast::NoSlugs { design: tag() });
    }
    let cells = wanted.cells.clone().unwrap_or_else(|| cells_of(design));
    if cells.is_empty() {
        return Err(NoBallast::NoCells { design: tag() });
    }
    let area_dm2 = areas_of(design)
        .counted_by(wanted.area)
        .ok_or_else(|| NoBallast::NoProjectedArea { design: tag() })?;
    let base =
        MassAndCg { mass_g: balanced.mass_g, x_mm: balanced.x_mm, y_mm: balanced.y_mm, z_mm: balanced.z_mm };
    let question = BallastQuestion {
        base,
        slugs,
        cells,
        target_mass_g: wanted.target_mass_g,
        target_loading_g_dm2: wanted.target_loading_g_dm2,
        area_dm2: Some(area_dm2),
        mass_tolerance_g: wanted.mass_tolerance_g,
        target_x_mm: wanted.target_x_mm,
        x_tolerance_mm: wanted.x_tolerance_mm,
        y_tolerance_mm: wanted.y_tolerance_mm,
    };
    let ballast = answer(&question, compute_ballast)?;
    let range = ballast.best.as_ref().map(|best| CgInRange::of(design, best.x_mm));
    Ok(ModelBallast {
        findings: findings(&balanced, &ballast, range),
        model: balanced.model,
        balance_method: balanced.method,
        base,
        u_x_mm: balanced.u_x_mm,
        configuration: balanced.configuration,
        area: wanted.area,
        area_dm2,
        slugs: question.slugs,
        range,
        ballast,
    })
}

/// Ballast slugs that fit a design, heaviest first.
pub(super) fn slugs_for(fleet: &Fleet, design: &Design) -> Vec<BallastSlug> {
    let mut slugs: Vec<BallastSlug> = fleet
        .slugs()
        .map(|(_, recorded)| &recorded.fact)
        .filter(|slug| slug.purpose == SlugUse::Ballast && slug.count > 0)
        .filter(|slug| slug.design.is_none_or(|fits| fits == design.id))
        .map(|slug| BallastSlug { slug: slug.tag.to_string(), mass_g: slug.mass_g, count: slug.count })
        .collect();
    slugs.sort_by(|one, other| other.mass_g.total_cmp(&one.mass_g).then_with(|| one.slug.cmp(&other.slug)));
    slugs
}

pub(super) fn cells_of(design: &Design) -> Vec<BallastCell> {
    let cells = design.ballast_cells.iter().map(|cell| BallastCell {
        cell: cell.cell.to_string(),
        x_mm: cell.x_mm,
        y_mm: cell.y_mm,
        capacity: cell.capacity,
        pair: cell.pair.as_ref().map(ToString::to_string),
    });
    cells.collect()
}

/// The areas that a design states, and the projected one where its stations tell it.
pub(super) fn areas_of(design: &Design) -> Areas {
    let stations: Vec<PlanformStation> = design
        .stations
        .iter()
        .map(|at| PlanformStation { y_mm: at.y_mm, x_le_mm: at.leading_edge_x_mm, chord_mm: at.chord_mm })
        .collect();
    let panels = design.stations.len().saturating_sub(1);
    let dihedral_deg: Vec<f64> = design.stations.iter().take(panels).map(|at| at.dihedral_deg).collect();
    let seen = project(&stations, &dihedral_deg).and_then(|seen| planform(&seen));
    Areas {
        wing_dm2: design.wing_area_dm2,
        projected_wing_dm2: seen.ok().map(|wing| wing.area_dm2),
        tail_dm2: design.tail_area_dm2,
        projected_tail_dm2: design.tail_area_dm2,
    }
}

fn findings(balanced: &Balanced, ballast: &BallastAnswer, range: Option<CgInRange>) -> Vec<Finding> {
    let mut list = balanced.findings.clone();
    if let Some(range) = range.filter(|range| !range.inside) {
        let at_mm = ballast.best.as_ref().map_or(balanced.x_mm, |best| best.x_mm);
        list.push(Finding::new(
            "cg_outside_range",
            Severity::Restrict,
            &balanced.model,
            format!(
                "with this ballast the CG is computed at {at_mm:.1} mm, allowed {} to {} mm",
                range.min_mm, range.max_mm
            ),
            "ask for another CG with the ballast, or move weight first",
        ));
    }
    if ballast.best.is_none() {
        list.push(Finding::new(
            "no_ballast_fits",
            Severity::Watch,
            &balanced.model,
            "no loading of the slugs in stock comes within tolerance of the wanted mass and CG",
            "widen a tolerance, want another mass, or add slugs to the stock",
        ));
    }
    list
}
