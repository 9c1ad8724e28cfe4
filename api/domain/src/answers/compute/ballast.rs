//! `POST /compute/ballast`: which slugs go into which cells for a wanted mass or loading. The search is in
//! `formulas::ballast`, what loadings look like in an answer in `loading`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use super::loading::{BallastLoading, Names, say_loading};
use crate::formulas::balance::MassAndCg;
use crate::formulas::ballast::{
    BallastError, BallastFound, BallastProblem, CG_TOLERANCE_MM, Cell, End, Loading, MASS_TOLERANCE_G,
    SearchSaid, SlugKind, choose_ballast, fill_from, mirrored_cells,
};
use crate::formulas::planform::loading_g_dm2;

const METHOD: &str = "whole slugs, none beyond stock or cell; ranked: within both tolerances, fewest slugs, \
                      symmetric, fewest in any one cell, smallest move of the CG; stamped masses and places of \
                      cells taken as exact";

/// A balance without ballast, what there is to load, and what it should come to.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BallastQuestion {
    /// Mass and CG without ballast.
    pub base: MassAndCg,
    /// Slugs in stock, by stamped mass.
    pub slugs: Vec<BallastSlug>,
    /// Cells that take slugs.
    pub cells: Vec<BallastCell>,
    /// Wanted mass, grams. Give this or `target_loading_g_dm2`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_mass_g: Option<f64>,
    /// Wanted loading, g/dm², on `area_dm2`. Give this or `target_mass_g`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_loading_g_dm2: Option<f64>,
    /// Area that counts for the loading, dm²; with it every loading found is given in g/dm² too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_dm2: Option<f64>,
    /// How far the mass may be off, grams; 8 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_tolerance_g: Option<f64>,
    /// Wanted CG, mm aft of the datum; where it is without ballast if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_x_mm: Option<f64>,
    /// How far the CG may be off, mm; 0.5 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_tolerance_mm: Option<f64>,
    /// How far the slugs may pull the CG to one side, mm; as `x_tolerance_mm` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub y_tolerance_mm: Option<f64>,
}

/// Slugs of one stamped mass.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BallastSlug {
    /// What is stamped on them, for people.
    #[serde(default)]
    pub slug: String,
    /// Mass of one, grams.
    pub mass_g: f64,
    /// How many there are.
    pub count: u32,
}

/// A place that takes slugs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BallastCell {
    /// Its name, for people.
    #[serde(default)]
    pub cell: String,
    /// Place of the slugs' centre, mm aft of the datum.
    pub x_mm: f64,
    /// Place of the slugs' centre, mm right of the centreline.
    #[serde(default)]
    pub y_mm: f64,
    /// Most slugs it takes.
    pub capacity: u32,
    /// Cells with the same word here are filled alike. Without any such word, cells pair by their places: across the
    /// centreline, and on it the first with the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pair: Option<String>,
}

/// What to load, and what that comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BallastAnswer {
    /// Wanted mass, grams.
    pub target_mass_g: f64,
    /// Ballast that this takes, grams.
    pub to_add_g: f64,
    /// Wanted CG, mm aft of the datum.
    pub target_x_mm: f64,
    /// How far the mass may be off, grams.
    pub mass_tolerance_g: f64,
    /// How far the CG may be off, mm.
    pub x_tolerance_mm: f64,
    /// How far the slugs may pull the CG to one side, mm.
    pub y_tolerance_mm: f64,
    /// The best in practice; null when nothing is within tolerance.
    pub best: Option<BallastLoading>,
    /// Nearest to the wanted mass with the CG within tolerance, whatever slugs it takes.
    pub nearest_mass: Option<BallastLoading>,
    /// Where nothing is within tolerance: what comes nearest, measured by the tolerances.
    pub nearest_outside: Option<BallastLoading>,
    /// The slugs of the best put in from the front, to show the error.
    pub filled_from_front: Option<BallastLoading>,
    /// The slugs of the best put in from the rear, to show the error.
    pub filled_from_rear: Option<BallastLoading>,
    /// How it was searched and what is proven.
    pub search: SearchSaid,
    /// The answer in sentences.
    pub said: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// Answers a ballast question.
