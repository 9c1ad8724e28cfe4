//! What members of the demo club ask, as text and as JSON, with the exact facts.

use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::Preen;

fn preen() -> Preen {
    Demo::shared().preen("FS")
}

fn model<'a>(board: &'a Value, tag: &str) -> &'a Value {
    let models = board["models"].as_array().unwrap();
    models.iter().find(|verdict| verdict["model"] == tag).unwrap()
}

#[track_caller]
fn is_near(value: &Value, expected: f64, within: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - expected).abs() <= within, "{value} is not {expected} ± {within}");
}

#[test]
fn which_models_may_fly_on_saturday() {
    let board = preen().json("may-fly --on 2026-05-23");
    let said: Vec<(&str, &str, bool)> = board["models"]
        .as_array()
        .unwrap()
        .iter()
        .map(|verdict| {
            let word = |key: &str| verdict[key].as_str().unwrap();
            (word("model"), word("state"), verdict["may_fly"].as_bool().unwrap())
        })
        .collect();
    assert_eq!(
        said,
        [
            ("MP-01", "grounded", false),
            ("MP-02", "grounded", false),
            ("MP-03", "grounded", false),
            ("SG-01", "fit", true),
            ("SG-02", "incomplete", false),
            ("SG-03", "grounded", false),
            ("SG-04", "grounded", false),
            ("SG-05", "fit", true),
            ("SG-06", "restricted", true),
            ("TS-01", "fit", true),
            ("TS-02", "incomplete", false),
            ("TS-03", "on_loan", false),
        ]
    );
    for verdict in board["models"].as_array().unwrap() {
        let most = &verdict["max_flights"];
        assert_eq!(*most, if verdict["model"] == "SG-01" { json!(4) } else { Value::Null }, "{verdict}");
        let is_no = verdict["may_fly"] == false;
        let is_said =
            verdict["reasons"].as_array().unwrap().iter().any(|reason| reason["severity"] == "ground");
        assert_eq!(is_no, is_said, "every no has a reason, and no yes has one: {verdict}");
    }
    assert_eq!(board["on"], "2026-05-23");
    assert_eq!(board["as_of"], "2026-05-21T08:00:00Z");
    preen().run("may-fly --on 2026-05-23").is_as_expected("board_for_saturday");
}

#[test]
fn the_fleet_as_the_club_counts_it() {
    let counts = [
        ("SG-01", 271, 271, 48.6, 6013, 68),
        ("SG-02", 123, 123, 20.8, 2729, 41),
        ("SG-03", 319, 319, 56.2, 6934, 77),
        ("SG-04", 239, 239, 41.4, 5387, 61),
        ("SG-05", 300, 300, 52.7, 6538, 81),
        ("SG-06", 199, 199, 35.5, 4273, 61),
        ("MP-01", 175, 175, 38.9, 0, 58),
        ("MP-02", 121, 121, 26.5, 0, 43),
        ("MP-03", 98, 98, 21.2, 0, 32),
        ("TS-01", 100, 1211, 36.2, 0, 69),
        ("TS-02", 56, 664, 21.6, 0, 34),
        ("TS-03", 60, 741, 22.8, 0, 37),
    ];
    for (tag, flights, launches, airtime_h, motor_s, riggings) in counts {
        let usage = preen().json(&format!("usage {tag}"));
        assert_eq!((&usage["flights"], &usage["launches"]), (&json!(flights), &json!(launches)), "{tag}");
        assert_eq!((&usage["motor_s"], &usage["riggings"]), (&json!(motor_s), &json!(riggings)), "{tag}");
        is_near(&usage["airtime_h"], airtime_h, 0.05);
        let text = preen().run(&format!("usage {tag}")).code(0).stdout;
        let shown: Vec<&str> =
            text.lines().skip(3).filter_map(|line| line.split_whitespace().last()).collect();
        let expected = [
            flights.to_string(),
            launches.to_string(),
            format!("{airtime_h:.1}"),
            motor_s.to_string(),
            riggings.to_string(),
        ];
        assert_eq!(shown, expected, "{tag}\n{text}");
    }
}

