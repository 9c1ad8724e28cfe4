//! Every step of ballast: how many slugs of each kind go in at all, and between which places the centre of gravity
//! then lies, however they are spread over the cells.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::ballast::{cells_of, slugs_for},
    judge_mass,
    values::ClassChecked,
};
use crate::{
    facts::{ClassProfile, Design},
    fleet::Fleet,
    formulas::class_limits::LimitVerdict,
};

/// Most steps that are told apart; a stock beyond that is not looked at further.
const MOST_STEPS: usize = 2_000;

/// A step of ballast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BallastStep {
    /// How many of which slugs, such as `5 × S50`.
    pub slugs: String,
    /// Mass of the slugs, g.
    pub added_g: f64,
    /// Mass with them, g.
    pub mass_g: f64,
    /// Loading with them, g/dm².
    pub loading_g_dm2: Option<f64>,
    /// Foremost centre of gravity that can be had with them, mm aft of the datum.
    pub x_from_mm: f64,
    /// Rearmost one.
    pub x_to_mm: f64,
    /// Whether some way to spread them keeps the centre of gravity in the range of the design.
    pub is_cg_inside: bool,
    /// How mass and loading stand against the class.
    pub verdict: LimitVerdict,
    /// Which limits are broken.
    pub broken: Vec<String>,
}

/// Slugs that go in together, with the least and the largest moment of all ways to spread them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Load {
    text: String,
    mass_g: f64,
    moment_from: f64,
    moment_to: f64,
}

/// Every number of slugs of each kind that the cells of a design take, none at all first.
pub(super) fn loads(fleet: &Fleet, design: &Design) -> Vec<Load> {
    let (slugs, cells) = (slugs_for(fleet, design), cells_of(design));
    if slugs.is_empty() || cells.is_empty() {
        return Vec::new();
    }
    let mut reached: BTreeMap<Vec<u32>, (f64, f64)> = BTreeMap::from([(vec![0; slugs.len()], (0.0, 0.0))]);
    for cell in &cells {
        // Slug by slug into this cell: each number of slugs in it is a layer of its own.
        let mut layer = reached.clone();
        for _ in 0..cell.capacity {
            let mut next: BTreeMap<Vec<u32>, (f64, f64)> = BTreeMap::new();
            for (counts, (from, to)) in &layer {
                for (kind, slug) in slugs.iter().enumerate() {
                    let mut more = counts.clone();
                    let Some(count) = more.get_mut(kind).filter(|count| **count < slug.count) else {
                        continue;
                    };
                    *count += 1;
                    let moment = slug.mass_g * cell.x_mm;
                    widen(&mut next, more, from + moment, to + moment);
                }
            }
            if reached.len() > MOST_STEPS {
                break;
            }
            for (counts, (from, to)) in &next {
                widen(&mut reached, counts.clone(), *from, *to);
            }
            layer = next;
        }
    }
    let mut list: Vec<Load> = reached
        .into_iter()
        .map(|(counts, (moment_from, moment_to))| {
            let used = counts.iter().zip(&slugs).filter(|(count, _)| **count > 0);
            let words: Vec<String> = used.map(|(count, slug)| format!("{count} × {}", slug.slug)).collect();
            let mass_g = counts.iter().zip(&slugs).map(|(count, slug)| f64::from(*count) * slug.mass_g).sum();
            let text = if words.is_empty() { "no slugs".to_owned() } else { words.join(" + ") };
            Load { text, mass_g, moment_from, moment_to }
        })
        .collect();
    list.sort_by(|one, other| one.mass_g.total_cmp(&other.mass_g).then_with(|| one.text.cmp(&other.text)));
    list
}

fn widen(map: &mut BTreeMap<Vec<u32>, (f64, f64)>, counts: Vec<u32>, from: f64, to: f64) {
    let known = map.entry(counts).or_insert((from, to));
    known.0 = known.0.min(from);
    known.1 = known.1.max(to);
}

/// A step on a model of a mass and centre of gravity.
pub(super) fn step(
    class: &ClassProfile,
    fitted: &ClassChecked,
    (mass_g, x_mm): (f64, f64),
    load: &Load,
    design: &Design,
) -> BallastStep {
    let all_g = mass_g + load.mass_g;
    let at = |moment: f64| (mass_g * x_mm + moment) / all_g;
    let (x_from_mm, x_to_mm) = (at(load.moment_from), at(load.moment_to));
    let (loading_g_dm2, verdict, broken) = judge_mass(class, fitted.area_dm2, all_g);
    BallastStep {
        slugs: load.text.clone(),
        added_g: load.mass_g,
        mass_g: all_g,
        loading_g_dm2,
        x_from_mm,
        x_to_mm,
        is_cg_inside: x_from_mm <= design.cg_max_mm && x_to_mm >= design.cg_min_mm,
        verdict,
        broken,
    }
}
