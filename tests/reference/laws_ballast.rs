//! Laws of the choice of ballast, tried on random problems: branch and bound agrees with trying every loading, and
//! no answer breaks stock, cells or tolerances.

use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::ballast::{
    BallastFound, BallastProblem, Cell, Loading, SlugKind, choose_ballast, combinations_at_most, load,
    mirrored_cells, search, try_every,
};
use proptest::collection::vec;
use proptest::prelude::*;

/// Places on a grid, so that pairs and equal moments occur.
fn cell(most: u32) -> impl Strategy<Value = Cell> {
    (0i32..8, -2i32..3, 0..=most).prop_map(|(x, y, capacity)| Cell {
        x_mm: 60.0 + 12.0 * f64::from(x),
        y_mm: 150.0 * f64::from(y),
        capacity,
    })
}

fn kind(most: u32) -> impl Strategy<Value = SlugKind> {
    (1u32..40, 0..=most).prop_map(|(steps, count)| SlugKind { mass_g: 2.5 * f64::from(steps), count })
}

fn problem(cells: usize, kinds: usize, most: u32) -> impl Strategy<Value = BallastProblem> {
    let base = (600.0..2500.0, 80.0..110.0).prop_map(|(mass_g, x_mm)| MassAndCg {
        mass_g,
        x_mm,
        ..MassAndCg::default()
    });
    let wanted = (0.0..300.0, 1.0..20.0, 0.2..6.0, 0.2..40.0);
    (base, vec(cell(most), 1..=cells), vec(kind(most + 2), 1..=kinds), wanted).prop_map(
        |(base, cells, kinds, (more_g, mass_tolerance_g, x_tolerance_mm, y_tolerance_mm))| BallastProblem {
            base,
            kinds,
            pairs: mirrored_cells(&cells),
            cells,
            target_mass_g: base.mass_g + more_g,
            mass_tolerance_g,
            target_x_mm: base.x_mm,
            x_tolerance_mm,
            y_tolerance_mm,
        },
    )
}

fn random() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn loadings(found: &BallastFound) -> impl Iterator<Item = &Loading> {
    [&found.best, &found.nearest_mass, &found.nearest_outside].into_iter().flatten()
}

proptest! {
    #![proptest_config(random())]

    #[test]
    fn branch_and_bound_equals_trying_every_loading(problem in problem(4, 3, 3)) {
        prop_assume!(combinations_at_most(&problem) <= 20_000);
        let every = try_every(&problem).expect("small");
        let searched = search(&problem, 10_000_000).expect("a search");
        prop_assert!(searched.search.is_proven);
        prop_assert_eq!(searched.search.is_nearest_proven, every.nearest_mass.is_some());
        prop_assert_eq!(&searched.best, &every.best);
        prop_assert_eq!(&searched.nearest_mass, &every.nearest_mass);
        prop_assert_eq!(&searched.nearest_outside, &every.nearest_outside);
        prop_assert_eq!(searched.search.fewest_slugs_at_least, every.search.fewest_slugs_at_least);
        prop_assert_eq!(every.search.within_all_tolerances == Some(0), every.best.is_none());
    }

    #[test]
    fn no_answer_exceeds_stock_or_cell(problem in problem(7, 5, 6)) {
        let found = search(&problem, 3_000).expect("a search");
        for loading in loadings(&found) {
            for (cell, held) in problem.cells.iter().zip(&loading.slugs_in_cells) {
                prop_assert!(held.iter().sum::<u32>() <= cell.capacity);
            }
            for (index, kind) in problem.kinds.iter().enumerate() {
                prop_assert!(loading.slugs_in_cells.iter().map(|held| held[index]).sum::<u32>() <= kind.count);
            }
            prop_assert_eq!(loading, &load(&problem, loading.slugs_in_cells.clone()).expect("a problem"));
        }
        prop_assert!(found.best.iter().chain(&found.nearest_mass).all(Loading::is_within));
        let is_closed = found.search.gap_slugs == 0;
        prop_assert!(is_closed || !found.search.is_proven);
        if let Some(best) = &found.best {
            prop_assert_eq!(best.slugs - found.search.gap_slugs, found.search.fewest_slugs_at_least);
            let nearest = found.nearest_mass.expect("what is best is within tolerance");
            prop_assert!(nearest.mass_off_g.abs() <= best.mass_off_g.abs() + 1e-6);
        }
    }

    #[test]
    fn a_wider_tolerance_never_needs_more_slugs(problem in problem(3, 3, 3), times in 1.0..3.0) {
        let wide = BallastProblem {
            mass_tolerance_g: problem.mass_tolerance_g * times,
            x_tolerance_mm: problem.x_tolerance_mm * times,
            ..problem.clone()
        };
        let (tight, wide) = (choose_ballast(&problem).expect("a problem"), choose_ballast(&wide).expect("a problem"));
        if let Some(tight) = tight.best {
            prop_assert!(wide.best.is_some_and(|wide| wide.slugs <= tight.slugs));
        }
    }

    #[test]
    fn a_mirrored_problem_has_a_mirrored_answer(problem in problem(4, 2, 2)) {
        let cells: Vec<Cell> = problem.cells.iter().map(|cell| Cell { y_mm: -cell.y_mm, ..*cell }).collect();
        let mirrored = BallastProblem { cells, pairs: problem.pairs.clone(), ..problem.clone() };
        let (one, other) = (choose_ballast(&problem).expect("a problem"), choose_ballast(&mirrored).expect("a problem"));
        prop_assert_eq!(one.best.map(|best| best.slugs_in_cells), other.best.map(|best| best.slugs_in_cells));
    }
}