///
/// # Errors
/// Neither or both of mass and loading wanted, a loading without an area, a pair of one or three cells, and whatever
/// the formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{BallastQuestion, compute_ballast};
/// let question: BallastQuestion = serde_json::from_value(serde_json::json!({
///     "base": {"mass_g": 1202.5, "x_mm": 96.5156}, "target_loading_g_dm2": 20.5, "area_dm2": 70.89,
///     "slugs": [{"slug": "S50", "mass_g": 50, "count": 6}, {"slug": "S30", "mass_g": 30, "count": 4},
///               {"slug": "S15", "mass_g": 15.2, "count": 4}],
///     "cells": [{"x_mm": 62, "capacity": 3}, {"x_mm": 98, "capacity": 3}, {"x_mm": 134, "capacity": 3}]
/// }))?;
/// let answer = compute_ballast(&question)?;
/// let best = answer.best.ok_or("nothing fits")?;
/// assert_eq!(best.text, "5 × S50 as 2/1/2");
/// assert_eq!(format!("{:.1} g, {:+.2} mm", best.added_g, best.x_change_mm), "250.0 g, +0.26 mm");
/// assert_eq!(answer.nearest_mass.map(|nearest| nearest.slugs), Some(9));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_ballast(question: &BallastQuestion) -> Result<BallastAnswer, BadQuestion> {
    let problem = problem_of(question)?;
    let found = choose_ballast(&problem).map_err(refuse)?;
    let area_dm2 = question.area_dm2;
    let names = Names { slugs: &question.slugs, cells: &question.cells };
    let show = |loading: &Loading| BallastLoading::of(loading, &problem, names, area_dm2);
    let best = found.best.as_ref();
    let from = |end| best.and_then(|best| fill_from(end, &problem, best).ok()).map(|filled| show(&filled));
    let (filled_from_front, filled_from_rear) = (from(End::Front), from(End::Rear));
    Ok(BallastAnswer {
        target_mass_g: problem.target_mass_g,
        to_add_g: problem.target_mass_g - problem.base.mass_g,
        target_x_mm: problem.target_x_mm,
        mass_tolerance_g: problem.mass_tolerance_g,
        x_tolerance_mm: problem.x_tolerance_mm,
        y_tolerance_mm: problem.y_tolerance_mm,
        said: say(&found, &problem, names, [filled_from_front.as_ref(), filled_from_rear.as_ref()]),
        best: best.map(show),
        nearest_mass: found.nearest_mass.as_ref().map(show),
        nearest_outside: found.nearest_outside.as_ref().map(show),
        filled_from_front,
        filled_from_rear,
        search: found.search,
        method: METHOD.to_owned(),
    })
}

fn problem_of(question: &BallastQuestion) -> Result<BallastProblem, BadQuestion> {
    let x_tolerance_mm = question.x_tolerance_mm.unwrap_or(CG_TOLERANCE_MM);
    let tolerances = [
        ("/mass_tolerance_g", question.mass_tolerance_g),
        ("/x_tolerance_mm", question.x_tolerance_mm),
        ("/y_tolerance_mm", question.y_tolerance_mm),
    ];
    let is_wrong = |tolerance: f64| !tolerance.is_finite() || tolerance <= 0.0;
    if let Some((field, _)) = tolerances.iter().find(|(_, tolerance)| tolerance.is_some_and(is_wrong)) {
        return Err(BadQuestion::at(*field, &BallastError::BadTolerance));
    }
    let cells: Vec<Cell> = question
        .cells
        .iter()
        .map(|cell| Cell { x_mm: cell.x_mm, y_mm: cell.y_mm, capacity: cell.capacity })
        .collect();
    if let Some(area_dm2) = question.area_dm2 {
        loading_g_dm2(1.0, area_dm2).map_err(|_not_positive| {
            BadQuestion::at("/area_dm2", "the area must be finite and above zero")
        })?;
    }
    Ok(BallastProblem {
        base: question.base,
        kinds: question.slugs.iter().map(|s| SlugKind { mass_g: s.mass_g, count: s.count }).collect(),
        pairs: pairs(&question.cells)?.unwrap_or_else(|| mirrored_cells(&cells)),
        cells,
        target_mass_g: target_mass(question)?,
        mass_tolerance_g: question.mass_tolerance_g.unwrap_or(MASS_TOLERANCE_G),
        target_x_mm: question.target_x_mm.unwrap_or(question.base.x_mm),
        x_tolerance_mm,
        y_tolerance_mm: question.y_tolerance_mm.unwrap_or(x_tolerance_mm),
    })
}

