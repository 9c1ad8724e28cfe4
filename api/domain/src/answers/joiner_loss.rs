//! What sanding took from a joiner: face by face in one repair and in its life, how much may still go, and what is left
//! of its section modulus, where the section of its part type is known.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    fleet::{Fleet, RepairFile},
    formulas::joiner::{
        sanding::{NEVER_MM, Sanded, SandedFaces, SandingLife, WITHOUT_INSPECTOR_MM, judge_sanding, sand},
        section::Section,
    },
    ids::ComponentId,
    time::Instant,
};

/// What sanding took from one joiner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct JoinerLoss {
    /// Tag of the joiner.
    pub joiner: String,
    /// Face by face: top, bottom, front, rear.
    pub faces: Vec<FaceLoss>,
    /// Whether more needs an inspector, or never goes.
    pub life: SandingLife,
    /// Cross-section when new; null where its part type has none.
    pub section: Option<Section>,
    /// Height left by the sanding of its life, mm; null without a section.
    pub height_mm: Option<f64>,
    /// Change of the section modulus against vertical bending by the sanding of its life, per cent.
    pub z_vertical_change_pct: Option<f64>,
    /// The same against fore-aft bending, per cent.
    pub z_fore_aft_change_pct: Option<f64>,
    /// Why the loss of section is not given, if it is not.
    pub note: Option<String>,
}

/// What went from one face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FaceLoss {
    /// Which face: top, bottom, front or rear.
    pub face: String,
    /// In this repair, mm.
    pub here_mm: f64,
    /// In the joiner's life by now, mm.
    pub life_mm: f64,
    /// What may still go without an inspector, mm.
    pub free_left_mm: f64,
    /// What is left to the depth that never goes, mm.
    pub left_mm: f64,
}

/// Losses of the joiners that one repair sanded by a moment.
pub(crate) fn joiner_losses(fleet: &Fleet, file: &RepairFile, as_of: Instant) -> Vec<JoinerLoss> {
    let parts = file.repair.iter().flat_map(|repair| repair.fact.components.iter().copied());
    parts.filter_map(|joiner| loss(fleet, file, joiner, as_of)).collect()
}

fn loss(fleet: &Fleet, file: &RepairFile, joiner: ComponentId, as_of: Instant) -> Option<JoinerLoss> {
    let mut here: Option<SandedFaces> = None;
    for entry in file.steps.until(as_of) {
        if let Some(work) = &entry.fact.joiner
            && file.part_of_detail(work.component) == Some(joiner)
        {
            here = Some(here.unwrap_or_default().plus(&work.sanded));
        }
    }
    let here = here.filter(|here| here.deepest_mm() > 0.0)?;
    let life = fleet.sanded(joiner, as_of, None);
    let faces = here.faces().into_iter().zip(life.faces()).map(|((face, here_mm), (_, life_mm))| FaceLoss {
        face: face.to_owned(),
        here_mm: rounded(here_mm),
        life_mm: rounded(life_mm),
        free_left_mm: rounded((WITHOUT_INSPECTOR_MM - life_mm).max(0.0)),
        left_mm: rounded((NEVER_MM - life_mm).max(0.0)),
    });
    let section = fleet.part_of(joiner).and_then(|part| part.section);
    let (sanded, note) = match left_of(fleet, joiner, as_of) {
        Some(Ok(sanded)) => (Some(sanded), None),
        Some(Err(why)) => (None, Some(why)),
        None => (None, Some("its part type has no section: the loss of section is not known".to_owned())),
    };
    Some(JoinerLoss {
        joiner: fleet.component_tag(joiner),
        faces: faces.collect(),
        life: judge_sanding(&life),
        section,
        height_mm: sanded.map(|sanded| sanded.after.height_mm),
        z_vertical_change_pct: sanded.map(|sanded| sanded.z_vertical_change_pct),
        z_fore_aft_change_pct: sanded.map(|sanded| sanded.z_fore_aft_change_pct),
        note,
    })
}

/// What the sanding of its life left of a joiner's section; nothing where its part type has none.
pub(crate) fn left_of(fleet: &Fleet, joiner: ComponentId, as_of: Instant) -> Option<Result<Sanded, String>> {
    let section = fleet.part_of(joiner)?.section?;
    Some(sand(&section, &fleet.sanded(joiner, as_of, None)).map_err(|why| why.to_string()))
}

/// Sums of hundredths carry a hair of rounding: to a tenth of a micrometre.
fn rounded(depth_mm: f64) -> f64 {
    (depth_mm * 10_000.0).round() / 10_000.0
}
