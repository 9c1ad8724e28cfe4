//! Wires, joiners and packs at the command line: computed without a service, from flags and from files.

use serde_json::{Value, json};

use crate::preen::Preen;

/// Nothing listens there: the bench needs no service.
fn alone() -> Preen {
    Preen::at("http://127.0.0.1:1", "t")
}

#[track_caller]
fn near(answer: &Value, pointer: &str, expected: f64, within: f64) {
    let value = answer.pointer(pointer).and_then(Value::as_f64);
    let value = value.unwrap_or_else(|| panic!("no number at {pointer} in {answer}"));
    assert!((value - expected).abs() <= within, "{pointer}: {value} is not {expected} ± {within}");
}

const PACK: &str = "pack --cells 6.1,6.3,8.9 --temperature 14 --new 4.9,5.0,5.0 --current 32 --open 3.75 --measured 742 \
                    --rated 900 --run 30 --avionics 70";

#[test]
fn a_pack_measured_cold_has_one_weakening_cell() {
    let answer = alone().json(PACK);
    for (cell, at_25) in [4.91, 5.07, 7.17].into_iter().enumerate() {
        near(&answer, &format!("/resistance/cells/{cell}/at_25_mohm"), at_25, 0.005);
    }
    near(&answer, "/resistance/cells/2/ratio_to_new", 1.43, 0.005);
    near(&answer, "/capacity/left/of_rated_pct", 82.4, 0.05);
    assert_eq!((&answer["launch"]["charge"]["launches"], &answer["class"]), (&json!(1), &json!("watch")));
    // A watch is no restriction: exit code 0.
    alone().run(PACK).code(0).is_as_expected("pack_measured_cold");
    // A cell that fell behind in a month is.
    let worse = alone().run(&format!("{PACK} --drops 6,6,31")).code(1);
    worse.shows("6 / 6 / 31 mV, cell 3 +25 mV beyond the median: ▲ restrict");
    alone().run("pack --measured 600 --rated 900").code(2).shows("66.7 % of rated: ■ ground");
}

#[test]
fn a_pack_that_is_to_travel() {
    alone()
        .run("pack --carry 6 --rated 5000 --charge 50")
        .code(0)
        .shows("111.00 Wh")
        .shows("111.00, ABOVE 100 Wh; edition 2024, unconfirmed: confirm before travel")
        .shows("Caution: Lithium packs");
}

#[test]
fn a_joiner_sanded_by_a_tenth() {
    let line = "joiner --section box:26:12:2:1.5 --sand 0.1 --mass 1202.5 --half-span 1950 --joint-at 960 \
                --outboard 130.5:1392 --load-factor 10 --engagement 105 --panel 990 --rock 3.0";
    let answer = alone().json(line);
    near(&answer, "/sanding/z_vertical_change_pct", -6.1, 0.05);
    near(&answer, "/bending/stress_sanded_mpa", 9.3, 0.05);
    near(&answer, "/rock/clearance_mm", 0.159, 0.0005);
    alone().run(line).code(0).is_as_expected("joiner_sanded_by_a_tenth");
    alone()
        .run("joiner --section rectangle:20:13 --sand 0.06 --sanded-before 0.06")
        .code(1)
        .shows("more than 0.10 mm from a face: an inspector is needed")
        .shows("an inspector decides");
    alone().run("joiner --engagement 105 --panel 990 --rock 6.6").code(2).shows("0.350 mm: ■ ground");
    alone()
        .run("joiner --paper 180")
        .code(0)
        .shows("P180, mean grain 82 µm: too coarse for carbon")
        .shows("dust mask");
}

#[test]
fn a_lead_and_its_supply() {
    let line = "wire --length 1.35 --current 1.8 --awg 26 --pairs 3 --contact 20 --supply 6 --max-drop 0.6 \
                --servos 4:1.8 --servos 2:0.9 --steady 0.15 --peak 5";
    let answer = alone().json(line);
    near(&answer, "/lead/lost/drop_v", 0.867, 0.0005);
    near(&answer, "/supply/load/demand_a", 3.75, 1e-9);
    alone().run(line).code(0).is_as_expected("lead_and_supply");
    alone().run("wire --contacts 6,22,7").code(1).shows("contact 2: 22 mΩ: ▲ restrict");
    alone().run("wire --slack 6 --stock 9 --ways 6").code(0).shows("none left").shows("halves from stock  1");
    alone().run("wire --crimp 28").code(0).shows("9 N or more (from memory, check before relying on it)");
    alone()
        .run("wire --length 15.24 --current 20 --nominal 28 --stranded --structure-return")
        .shows("AWG 8:");
}

#[test]
fn a_whole_question_comes_from_a_file_or_the_input() {
    let question =
        r#"{"rock":{"joint":{"engagement_mm":105,"panel_mm":990,"loose":"both"},"clearance_mm":0.2}}"#;
    let answer: Value =
        serde_json::from_str(&alone().input(question).run("joiner --from - --json").code(1).stdout).unwrap();
    near(&answer, "/rock/rock_mm", 7.54, 0.005);
    let csv =
        alone().input(r#"{"capacity":{"measured_mah":742,"rated_mah":900}}"#).run("pack --from - --csv");
    csv.code(0).shows("field,value").shows("worst,· watch");
    alone().input(r#"{"slack":{"slack_mm":16}}"#).run("wire --from -").code(0).shows("none left");
}

#[test]
fn what_cannot_be_computed_is_named() {
    alone().run("wire").code(3).talks("Nothing is asked about wires");
    alone().run("joiner").code(3).talks("Nothing is asked about a joiner");
    alone().run("pack").code(3).talks("Nothing is asked about a pack");
    alone().run("wire --length 1 --current 1").code(3).talks("The wire of the lead is missing");
    alone().run("wire --length 1 --current 1 --awg 99").code(3).talks("lead.awg: awg must be from -3 to 40");
    alone().run("wire --length 1 --awg 26").code(3).talks("--current");
    alone().run("wire --servos 2x1.8 --peak 5").code(3).talks("`2x1.8` is not COUNT:STALL_A");
    alone().run("joiner --section box:26:12").code(3).talks("box:W:H:CAP:WEB");
    alone().run("joiner --section round:10 --sand 0.1:0:0:0").code(3).talks("sanded evenly");
    alone().run("pack --cells 6,6").code(3).talks("--temperature");
    alone().run("pack --cells 6,-6 --temperature 20").code(3).talks("cells_mohm.1");
    alone().input(r#"{"sag":{"current":3}}"#).run("pack --from -").code(3).talks("nknown field `current`");
    alone().input("{}").run("pack --from -").code(3).talks("nothing is asked");
    alone().run("pack --from - --cells 6").code(3).talks("cannot be used with");
}
