//! Ballast for the demo's models: the club's slugs, the design's cells, the model's own balance.

use preen_domain::{
    answers::compute::BallastCell,
    answers::{BallastWanted, NoBallast, ballast},
    formulas::planform::AreaDefinition,
};

use preen_tests::demo_fleet::{NOW, at, demo, model};

fn wanted(loading: f64) -> BallastWanted {
    BallastWanted { target_loading_g_dm2: Some(loading), ..BallastWanted::default() }
}

#[test]
fn ballast_of_sg_05_comes_from_the_record() {
    let fleet = demo();
    let found = ballast(&fleet, model(&fleet, "SG-05"), &wanted(20.5), at(NOW)).unwrap();
    let slugs: Vec<(&str, f64, u32)> =
        found.slugs.iter().map(|slug| (slug.slug.as_str(), slug.mass_g, slug.count)).collect();
    assert_eq!(slugs, [("S50", 50.0, 6), ("S30", 30.0, 4), ("S15", 15.2, 4)], "nose weights stay out");
    assert_eq!((found.area, found.area_dm2), (AreaDefinition::Wing, 70.89));
    // By hand: 1202.5 g and 3.7 g of heavier servos and a heavier tip since the weighing; 20.5 × 70.89 = 1453.2 g.
    assert!((found.base.mass_g - 1206.2).abs() < 1e-9);
    assert!((found.ballast.to_add_g - (20.5 * 70.89 - 1206.2)).abs() < 1e-9);
    let best = found.ballast.best.unwrap();
    assert_eq!(best.text, "5 × S50 as 2/1/2");
    let names: Vec<&str> = best.cells.iter().map(|cell| cell.cell.as_str()).collect();
    assert_eq!(names, ["front", "middle", "rear"]);
    // CG 97.914 mm: 250 g with their middle at 98 mm hardly move it.
    assert!((best.x_change_mm - 250.0 * (98.0 - found.base.x_mm) / 1456.2).abs() < 1e-9);
    assert!(found.range.unwrap().inside);
    assert_eq!(found.u_x_mm, Some(0.43));
}

#[test]
fn the_area_of_the_class_needs_more_ballast_for_the_same_loading() {
    let fleet = demo();
    let sg_05 = model(&fleet, "SG-05");
    let class = BallastWanted { area: AreaDefinition::ProjectedWingAndTail, ..wanted(18.0) };
    let found = ballast(&fleet, sg_05, &class, at(NOW)).unwrap();
    // Wing 70.66 dm² as seen from above and tail 5.9 dm².
    assert!((found.area_dm2 - 76.56).abs() < 0.005, "{}", found.area_dm2);
    assert!((found.ballast.target_mass_g - 18.0 * found.area_dm2).abs() < 1e-9);
    let mp_01 = model(&fleet, "MP-01");
    let cells = vec![BallastCell { x_mm: 98.0, capacity: 9, ..BallastCell::default() }];
    let given = BallastWanted { cells: Some(cells), ..class };
    let no_slugs = NoBallast::NoSlugs { design: "MARLPIT-30".to_owned() };
    assert_eq!(ballast(&fleet, mp_01, &given, at(NOW)), Err(no_slugs), "the slugs fit another design");
}

#[test]
fn other_cells_may_come_with_the_question() {
    let fleet = demo();
    let at_60 = BallastCell { cell: "nose".to_owned(), x_mm: 60.0, capacity: 6, ..BallastCell::default() };
    let asked = BallastWanted { cells: Some(vec![at_60]), x_tolerance_mm: Some(20.0), ..wanted(20.5) };
    let found = ballast(&fleet, model(&fleet, "SG-05"), &asked, at(NOW)).unwrap();
    let range = found.range.unwrap();
    let codes: Vec<&str> = found.findings.iter().map(|finding| finding.code.as_str()).collect();
    assert!(
        !range.inside && codes.contains(&"cg_outside_range"),
        "250 g at 60 mm bring the CG in front of 92 mm"
    );
    let tight = BallastWanted { x_tolerance_mm: None, ..asked };
    let found = ballast(&fleet, model(&fleet, "SG-05"), &tight, at(NOW)).unwrap();
    let codes: Vec<&str> = found.findings.iter().map(|finding| finding.code.as_str()).collect();
    assert!(found.ballast.best.is_none() && codes.contains(&"no_ballast_fits"));
}
