//! How a loading of slugs is shown: by the names of slugs and cells, and in one line. Nothing is chosen here.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ballast::{BallastCell, BallastSlug};
use crate::formulas::ballast::{BallastProblem, Loading};
use crate::formulas::planform::loading_g_dm2;

/// The names of what is loaded, in the order of the question.
#[derive(Clone, Copy)]
pub(super) struct Names<'a> {
    pub slugs: &'a [BallastSlug],
    pub cells: &'a [BallastCell],
}

/// Slugs in cells, and the mass and CG they bring about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BallastLoading {
    /// In one line: how many of which slugs, and how many lie in each cell, such as `5 × S50 as 2/1/2`.
    pub text: String,
    /// What lies in each cell, in the order asked; empty cells too.
    pub cells: Vec<FilledCell>,
    /// Slugs in all.
    pub slugs: u32,
    /// Mass of the slugs, grams.
    pub added_g: f64,
    /// Mass with them, grams.
    pub mass_g: f64,
    /// Mass less wanted mass, grams.
    pub mass_off_g: f64,
    /// CG with them, mm aft of the datum.
    pub x_mm: f64,
    /// CG less wanted CG, mm, aft positive.
    pub x_off_mm: f64,
    /// CG less CG without ballast, mm, aft positive.
    pub x_change_mm: f64,
    /// How far the slugs pull the CG to the right, mm.
    pub y_pull_mm: f64,
    /// Loading on the area given, g/dm².
    pub loading_g_dm2: Option<f64>,
    /// Whether paired cells hold the same.
    pub is_symmetric: bool,
    /// Slugs in the fullest cell.
    pub most_in_a_cell: u32,
    /// Whether mass and CG are within tolerance.
    pub is_within: bool,
}

/// What lies in one cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FilledCell {
    /// Name of the cell, or its number from 1.
    pub cell: String,
    /// Place, mm aft of the datum.
    pub x_mm: f64,
    /// Place, mm right of the centreline.
    pub y_mm: f64,
    /// Slugs of each kind that lie in it.
    pub slugs: Vec<SlugsOfKind>,
    /// Their mass, grams.
    pub mass_g: f64,
}

/// So many slugs of one kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SlugsOfKind {
    /// What is stamped on them.
    pub slug: String,
    /// How many.
    pub count: u32,
}

impl BallastLoading {
    pub(super) fn of(
        loading: &Loading,
        problem: &BallastProblem,
        names: Names<'_>,
        area_dm2: Option<f64>,
    ) -> Self {
        let cells = names.cells.iter().enumerate().zip(&loading.slugs_in_cells);
        Self {
            text: say_loading(loading, problem, names),
            cells: cells.map(|((index, cell), held)| filled(index, cell, held, names.slugs)).collect(),
            slugs: loading.slugs,
            added_g: loading.added_g,
            mass_g: loading.mass_g,
            mass_off_g: loading.mass_off_g,
            x_mm: loading.x_mm,
            x_off_mm: loading.x_off_mm,
            x_change_mm: loading.x_mm - problem.base.x_mm,
            y_pull_mm: loading.y_pull_mm,
            loading_g_dm2: area_dm2.and_then(|area_dm2| loading_g_dm2(loading.mass_g, area_dm2).ok()),
            is_symmetric: loading.is_symmetric(),
            most_in_a_cell: loading.most_in_a_cell,
            is_within: loading.is_within(),
        }
    }
}

fn filled(index: usize, cell: &BallastCell, held: &[u32], slugs: &[BallastSlug]) -> FilledCell {
    let name = if cell.cell.is_empty() { format!("cell {}", index + 1) } else { cell.cell.clone() };
    let counted = held.iter().zip(slugs).filter(|(count, _)| **count > 0);
    FilledCell {
        cell: name,
        x_mm: cell.x_mm,
        y_mm: cell.y_mm,
        mass_g: counted.clone().map(|(count, slug)| f64::from(*count) * slug.mass_g).sum(),
        slugs: counted.map(|(count, slug)| SlugsOfKind { slug: name_of(slug), count: *count }).collect(),
    }
}

fn name_of(slug: &BallastSlug) -> String {
    if slug.slug.is_empty() { format!("{} g", slug.mass_g) } else { slug.slug.clone() }
}

/// A loading in one line: `2 × S50 + 3 × S30 as 2/1/2`.
pub(super) fn say_loading(loading: &Loading, problem: &BallastProblem, names: Names<'_>) -> String {
    if loading.slugs == 0 {
        return "no slugs".to_owned();
    }
    let of_kind =
        |kind: usize| -> u32 { loading.slugs_in_cells.iter().filter_map(|cell| cell.get(kind)).sum() };
    let kinds = names.slugs.iter().enumerate().map(|(kind, slug)| (of_kind(kind), slug));
    let by_kind: Vec<String> = kinds
        .filter(|(count, _)| *count > 0)
        .map(|(count, slug)| format!("{count} × {}", name_of(slug)))
        .collect();
    let held = loading.slugs_in_cells.iter().take(problem.cells.len());
    let by_cell: Vec<String> = held.map(|cell| cell.iter().sum::<u32>().to_string()).collect();
    format!("{} as {}", by_kind.join(" + "), by_cell.join("/"))
}