#[test]
fn why_only_four_flights_on_sg_01() {
    let board = preen().json("may-fly SG-01 --on 2026-05-23");
    let verdict = model(&board, "SG-01");
    assert_eq!((&verdict["max_flights"], &verdict["flights_left"]), (&json!(4), &json!(4)));
    assert_eq!(verdict["restrictions"][0]["kind"], "max_flights");
    assert_eq!(verdict["restrictions"][0]["source"], "CA-2026-1");
    let due = preen().json("due --model SG-01 --group N25");
    let item = &due["items"][0];
    assert_eq!((&item["now_at_count"], &item["due_at_count"]), (&json!(271), &json!(275)));
    assert_eq!((&item["count_left"], &item["tolerance_count"]), (&json!(4), &json!(2)));
    preen()
        .run("may-fly SG-01 --on 2026-05-23")
        .code(0)
        .shows("26 of 30 flights flown, 4 left")
        .is_as_expected("sg_01_on_saturday");
}

#[test]
fn why_not_sg_02_and_sg_04() {
    let board = preen().json("may-fly SG-02 --on 2026-05-23");
    let reason = &model(&board, "SG-02")["reasons"][0];
    assert_eq!((&reason["code"], &reason["subject"]), (&json!("position_empty"), &json!("W.R")));
    preen()
        .run("may-fly SG-02 --on 2026-05-23")
        .code(2)
        .shows("position W.R (right tip panel) is empty: PN-R-02 is lent to SG-05, due back 2026-05-31");
    let said = preen().run("may-fly SG-04 --on 2026-05-23").code(2);
    said.is_as_expected("sg_04_on_saturday");
    for text in
        ["hard landing FL02049", "HL not passed since", "N25 over by 3 flights (tolerance 2)", "DE-012"]
    {
        assert!(said.stdout.contains(text), "{text}");
    }
}

#[test]
fn a_defect_follows_its_part_and_an_empty_position_its_model() {
    let sg_05 = preen().run("may-fly SG-05 --on 2026-05-23").code(0).shows("● fit");
    assert!(!sg_05.stdout.contains("DE-005"), "the defect lies on the bench with PN-R-05: {}", sg_05.stdout);
    preen().run("where PN-R-05").code(0).shows("1 part, none in a model.");
    let board = preen().json("may-fly TS-02 --on 2026-05-23");
    let codes: Vec<&str> = model(&board, "TS-02")["reasons"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|r| r["code"].as_str())
        .collect();
    assert!(codes.contains(&"position_empty") && codes.contains(&"check_due"), "{codes:?}");
    preen().run("where PK-SP-04").code(0).shows("new_untested");
    let n25 =
        |on: &str| preen().json(&format!("due --model TS-02 --group N25 --on {on}"))["items"][0].clone();
    assert_eq!((&n25("2026-05-21")["days_over"], &n25("2026-05-21")["state"]), (&json!(4), &json!("due")));
    assert_eq!(n25("2026-05-24")["state"], "due");
    assert_eq!(n25("2026-05-25")["state"], "overdue");
}

#[test]
fn where_batch_b_is() {
    let at_flaps = preen().json("where --batch SV08/B --position-kind 'flap servo'");
    assert_eq!(at_flaps["models"], json!(["MP-01", "SG-01", "SG-03", "SG-04"]));
    assert_eq!(at_flaps["components"].as_array().unwrap().len(), 7);
    preen()
        .run_args(&["where", "--batch", "SV08/B", "--position-kind", "flap servo"].map(ToOwned::to_owned))
        .code(0)
        .shows("7 parts, 7 in 4 models: MP-01, SG-01, SG-03, SG-04.");
    let all = preen().json("where --batch SV08/B");
    let rows = all["components"].as_array().unwrap();
    let row = |tag: &str| rows.iter().find(|row| row["component"] == tag).unwrap();
    assert_eq!((&row("SV08-B014")["model"], &row("SV08-B014")["path"]), (&json!("SG-05"), &json!("W.R/AS")));
    assert_eq!((&row("SV08-B013")["model"], &row("SV08-B013")["path"]), (&json!("SG-02"), &json!("W.L/AS")));
    assert_eq!(row("SV08-B016")["state"], "held");
    assert_eq!((&row("SV08-B015")["lent_to"], &row("SV08-B015")["days_late"]), (&json!("VW"), &json!(4)));
    assert_eq!(row("SV08-B007")["state"], "scrapped");
    for quarantined in ["SV08-B008", "SV08-B009"] {
        assert_eq!(row(quarantined)["location"], "quarantine shelf", "{quarantined}");
    }
    preen().run("where --batch SV08/B").is_as_expected("batch_b");
}