fn target_mass(question: &BallastQuestion) -> Result<f64, BadQuestion> {
    match (question.target_mass_g, question.target_loading_g_dm2, question.area_dm2) {
        (Some(mass_g), None, _) => Ok(mass_g),
        (None, Some(loading), Some(area_dm2)) => Ok(loading * area_dm2),
        (None, Some(_), None) => {
            Err(BadQuestion::at("/area_dm2", "a wanted loading needs the area that counts for it"))
        }
        (Some(_), Some(_), _) => Err(BadQuestion::at(
            "/target_loading_g_dm2",
            "give either a wanted mass in `target_mass_g` or a wanted loading, not both",
        )),
        (None, None, _) => Err(BadQuestion::at(
            "/target_mass_g",
            "give a wanted mass in `target_mass_g` or a wanted loading in `target_loading_g_dm2`",
        )),
    }
}

/// Pairs by the words of the cells; `None` when no cell has one.
fn pairs(cells: &[BallastCell]) -> Result<Option<Vec<(usize, usize)>>, BadQuestion> {
    let mut pairs = Vec::new();
    let worded = |(index, cell): (usize, &BallastCell)| cell.pair.clone().map(|word| (index, word));
    let words: Vec<(usize, String)> = cells.iter().enumerate().filter_map(worded).collect();
    for (index, word) in &words {
        let partners: Vec<usize> =
            words.iter().filter(|(_, other)| other == word).map(|(partner, _)| *partner).collect();
        match partners.as_slice() {
            [one, other] if one == index => pairs.push((*one, *other)),
            [_, _] => {}
            _ => {
                return Err(BadQuestion::at(
                    format!("/cells/{index}/pair"),
                    &format!("`{word}` must stand at two cells, no more and no fewer"),
                ));
            }
        }
    }
    Ok((!words.is_empty()).then_some(pairs))
}

fn refuse(why: BallastError) -> BadQuestion {
    let pointer = match why {
        BallastError::BadBase | BallastError::TooHeavyAlready { .. } => "/base",
        BallastError::BadTarget => "/target_mass_g",
        BallastError::BadTolerance => "/mass_tolerance_g",
        BallastError::NothingToLoad | BallastError::TooMany | BallastError::BadPair { .. } => "/cells",
        BallastError::BadSlug { kind } => return BadQuestion::at_row("/slugs", kind, &why),
        BallastError::BadCell { cell } => return BadQuestion::at_row("/cells", cell, &why),
    };
    BadQuestion::at(pointer, &why)
}

