//! Slugs into cells: the worked example, and what a class minimum asks for.

use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::ballast::{
    BallastError, BallastProblem, Cell, End, SlugKind, choose_ballast, fill_from, load, mirrored_cells,
    search, try_every,
};
use preen_domain::formulas::planform::loading_g_dm2;

use crate::close::close;

/// A tube with cells at 62, 98 and 134 mm for three slugs each, and slugs of 50, 30 and 15.2 g.
fn worked() -> BallastProblem {
    let cells = [62.0, 98.0, 134.0].map(|x_mm| Cell { x_mm, y_mm: 0.0, capacity: 3 }).to_vec();
    let kinds = [(50.0, 6), (30.0, 4), (15.2, 4)].map(|(mass_g, count)| SlugKind { mass_g, count }).to_vec();
    BallastProblem {
        base: MassAndCg { mass_g: 1202.5, x_mm: 96.5156, ..MassAndCg::default() },
        kinds,
        pairs: mirrored_cells(&cells),
        cells,
        target_mass_g: 20.5 * 70.89,
        mass_tolerance_g: 8.0,
        target_x_mm: 96.5156,
        x_tolerance_mm: 0.5,
        y_tolerance_mm: 0.5,
    }
}

#[test]
fn ballast_of_the_worked_example() {
    // Worked example, computed independently: 20.5 g/dm² on 70.89 dm².
    let problem = worked();
    close("wanted", problem.target_mass_g, 1453.2, 0.05);
    close("to add", problem.target_mass_g - 1202.5, 250.7, 0.05);
    let found = choose_ballast(&problem).expect("a problem");
    assert_eq!(found.search.within_mass_tolerance, Some(468));
    assert_eq!(found.search.within_all_tolerances, Some(115));

    let best = found.best.expect("something fits");
    assert_eq!(best.slugs_in_cells, [[2, 0, 0], [1, 0, 0], [2, 0, 0]]);
    assert_eq!((best.added_g, best.slugs, best.most_in_a_cell), (250.0, 5, 2));
    assert!(best.is_symmetric());
    close("loading", loading_g_dm2(best.mass_g, 70.89).expect("an area"), 20.49, 0.005);
    close("CG move", best.x_off_mm, 0.26, 0.005);

    let exact = found.nearest_mass.expect("something fits");
    close("exact fit", exact.added_g, 250.8, 1e-9);
    assert_eq!(exact.slugs, 9);
    close("its CG move", exact.x_off_mm, 0.018, 0.0005);
    assert_eq!(found.nearest_outside, None);
}

#[test]
fn loading_a_tube_from_one_end_is_an_error_of_the_cg() {
    // Worked example, computed independently.
    let evenly = load(&worked(), vec![vec![2], vec![1], vec![2]]).expect("a problem");
    close("evenly", evenly.x_off_mm, 0.26, 0.005);
    let check = |end, counts: [u32; 3], expected| {
        let filled = fill_from(end, &worked(), &evenly).expect("a problem");
        assert_eq!(filled.slugs_in_cells, counts.map(|count| vec![count, 0, 0]));
        close("from one end", filled.x_off_mm, expected, 0.005);
    };
    check(End::Front, [3, 2, 0], -3.46);
    check(End::Rear, [0, 2, 3], 3.97);
}

#[test]
fn branch_and_bound_finds_what_trying_every_loading_finds() {
    let problem = worked();
    let (every, searched) =
        (try_every(&problem).expect("small"), search(&problem, 1_000_000).expect("a search"));
    assert!(searched.search.is_proven && searched.search.is_nearest_proven);
    assert_eq!((searched.best, searched.nearest_mass), (every.best, every.nearest_mass));
}