#[test]
fn what_servo_b011_has_behind_it() {
    let usage = preen().json("usage SV08-B011");
    assert_eq!((&usage["flights"], &usage["motor_s"]), (&json!(108), &json!(2401)));
    is_near(&usage["airtime_h"], 18.9, 0.05);
    let spans: Vec<(&Value, &Value)> =
        usage["spans"].as_array().unwrap().iter().map(|span| (&span["model"], &span["flights"])).collect();
    assert_eq!(spans, [(&json!("SG-02"), &json!(60)), (&json!("SG-03"), &json!(48))]);
    preen().run("usage SV08-B011").code(0).is_as_expected("usage_of_b011");
}

#[test]
fn what_was_done_to_the_left_joiner_of_sg_01() {
    let history = preen().json("history JN-SG-01-L");
    assert_eq!((&history["riggings"], &history["riggings_since_repair"]), (&json!(68), &json!(21)));
    let said = preen().run("history JN-SG-01-L").code(0);
    let mut rest = said.stdout.as_str();
    for text in [
        "68 rigging cycles, 21 since the last repair",
        "2025-04-05",
        "sanded 0.04 mm per face",
        "0.04 mm",
        "0.07 mm",
        "0.11 mm",
        "2025-10-18",
        "0.15 mm",
        "DE-001",
        "2025-11-21",
        "RE-006",
        "+0.9 g",
        "cure until",
        "2025-11-22T18:00:00Z",
        "0.05 mm",
        "2026-05-16",
        "0.101 mm",
    ] {
        let at = rest
            .find(text)
            .unwrap_or_else(|| panic!("`{text}` is not told, or not in order:\n{}", said.stdout));
        rest = &rest[at..];
    }
    said.is_as_expected("history_of_the_left_joiner");
}

#[test]
fn when_sg_03_will_be_due() {
    let item = &preen().json("due --model SG-03 --group N25")["items"][0];
    assert_eq!((&item["count_left"], &item["forecast_on"]), (&json!(8), &json!("2026-06-01")));
    let range = (&item["forecast_from"], &item["forecast_to"]);
    assert_eq!(range, (&json!("2026-05-29"), &json!("2026-06-05")));
    preen()
        .run("due --model SG-03 --group N25 --all")
        .code(0)
        .shows("2026-06-01 (2026-05-29 to 2026-06-05)")
        .shows("38 flights in 56 days, 8 left: 11.8 days (9.0 to 15.7)");
}

#[test]
fn how_much_nose_weight_after_a_swap() {
    let line = "balance --base 1202.5:96.52 --change 0.45:62=left --change 0.42:62=right --change 1.91:985=tail \
                --trim-at -335 --range 92:99";
    let answer = preen().json(line);
    is_near(&answer["after"]["mass_g"], 1205.28, 0.005);
    is_near(&answer["after"]["x_mm"], 97.90, 0.005);
    is_near(&answer["x_change_mm"], 1.383, 0.0005);
    is_near(&answer["trim"]["weight_g"], 3.86, 0.005);
    assert_eq!(answer["range"]["is_inside"], true);
    preen()
        .run(line)
        .code(0)
        .shows("1205.28 g")
        .shows("97.90 mm (+1.383 mm)")
        .shows("+3.86 g at x -335 mm")
        .shows("92 to 99 mm: inside")
        .shows("not required to fly");
}

