//! Bench calculators over HTTP: worked examples to their printed figures, and the field at fault by its pointer.

use preen_tests::on_both;
use preen_tests::world::new_id;
use serde_json::{Value, json};

#[track_caller]
fn is_near(value: &Value, expected: f64, within: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - expected).abs() <= within, "{value} is not {expected} ± {within}");
}

/// The worked example: slugs of 50, 30 and 15.2 g for cells at 62, 98 and 134 mm, 20.5 g/dm² on 70.89 dm².
fn worked_ballast() -> Value {
    json!({
        "base": {"mass_g": 1202.5, "x_mm": 96.5156}, "target_loading_g_dm2": 20.5, "area_dm2": 70.89,
        "slugs": [{"slug": "S50", "mass_g": 50, "count": 6}, {"slug": "S30", "mass_g": 30, "count": 4},
            {"slug": "S15", "mass_g": 15.2, "count": 4}],
        "cells": [{"cell": "front", "x_mm": 62, "capacity": 3}, {"cell": "middle", "x_mm": 98, "capacity": 3},
            {"cell": "rear", "x_mm": 134, "capacity": 3}]
    })
}

on_both!(ballast_is_chosen_on_the_bench, |world| {
    let answer = world.av.post("/compute/ballast", &worked_ballast()).expect(200).json();
    assert_eq!(answer["best"]["text"], "5 × S50 as 2/1/2");
    is_near(&answer["best"]["x_change_mm"], 0.26, 0.005);
    is_near(&answer["nearest_mass"]["added_g"], 250.8, 1e-9);
    is_near(&answer["nearest_mass"]["x_change_mm"], 0.018, 0.0005);
    is_near(&answer["filled_from_front"]["x_change_mm"], -3.46, 0.005);
    is_near(&answer["filled_from_rear"]["x_change_mm"], 3.97, 0.005);
    assert_eq!(answer["search"]["within_mass_tolerance"], 468);
    assert_eq!(answer["search"]["within_all_tolerances"], 115);
    let mut heavy = worked_ballast();
    heavy["base"]["mass_g"] = json!(1500);
    assert_eq!(world.av.post("/compute/ballast", &heavy).expect(422).wrong_field().0, "/base");
    let mut unknown = worked_ballast();
    unknown["cells"][0]["size"] = json!(3);
    assert_eq!(world.av.post("/compute/ballast", &unknown).expect(422).wrong_field().0, "/cells/0/size");
});

on_both!(ballast_of_a_model_takes_slugs_and_cells_from_the_record, |world| {
    world.small_fleet();
    world.add(
        "weighings",
        json!({"model": "SG-01", "occurred_at": "2026-05-01T08:00:00Z", "mass_g": 1202.5, "x_mm": 96.5, "u_x_mm": 0.4}),
    );
    let path = "/models/SG-01/ballast?target_mass_g=1302.5";
    let none = world.av.get(path);
    none.problem(400, "bad_parameter");
    assert!(none.text.contains("no ballast slugs"), "{}", none.text);
    world.add("slugs", json!({"tag": "S50", "mass_g": 50.0, "count": 4, "purpose": "ballast"}));
    world.add("slugs", json!({"tag": "N1", "mass_g": 1.0, "count": 9, "purpose": "nose_weight"}));
    let no_cells = world.av.get(path).expect(400);
    assert!(no_cells.text.contains("names no cells"), "{}", no_cells.text);
    let answer = world.av.get(&format!("{path}&cells=86.5:2,106.5:2")).expect(200).json();
    assert_eq!(answer["best"]["text"], "2 × S50 as 1/1");
    assert_eq!(answer["slugs"], json!([{"slug": "S50", "mass_g": 50.0, "count": 4}]));
    for wrong in ["cells=62", "cells=62:3:1:1", "cells=62:x", "area=tail", "target_x_mm=aft", "cell=62:3"] {
        world.av.get(&format!("{path}&{wrong}")).problem(400, "bad_parameter");
    }
    let both = "/models/SG-01/ballast?target_mass_g=1302.5&target_loading_g_dm2=20&cells=96.5:2";
    world.av.get(both).problem(400, "bad_parameter");
});