fn say(
    found: &BallastFound,
    problem: &BallastProblem,
    names: Names<'_>,
    from_one_end: [Option<&BallastLoading>; 2],
) -> Vec<String> {
    let mut said = Vec::new();
    let wanted_g = problem.target_mass_g - problem.base.mass_g;
    let brings = |loading: &Loading| {
        let text = say_loading(loading, problem, names);
        format!("{text}: {:.1} g, CG {:+.3} mm off", loading.added_g, loading.x_off_mm)
    };
    match (&found.best, &found.nearest_mass, &found.nearest_outside) {
        (Some(best), nearest, _) => {
            said.push(format!("Load {}.", brings(best)));
            if let Some(nearest) = nearest.as_ref().filter(|nearest| *nearest != best) {
                let more = i64::from(nearest.slugs) - i64::from(best.slugs);
                let price = match more {
                    1.. => format!(" takes {more} more slugs"),
                    _ => " takes no more slugs".to_owned(),
                };
                said.push(format!("The nearest to {wanted_g:.1} g{price}: {}.", brings(nearest)));
            }
        }
        (None, _, outside) => {
            said.push(format!("Nothing within tolerance adds {wanted_g:.1} g and keeps the CG."));
            said.extend(outside.as_ref().map(|outside| format!("The nearest: {}.", brings(outside))));
        }
    }
    for (end, filled) in ["front", "rear"].into_iter().zip(from_one_end) {
        if let Some(filled) = filled.filter(|filled| !filled.is_within) {
            said.push(format!(
                "Filled from the {end} the same slugs move the CG by {:+.2} mm: an error of the CG.",
                filled.x_change_mm
            ));
        }
    }
    if !found.search.is_proven {
        said.push(format!(
            "The search was cut short: a loading with {} slugs or more might still be better.",
            found.search.fewest_slugs_at_least
        ));
    }
    said
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::super::loading::SlugsOfKind;
    use super::*;

    fn ask(more: &Value) -> Result<BallastAnswer, BadQuestion> {
        let mut question = json!({"base": {"mass_g": 1202.5, "x_mm": 96.5156}, "target_mass_g": 1302.5,
            "slugs": [{"mass_g": 50, "count": 6}],
            "cells": [{"x_mm": 62, "capacity": 3}, {"x_mm": 98, "capacity": 3}, {"x_mm": 134, "capacity": 3}]});
        let fields = question.as_object_mut().expect("an object");
        fields.extend(more.as_object().expect("an object").clone());
        compute_ballast(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |more: Value, pointer: &str| {
            assert_eq!(ask(&more).map_err(|bad| bad.pointer), Err(pointer.to_owned()), "{more}");
        };
        check(json!({"target_mass_g": null}), "/target_mass_g");
        check(json!({"target_loading_g_dm2": 20.5, "area_dm2": 70}), "/target_loading_g_dm2");
        check(json!({"target_mass_g": null, "target_loading_g_dm2": 20.5}), "/area_dm2");
        check(json!({"area_dm2": 0}), "/area_dm2");
        check(json!({"target_mass_g": -5}), "/target_mass_g");
        check(json!({"target_mass_g": 900}), "/base");
        check(json!({"base": {"mass_g": 0, "x_mm": 0}}), "/base");
        check(json!({"x_tolerance_mm": 0}), "/x_tolerance_mm");
        check(json!({"slugs": [{"mass_g": 50, "count": 1}, {"mass_g": 0, "count": 1}]}), "/slugs/1");
        check(json!({"slugs": []}), "/cells");
        let paired = |words: [&str; 3]| -> Vec<Value> {
            words.iter().map(|word| json!({"x_mm": 98, "capacity": 1, "pair": word})).collect()
        };
        check(json!({"cells": paired(["a", "a", "b"])}), "/cells/2/pair");
        check(json!({"cells": paired(["a", "a", "a"])}), "/cells/0/pair");
    }

    #[test]
    fn cells_pair_by_their_words() {
        let cell = |x_mm: f64, pair: &str| json!({"x_mm": x_mm, "capacity": 3, "pair": pair});
        let cells = [cell(62.0, "out"), cell(134.0, "in"), cell(134.0, "out"), cell(62.0, "in")];
        let best = ask(&json!({"cells": cells, "x_tolerance_mm": 5})).expect("answered").best.expect("fits");
        assert_eq!((best.text.as_str(), best.is_symmetric), ("2 × 50 g as 1/0/1/0", true));
        assert_eq!(best.cells[0].slugs, [SlugsOfKind { slug: "50 g".to_owned(), count: 1 }]);
    }

    #[test]
    fn sentences_name_the_price_of_the_exact_fit_and_the_error_of_one_end() {
        let slugs =
            json!([{"slug": "S50", "mass_g": 50, "count": 6}, {"slug": "S15", "mass_g": 15.2, "count": 4}]);
        let answer = ask(&json!({"slugs": slugs, "target_mass_g": 1462.9})).expect("answered");
        let said = answer.said.join(" ");
        assert!(said.contains("Load 5 × S50 + 1 × S15"), "{said}");
        assert!(answer.filled_from_front.is_some_and(|filled| !filled.is_within));
        assert!(said.contains("Filled from the front"), "{said}");
        let nothing = ask(&json!({"target_mass_g": 1327.5})).expect("answered");
        assert!(nothing.best.is_none() && nothing.nearest_outside.is_some());
        assert!(nothing.said[0].starts_with("Nothing within tolerance adds 125.0 g"), "{:?}", nothing.said);
    }
}