#[test]
fn minimum_loading_of_a_class() {
    // Worked example published by a national association on the F5J minimum of 12 g/dm²: 38.7 dm² and 393 g need
    // 464.4 g, so 71.4 g of ballast. The slugs are our own.
    let area_dm2 = 38.7;
    let target_mass_g = 12.0 * area_dm2;
    close("minimum mass", target_mass_g, 464.4, 0.05);
    close("ballast", target_mass_g - 393.0, 71.4, 0.05);
    let cells = vec![Cell { x_mm: 80.0, y_mm: 0.0, capacity: 6 }];
    let problem = BallastProblem {
        base: MassAndCg { mass_g: 393.0, x_mm: 80.0, ..MassAndCg::default() },
        kinds: vec![SlugKind { mass_g: 18.0, count: 6 }],
        pairs: mirrored_cells(&cells),
        cells,
        target_mass_g,
        mass_tolerance_g: 1.0,
        target_x_mm: 80.0,
        x_tolerance_mm: 1.0,
        y_tolerance_mm: 1.0,
    };
    let best = choose_ballast(&problem).expect("a problem").best.expect("four slugs of 18 g");
    assert_eq!((best.slugs, best.added_g), (4, 72.0));
    assert!(loading_g_dm2(best.mass_g, area_dm2).expect("an area") >= 12.0);
}

#[test]
fn slugs_in_the_wings_go_in_pairs() {
    let at = |x_mm, y_mm| Cell { x_mm, y_mm, capacity: 4 };
    let cells = vec![at(80.0, -300.0), at(80.0, 300.0), at(82.0, -500.0), at(82.0, 500.0)];
    let problem = BallastProblem {
        base: MassAndCg { mass_g: 2100.0, x_mm: 80.0, ..MassAndCg::default() },
        kinds: vec![SlugKind { mass_g: 40.0, count: 9 }],
        pairs: mirrored_cells(&cells),
        cells,
        target_mass_g: 2320.0,
        mass_tolerance_g: 25.0,
        target_x_mm: 80.0,
        x_tolerance_mm: 1.0,
        y_tolerance_mm: 1.0,
    };
    assert_eq!(problem.pairs, [(0, 1), (2, 3)]);
    // Five slugs would come within 20 g, but one side would be heavier: 40 g at 300 mm of 2,300 g is 5.2 mm.
    let best = choose_ballast(&problem).expect("a problem").best.expect("six slugs");
    assert_eq!(best.slugs, 6);
    assert!(best.is_symmetric() && best.y_pull_mm.abs() < 1e-9);
    assert_eq!(best.most_in_a_cell, 2);
}

#[test]
fn what_is_out_of_reach_is_said_with_what_comes_nearest() {
    let problem = BallastProblem { target_mass_g: 2000.0, ..worked() };
    let found = choose_ballast(&problem).expect("a problem");
    assert_eq!((found.best, found.nearest_mass), (None, None));
    // The heaviest that nine places and the stock allow: six of 50 g and three of 30 g.
    let nearest = found.nearest_outside.expect("everything loaded comes nearest");
    assert_eq!((nearest.added_g, nearest.slugs), (390.0, 9));
    let too_heavy = BallastProblem { target_mass_g: 1100.0, ..worked() };
    assert_eq!(choose_ballast(&too_heavy), Err(BallastError::TooHeavyAlready { over_g: 102.5 }));
}

#[test]
fn what_cannot_be_searched_is_refused() {
    let check = |problem, expected| assert_eq!(choose_ballast(&problem), Err(expected));
    let base = |mass_g, x_mm| MassAndCg { mass_g, x_mm, ..MassAndCg::default() };
    check(BallastProblem { base: base(0.0, 96.0), ..worked() }, BallastError::BadBase);
    check(BallastProblem { base: base(1202.5, f64::NAN), ..worked() }, BallastError::BadBase);
    check(BallastProblem { target_mass_g: f64::INFINITY, ..worked() }, BallastError::BadTarget);
    check(BallastProblem { x_tolerance_mm: 0.0, ..worked() }, BallastError::BadTolerance);
    check(BallastProblem { cells: vec![], pairs: vec![], ..worked() }, BallastError::NothingToLoad);
    check(BallastProblem { pairs: vec![(0, 3)], ..worked() }, BallastError::BadPair { pair: 1 });
    let slug = |mass_g, count| vec![SlugKind { mass_g, count }];
    check(BallastProblem { kinds: slug(0.0, 1), ..worked() }, BallastError::BadSlug { kind: 1 });
    check(BallastProblem { kinds: slug(10.0, 101), ..worked() }, BallastError::TooMany);
    let nowhere = vec![Cell { x_mm: f64::INFINITY, y_mm: 0.0, capacity: 1 }];
    check(BallastProblem { cells: nowhere, pairs: vec![], ..worked() }, BallastError::BadCell { cell: 1 });
}