#[test]
fn how_list_and_scale_agree() {
    let line = "weigh --support -60:878.0 --support 520:324.5 --list 1195.7:96.0738";
    let answer = preen().json(line);
    is_near(&answer["mass"]["mass_g"], 1202.5, 1e-9);
    is_near(&answer["x"]["at_mm"], 96.52, 0.005);
    is_near(&answer["x"]["u_mm"], 0.43, 0.005);
    let gap = &answer["reconciliation"];
    is_near(&gap["mass_gap_g"], 6.8, 0.05);
    is_near(&gap["arm_mm"], 174.0, 0.5);
    is_near(&gap["arm_2u_mm"], 151.0, 0.5);
    preen().run(line).code(0).is_as_expected("weighing_on_the_bench");
    // Three supports say something about the side, too.
    preen()
        .run("weigh --support -60:-150:426 --support -60:150:453 --support 520:0:323.5 --tip-at -1900")
        .code(0)
        .shows("96.03 ± ")
        .shows("3.37 ± ")
        .shows("+2.1 g at y -1900 mm levels the wing");
}

#[test]
fn a_mass_list_in_a_file_is_balanced() {
    let list = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/data/mass_list.csv");
    let answer = preen().json(&format!("balance --file {list}"));
    is_near(&answer["after"]["mass_g"], 1195.7, 0.05);
    is_near(&answer["after"]["x_mm"], 96.07, 0.005);
    is_near(&answer["inertia"]["after"]["roll_kg_m2"], 0.6716, 0.00005);
    let question = r#"{"items":[{"mass_g":100,"x_mm":10},{"mass_g":300,"x_mm":50}]}"#;
    preen().input(question).run("balance --file -").code(0).shows("40.00 mm");
    preen().input(r#"{"item":[]}"#).run("balance --file -").code(3).talks("Unknown field `item`");
}

#[test]
fn the_bench_needs_no_service() {
    // Nothing listens there.
    let alone = || Preen::at("http://127.0.0.1:1", "t");
    let line = "weigh --support -60:878.0 --support 520:324.5 --list 1195.7:96.0738";
    alone().run(line).code(0).is_as_expected("weighing_on_the_bench");
    alone().run("balance --base 1202.5:96.52 --change 1.9:985").code(0).shows("97.92 mm (+1.402 mm)");
    alone().run("balance SG-01").code(5);
    alone().run("weigh --support -60:878.0 --support 520:324.5 --record SG-01").code(5);
    alone().run("balance --base 1202.5:96.52 --trim-at 96.52 --target 99").code(3);
}

#[test]
fn fitting_a_held_servo_is_refused_and_a_good_one_opens_the_swap_check() {
    let refused = preen().run("swap SG-04 W.C/FS.L SV08-B016 --reason over_limit --preview").code(4);
    refused.is_as_expected("swap_refused");
    let before = preen().json("usage SG-04")["revision"].clone();
    let line = "swap SG-04 W.C/FS.L SV08-C004 --reason preventive --preview";
    let answer = preen().json(line);
    assert_eq!((&answer["is_preview"], &answer["checks_opened"]), (&json!(true), &json!(["SW"])));
    preen().run(line).code(0).is_as_expected("swap_previewed");
    assert_eq!(preen().json("usage SG-04")["revision"], before, "a preview records nothing");
}

#[test]
fn the_past_can_be_asked() {
    preen().run("usage SV08-B011 --as-of 2025-12-31").code(0).shows("as of 2025-12-31 23:59 GMT");
    assert_eq!(preen().json("usage SV08-B011 --as-of 2025-12-31")["flights"], 60);
    let by_club_time = preen().json("usage SG-01 --as-of '2026-05-20 20:00'");
    let by_utc = preen().json("usage SG-01 --as-of 2026-05-20T19:00:00Z");
    assert_eq!(by_club_time, by_utc);
    assert_eq!(by_utc["as_of"], "2026-05-20T19:00:00Z");
    preen().run("usage SG-01 --as-of 2026-06-20").code(3).talks("lies ahead");
    assert_eq!(preen().json("may-fly --at-revision 20")["models"], json!([]));
}

#[test]
fn readings_over_limit_without_a_defect() {
    let line = "findings --code reading_beyond_limit";
    let answer = preen().json(line);
    let mut said: Vec<(&str, f64, &str)> = answer["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|found| {
            let word = |key: &str| found[key].as_str().unwrap();
            (word("subject"), found["reading"]["value"].as_f64().unwrap(), word("severity"))
        })
        .collect();
    assert_eq!(said.remove(0), ("SV08-B006", 1.0, "restrict"), "the worst first");
    said.sort_by_key(|(subject, ..)| *subject);
    assert_eq!(
        said,
        [
            ("CF-SG-04-R", 12.0, "watch"),
            ("CF-SG-06-L", 11.0, "watch"),
            ("CF-SG-06-R", 10.0, "watch"),
            ("JN-SG-03-R", 0.14, "watch"),
            ("PK-SG-03", 82.4, "watch"),
            ("SV08-B002", 0.9, "watch"),
            ("SV08-B012", 0.8, "watch"),
        ]
    );
    let rows = preen().run(&format!("{line} --csv")).code(1).stdout;
    assert_eq!(rows.lines().count(), 9, "{rows}");
    preen().run(line).code(1).is_as_expected("findings_over_limit");
}

