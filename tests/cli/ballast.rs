//! `preen ballast`: on the bench without a service, and for a model of the demo club.

use serde_json::Value;

use crate::demo::Demo;
use crate::preen::Preen;

const WORKED: &str = "ballast --base 1202.5:96.5156 --loading 20.5 --area-dm2 70.89 --slug 50:6=S50 --slug 30:4=S30 \
                      --slug 15.2:4=S15 --cell 62:3 --cell 98:3 --cell 134:3";

/// Nothing listens there.
fn alone() -> Preen {
    Preen::at("http://127.0.0.1:1", "t")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn ballast_to_a_loading() {
    let answer = alone().json(WORKED);
    assert_eq!(answer["best"]["text"], "5 × S50 as 2/1/2");
    assert_eq!(number(&answer["best"]["added_g"]), 250.0);
    assert!((number(&answer["best"]["x_change_mm"]) - 0.26).abs() < 0.005);
    assert!((number(&answer["best"]["loading_g_dm2"]) - 20.49).abs() < 0.005);
    assert_eq!(answer["nearest_mass"]["slugs"], 9);
    assert!((number(&answer["nearest_mass"]["added_g"]) - 250.8).abs() < 1e-9);
    alone().run(WORKED).code(0).is_as_expected("ballast_on_the_bench");
    alone()
        .run(&format!("{WORKED} --csv"))
        .code(0)
        .shows("best,5 × S50 as 2/1/2,5,250.0,96.77,+0.255,20.49,yes");
}

#[test]
fn the_same_question_from_a_file() {
    let question = r#"{"base":{"mass_g":1202.5,"x_mm":96.5156},"target_loading_g_dm2":20.5,"area_dm2":70.89,
        "slugs":[{"slug":"S50","mass_g":50,"count":6},{"slug":"S30","mass_g":30,"count":4},
        {"slug":"S15","mass_g":15.2,"count":4}],
        "cells":[{"x_mm":62,"capacity":3},{"x_mm":98,"capacity":3},{"x_mm":134,"capacity":3}]}"#;
    let from_file = alone().input(question).run("ballast --from - --json").code(0).stdout;
    assert_eq!(from_file, alone().run(&format!("{WORKED} --json")).stdout);
    let slugs = "slug,mass_g,count,fits_design\nS50,50.0,6,SEDGEWING-39\n\"S30, blue\",30.0,4,SEDGEWING-39\n";
    let line =
        "ballast --base 1202.5:96.5156 --mass 1302.5 --slug-file - --cell 62:3 --cell 98:3 --cell 134:3";
    alone().input(slugs).run(line).code(0).shows("2 × S50 as 1/0/1");
    alone().input("slug,mass_g\nS50,50\n").run(line).code(3).talks("the column `count` is missing");
    alone().input("slug,mass_g,count\nS50,50,1.5\n").run(line).code(3).talks("line 2: count `1.5`");
}

#[test]
fn bad_input_names_what_to_mend() {
    let check = |line: &str, talk: &str| {
        alone().run(line).code(3).talks(talk);
    };
    check("ballast", "Name a model");
    check("ballast --base 1202.5:96.5 --cell 62:3 --slug 50:6", "target_mass_g");
    check("ballast --base 1202.5:96.5 --cell 62:3 --slug 50:6 --loading 20", "area_dm2");
    check("ballast --base 1202.5:96.5 --cell 62:3 --slug 50:6 --mass 1100", "102.5 g above");
    check("ballast --base 1202.5:96.5 --cell 62:3 --slug 0:6 --mass 1300", "slugs.0");
    check("ballast --base 1202.5:96.5 --cell 62 --slug 50:6 --mass 1300", "X:CAPACITY");
    check("ballast --base 1202.5:96.5 --cell 62:3 --slug 50 --mass 1300", "MASS:COUNT");
    check("ballast --base 1202.5:96.5 --mass 1300 --loading 20", "cannot be used with");
    check("ballast SG-05 --loading 20 --area fuselage", "wing_and_tail");
    alone().run("ballast SG-05 --loading 20.5").code(5);
}

#[test]
fn ballast_of_a_model_comes_from_its_record() {
    let preen = Demo::shared().preen("FS");
    let answer = preen.json("ballast SG-05 --loading 20.5");
    assert_eq!(answer["model"], "SG-05");
    assert_eq!(answer["best"]["text"], "5 × S50 as 2/1/2");
    assert_eq!(answer["range"]["inside"], true);
    preen.run("ballast SG-05 --loading 20.5").code(0).shows("front: 2 × S50, middle: 1 × S50, rear: 2 × S50");
    preen.run("ballast SG-05 --loading 18 --area projected_wing_and_tail").code(0).shows("76.56 dm²");
    preen.run("ballast SG-05").code(3).talks("target_mass_g");
    preen.run("ballast MP-01 --loading 40").code(3).talks("no ballast slugs that fit MARLPIT-30");
    preen.run("ballast SG-99 --loading 20").code(3);
}