on_both!(cells_of_a_design_are_kept_and_checked, |world| {
    let mut design = preen_tests::world::design("TUBE");
    design["id"] = json!(new_id());
    design["ballast_cells"] = json!([{"cell": "front", "x_mm": 62.0, "y_mm": 0.0, "capacity": 3},
        {"cell": "rear", "x_mm": 134.0, "y_mm": 0.0, "capacity": 3}]);
    world.av.post("/designs", &design).expect(201);
    let kept = world.av.get("/designs/TUBE").expect(200).json();
    assert_eq!(kept["ballast_cells"], design["ballast_cells"]);
    let refuse = |cells: Value, pointer: &str, code: &str| {
        let mut wrong = preen_tests::world::design("TUBE-2");
        wrong["id"] = json!(new_id());
        wrong["ballast_cells"] = cells;
        let (at, said, _) = world.av.post("/designs", &wrong).expect(422).wrong_field();
        assert_eq!((at.as_str(), said.as_str()), (pointer, code));
    };
    let cell = |name: &str, capacity: u32| json!({"cell": name, "x_mm": 62.0, "capacity": capacity});
    refuse(json!([cell("a", 1), cell("a", 1)]), "/ballast_cells/1/cell", "cell_twice");
    refuse(json!([cell("a", 0)]), "/ballast_cells/0/capacity", "out_of_range");
    let paired = json!({"cell": "a", "x_mm": 62.0, "capacity": 1, "pair": "left"});
    refuse(json!([paired]), "/ballast_cells/0/pair", "not_a_pair");
});

on_both!(a_wing_and_an_interval_are_computed_on_the_bench, |world| {
    let station = |y_mm: f64, x_le_mm: f64, chord_mm: f64, dihedral_deg: f64| json!({"y_mm": y_mm, "x_le_mm": x_le_mm, "chord_mm": chord_mm, "dihedral_deg": dihedral_deg});
    let stations = [
        station(0.0, 0.0, 232.0, 1.5),
        station(960.0, 9.0, 206.0, 5.5),
        station(1450.0, 34.0, 152.0, 9.0),
        station(1800.0, 66.0, 104.0, 9.0),
        station(1950.0, 104.0, 52.0, 0.0),
    ];
    let question = json!({"stations": stations, "tail": {"area_dm2": 5.9, "span_mm": 560, "centre_x_mm": 1072},
        "mass_g": 1202.5, "cg_x_mm": 96.5156});
    let answer = world.av.post("/compute/planform", &question).expect(200).json();
    is_near(&answer["wing"]["along"]["area_dm2"], 70.89, 0.005);
    is_near(&answer["wing"]["projected"]["span_mm"], 3883.0, 0.5);
    is_near(&answer["areas"][2]["area_dm2"], 76.56, 0.005);
    is_near(&answer["areas"][2]["loading_g_dm2"], 15.71, 0.005);
    is_near(&answer["stability"]["tail_volume"], 0.433, 0.0005);
    is_near(&answer["stability"]["static_margin_percent_mac"], 9.5, 0.05);
    assert!(answer["stability"]["label"].as_str().unwrap().contains("± 3 % MAC"));
    let one = json!({"stations": [stations[0]]});
    assert_eq!(world.av.post("/compute/planform", &one).expect(422).wrong_field().0, "/stations");

    let question = json!({"today_on": "2026-05-21",
        "count": {"every_count": 25, "done_at_count": 302, "now_at_count": 319},
        "counted": {"events": 38, "days": 56}});
    let answer = world.av.post("/compute/interval", &question).expect(200).json();
    let forecast = &answer["forecast"];
    assert_eq!(forecast["on"], "2026-06-01");
    assert_eq!(
        (&forecast["earliest_on"], &forecast["latest_on"]),
        (&json!("2026-05-29"), &json!("2026-06-05"))
    );
    assert_eq!(answer["by_count"]["count_left"], 8);
    let nothing = json!({"today_on": "2026-05-21"});
    assert_eq!(world.av.post("/compute/interval", &nothing).expect(422).wrong_field().0, "/count");
});