#[test]
fn connectors_that_cannot_be_terminated_again() {
    let answer = preen().json("findings --code no_re_termination_left");
    let said: Vec<(&str, f64)> = answer["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|found| (found["subject"].as_str().unwrap(), found["reading"]["value"].as_f64().unwrap()))
        .collect();
    assert_eq!(said, [("CF-SG-03-R", 6.0), ("CF-SG-04-L", 15.0), ("CF-SG-04-R", 16.0), ("CF-SG-06-L", 11.0)]);
    preen()
        .run("findings --code no_re_termination_left")
        .code(1)
        .shows("CF-SG-03-R has 6 mm of slack: it cannot be terminated again")
        .shows("6-way pin contacts make 1 6-way");
    preen()
        .run("findings --code contacts_low")
        .code(1)
        .shows("9 6-way pin contacts of lot K24-P make 1 6-way half only");
}

#[test]
fn the_right_joiner_of_sg_05_is_outside_its_set() {
    preen()
        .run("findings --model SG-05 --code pairing_accepted")
        .code(1)
        .shows("JN-SG-05-R belongs with PN-R-05; its fit with PN-C-05, PN-R-02 was accepted 2026-05-09 by QS at 0.095 mm")
        .shows("ends when one of them comes off");
}

#[test]
fn the_audit_of_the_whole_club() {
    preen().run("findings").code(2).shows("11 ground, 2 restrict, ");
    preen().run("findings --code no_such_code").code(0).shows("Nothing was found.");
    preen().run("findings --severity bad").code(3);
    preen().run("findings --model SG-99").code(3);
    // The day before yesterday the hard landing was known, and the tape was out of date; on 1 May it was not.
    preen().run("findings --code lot_out_of_date --as-of 2026-05-01").code(0);
    preen()
        .run("findings --code lot_out_of_date --as-of 2026-05-02")
        .code(1)
        .shows("out of date since 2026-05-01");
}

#[test]
fn the_limits_that_hold_for_a_model() {
    let line = "limits-for SG-05 --quantity tip_rock_total";
    let answer = preen().json(line);
    for held in answer["limits"].as_array().unwrap() {
        assert_eq!(
            (&held["watch"], &held["restrict"], &held["ground"]),
            (&json!(2.3), &json!(3.8), &json!(6.6)),
            "{held}"
        );
    }
    preen()
        .run(line)
        .code(0)
        .shows("worked out joiner_clearance_vertical (JN-02), 105 mm inside the socket, 990 mm to the tip");
    preen().run("limits-for SG-05").code(0).shows("servo_free_play");
    preen().run("limits-for SG-99").code(3);
}
