//! `preen weigh` beyond one plain weighing: levelling, repeated weighings, the whole on one scale, and a question from a
//! file. All without a service but the last.

use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::Preen;

const TWO: &str = "weigh --support -60:878.0 --support 520:324.5";

fn alone() -> Preen {
    Preen::at("http://127.0.0.1:1", "t")
}

#[test]
fn the_budget_shows_that_a_better_scale_does_not_help() {
    alone()
        .run(&format!("{TWO} --level-within 1 --cg-height 40"))
        .code(0)
        .shows("96.52 ± 1.64 mm (2u; of 1u the scales 0.19, the places 0.39, the levelling 0.70)")
        .is_as_expected("weighing_budget");
    alone().run(TWO).code(0).shows("levelling is taken as perfect");
    alone().run(&format!("{TWO} --level-within 1")).code(3).talks("--cg-height");
    alone().run(&format!("{TWO} --level-within 95 --cg-height 40")).code(3).talks("levelling");
}

#[test]
fn weighings_taken_together_name_the_odd_one() {
    let line = format!(
        "{TWO} --repeat -60:877.6,520:324.9 --repeat -60:877.8,520:324.7 --repeat -60:872.0,520:330.5 \
         --repeat -60:877.9,520:324.6"
    );
    alone()
        .run(&line)
        .code(0)
        .shows("5, with the same set-up")
        .shows("weighing 4 stands out")
        .shows("it is counted")
        .is_as_expected("weighings_together");
    let kept = &alone().json(&line)["x"];
    let anew = &alone().json(&format!("{line} --anew"))["x"];
    assert_eq!(kept["at_mm"], anew["at_mm"]);
    assert!(kept["u_place_mm"].as_f64() > anew["u_place_mm"].as_f64(), "set up anew, the places average out");
    alone().run(&format!("{TWO} --anew")).code(3).talks("--repeat");
    alone().run(&format!("{TWO} --repeat -60:878")).code(3).talks("repeats.0.supports");
}

#[test]
fn the_whole_on_one_scale_and_four_stands() {
    alone()
        .run(&format!("{TWO} --whole 1201.6:0.1"))
        .code(0)
        .shows("they agree")
        .shows("1201.6 ± 0.2 g (2u)");
    alone().run(&format!("{TWO} --whole 1198:0.1")).code(0).shows("they DISAGREE");
    alone().run(&format!("{TWO} --whole 1198")).code(3).talks("MASS:U");
    alone()
        .run("weigh --support 0:-100:290 --support 0:100:370 --support 400:-100:330 --support 400:100:250")
        .code(0)
        .shows("-40.0 / +40.0 / +40.0 / -40.0 g against equal stands");
}

#[test]
fn a_question_comes_from_a_file() {
    let question = json!({"supports": [{"x_mm": -60, "reading_g": 880.0, "tare_g": 2.0}, {"x_mm": 520, "reading_g": 324.5}],
        "u_scale_g": 0.5, "u_place_mm": 0.5, "levelling": {"u_angle_deg": 1, "cg_height_mm": 40}});
    let answer: Value = alone().input(&question.to_string()).json("weigh --from -");
    assert_eq!(answer["mass"]["mass_g"], 1202.5);
    assert_eq!(answer["budget"][0]["part"], "level");
    alone().input("{}").run("weigh --from -").code(3).talks("Missing field `supports`");
    alone().input("{}").run("weigh --from - --u-scale 1").code(3).talks("cannot be used with");
    alone().run("weigh").code(3).talks("--support");
}

#[test]
fn weighings_taken_together_go_on_record_as_one() {
    let demo = Demo::own();
    let preen = demo.preen("FS");
    let line =
        "weigh --support -60:878.0 --support 520:324.5 --repeat -60:877.8,520:324.7 --record SG-06 --json";
    let said: Value = serde_json::from_str(&preen.run(line).code(0).stdout).unwrap();
    let (computed, recorded) = (&said["computed"], &said["recorded"]);
    assert_eq!(recorded["x_mm"], computed["x"]["at_mm"]);
    assert_eq!(recorded["u_x_mm"], computed["x"]["u_mm"]);
    assert_eq!(recorded["supports"], json!([]), "readings of one weighing do not speak for both");
}
