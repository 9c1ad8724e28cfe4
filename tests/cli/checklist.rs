//! The questions that a club asks of the demo record, as a list: each is asked over REST and at the command line, as
//! JSON and as text. Both JSON answers must be the same, its numbers exact, and the whole text as expected.
//!
//! What changes the record (a release, a deferral, a late entry, a correction) stands in `checklist_acts`.

use preen_tests::http::Caller;
use serde_json::{Value, json};

use crate::demo::Demo;

/// How a question is asked over REST.
enum Rest {
    Get(&'static str),
    Post(&'static str, Value),
}

/// One question with what has to come out.
struct Question {
    /// Number of the question in the club's list.
    number: u32,
    line: &'static str,
    rest: Rest,
    /// Numbers in the JSON, rounded as they are told: pointer, number, decimals.
    numbers: Vec<(&'static str, f64, usize)>,
    /// Words in the JSON.
    words: Vec<(&'static str, Value)>,
    /// Exit code at the command line, and the name of the whole expected text.
    code: u8,
    text: &'static str,
}

/// Names and words out of a list of an answer, one row an entry.
fn column(answer: &Value, list: &str, keys: &[&str]) -> Vec<String> {
    let rows = answer.pointer(list).and_then(Value::as_array).unwrap_or_else(|| panic!("{list} in {answer}"));
    let word = |value: &Value| value.as_str().map_or_else(|| value.to_string(), ToOwned::to_owned);
    rows.iter().map(|row| keys.iter().map(|key| word(&row[key])).collect::<Vec<_>>().join(" ")).collect()
}

fn ask(question: &Question) -> Value {
    let demo = Demo::shared();
    let caller = Caller::new(&demo.url(), demo.token("FS"));
    let reply = match &question.rest {
        Rest::Get(path) => caller.get(path),
        Rest::Post(path, body) => caller.post(path, body),
    };
    let sent = reply.expect(200).json();
    let preen = demo.preen("FS");
    let printed = preen.json(question.line);
    assert_eq!(printed, sent, "{}: {} and REST differ", question.number, question.line);
    for (pointer, number, decimals) in &question.numbers {
        let found = sent.pointer(pointer).and_then(Value::as_f64);
        let found = found.unwrap_or_else(|| panic!("{}: no number at {pointer} in {sent}", question.number));
        let (found, number) = (format!("{found:.decimals$}"), format!("{number:.decimals$}"));
        assert_eq!(found, number, "{}: {pointer}", question.number);
    }
    for (pointer, word) in &question.words {
        assert_eq!(sent.pointer(pointer), Some(word), "{}: {pointer} in {sent}", question.number);
    }
    preen.run(question.line).code(question.code).is_as_expected(question.text);
    sent
}

fn question(number: u32, line: &'static str, rest: Rest, code: u8, text: &'static str) -> Question {
    Question { number, line, rest, numbers: Vec::new(), words: Vec::new(), code, text }
}

impl Question {
    fn number(mut self, pointer: &'static str, number: f64, decimals: usize) -> Self {
        self.numbers.push((pointer, number, decimals));
        self
    }

    fn word(mut self, pointer: &'static str, word: impl Into<Value>) -> Self {
        self.words.push((pointer, word.into()));
        self
    }
}

#[test]
fn the_board_and_its_reasons() {
    let board = ask(&question(
        1,
        "may-fly --on 2026-05-23",
        Rest::Get("/may-fly?on=2026-05-23"),
        2,
        "board_for_saturday",
    ));
    assert_eq!(
        column(&board, "/models", &["model", "state", "may_fly", "max_flights"]),
        [
            "MP-01 grounded false null",
            "MP-02 grounded false null",
            "MP-03 grounded false null",
            "SG-01 fit true 4",
            "SG-02 incomplete false null",
            "SG-03 grounded false null",
            "SG-04 grounded false null",
            "SG-05 fit true null",
            "SG-06 restricted true null",
            "TS-01 fit true null",
            "TS-02 incomplete false null",
            "TS-03 on_loan false null",
        ]
    );
    let one_launch = board.pointer("/models/8/restrictions/0").unwrap();
    assert_eq!((&one_launch["kind"], &one_launch["value"]), (&json!("max_launches_per_charge"), &json!(1.0)));

    ask(&question(
        2,
        "may-fly SG-01 --on 2026-05-23",
        Rest::Get("/may-fly?on=2026-05-23&model=SG-01"),
        0,
        "sg_01_on_saturday",
    )
    .number("/models/0/max_flights", 4.0, 0)
    .number("/models/0/restrictions/0/value", 4.0, 0)
    .word("/models/0/restrictions/0/source", "CA-2026-1"));
    let due = ask(&question(
        2,
        "due --model SG-01 --group N25 --all",
        Rest::Get("/due?model=SG-01&group=N25"),
        0,
        "n25_of_sg_01",
    )
    .number("/items/0/now_at_count", 271.0, 0)
    .number("/items/0/due_at_count", 275.0, 0)
    .number("/items/0/tolerance_count", 2.0, 0)
    .number("/items/0/count_left", 4.0, 0));
    assert_eq!(due["items"].as_array().unwrap().len(), 1);
    ask(&question(
        3,
        "may-fly SG-02 --on 2026-05-23",
        Rest::Get("/may-fly?on=2026-05-23&model=SG-02"),
        2,
        "sg_02_on_saturday",
    )
    .word("/models/0/reasons/0/code", "position_empty")
    .word("/models/0/reasons/0/subject", "W.R")
    .word(
        "/models/0/reasons/0/text",
        "position W.R (right tip panel) is empty: PN-R-02 is lent to SG-05, due back 2026-05-31",
    ));
    let grounds = |answer: &Value| -> Vec<String> {
        let all = column(answer, "/models/0/reasons", &["severity", "code", "subject"]);
        all.into_iter().filter_map(|row| row.strip_prefix("ground ").map(ToOwned::to_owned)).collect()
    };
    let sg_04 = ask(&question(
        5,
        "may-fly SG-04 --on 2026-05-23",
        Rest::Get("/may-fly?on=2026-05-23&model=SG-04"),
        2,
        "sg_04_on_saturday",
    )
    .word("/models/0/reasons/1/text", "N25 over by 3 flights (tolerance 2), 11 days left to 2026-06-03"));
    assert_eq!(
        grounds(&sg_04),
        ["hard_landing_unchecked FL02049", "check_overdue N25", "defect_open DE-012"]
    );
    let sg_05 = ask(&question(
        7,
        "may-fly SG-05 --on 2026-05-23",
        Rest::Get("/may-fly?on=2026-05-23&model=SG-05"),
        0,
        "sg_05_on_saturday",
    )
    .word("/models/0/state", "fit"));
    assert!(!sg_05.to_string().contains("DE-005"), "{sg_05}");
    let ts_02 = ask(&question(
        8,
        "may-fly TS-02 --on 2026-05-21",
        Rest::Get("/may-fly?on=2026-05-21&model=TS-02"),
        2,
        "ts_02_on_thursday",
    )
    .word("/models/0/state", "incomplete")
    .word("/models/0/reasons/0/code", "position_empty")
    .word("/models/0/reasons/0/subject", "PK"));
    let n25 = ts_02.pointer("/models/0/reasons").unwrap().as_array().unwrap();
    let n25 = n25.iter().find(|reason| reason["subject"] == "N25").unwrap();
    assert_eq!(n25["code"], "check_due", "4 days over, inside 7");
    ask(&question(
        8,
        "due --model TS-02 --group N25 --on 2026-05-25",
        Rest::Get("/due?model=TS-02&group=N25&on=2026-05-25"),
        2,
        "n25_of_ts_02_on_monday",
    )
    .word("/items/0/state", "overdue")
    .number("/items/0/days_over", 8.0, 0));
    ask(&question(
        43,
        "due --model SG-03 --group N25 --all",
        Rest::Get("/due?model=SG-03&group=N25"),
        0,
        "forecast_of_sg_03",
    )
    .number("/items/0/count_left", 8.0, 0)
    .word("/items/0/forecast_on", "2026-06-01")
    .word("/items/0/forecast_from", "2026-05-29")
    .word("/items/0/forecast_to", "2026-06-05"));
}

#[test]
fn where_parts_are_and_what_they_have_behind_them() {
    let at_flaps = ask(&question(
        9,
        "where --batch SV08/B --position-kind 'flap servo'",
        Rest::Get("/where?batch=SV08/B&position_kind=flap%20servo"),
        0,
        "batch_b_at_flaps",
    ));
    assert_eq!(at_flaps["models"], json!(["MP-01", "SG-01", "SG-03", "SG-04"]));
    assert_eq!(
        column(&at_flaps, "/components", &["component", "model", "path"]),
        [
            "SV08-B001 SG-01 W.C/FS.L",
            "SV08-B002 SG-01 W.C/FS.R",
            "SV08-B005 SG-03 W.C/FS.R",
            "SV08-B006 SG-04 W.C/FS.L",
            "SV08-B010 MP-01 W.L/FS",
            "SV08-B011 SG-03 W.C/FS.L",
            "SV08-B012 MP-01 W.R/FS",
        ]
    );
    let all = ask(&question(10, "where --batch SV08/B", Rest::Get("/where?batch=SV08/B"), 0, "batch_b"));
    let elsewhere = column(
        &all,
        "/components",
        &["component", "model", "path", "state", "location", "lent_to", "days_late"],
    );
    for row in [
        "SV08-B013 SG-02 W.L/AS serviceable null null 0",
        "SV08-B014 SG-05 W.R/AS serviceable null DR 0",
        "SV08-B016 null null held quarantine shelf null 0",
        "SV08-B015 null null held null VW 4",
        "SV08-B008 null null unserviceable quarantine shelf null 0",
        "SV08-B009 null null unserviceable quarantine shelf null 0",
        "SV08-B007 null null scrapped bin null 0",
    ] {
        assert!(elsewhere.iter().any(|known| known == row), "{row} in {elsewhere:#?}");
    }
    ask(&question(
        12,
        "campaign progress CA-2026-1 --models SG-01,SG-02,SG-03,SG-04,SG-05,SG-06",
        Rest::Get("/campaigns/CA-2026-1/progress?models=SG-01,SG-02,SG-03,SG-04,SG-05,SG-06"),
        2,
        "campaign_progress",
    )
    .number("/needs/0/need_count", 7.0, 0)
    .number("/needs/0/short_count", 4.0, 0)
    .number("/needs/0/models_need_count", 5.0, 0)
    .number("/needs/0/models_short_count", 2.0, 0));
    let used =
        ask(&question(14, "usage SV08-B011", Rest::Get("/components/SV08-B011/usage"), 0, "usage_of_b011")
            .number("/flights", 108.0, 0)
            .number("/airtime_h", 18.9, 1)
            .number("/motor_s", 2401.0, 0));
    assert_eq!(column(&used, "/spans", &["model", "flights"]), ["SG-02 60", "SG-03 48"]);
    ask(&question(
        16,
        "history JN-SG-01-L",
        Rest::Get("/components/JN-SG-01-L/history"),
        0,
        "history_of_the_left_joiner",
    )
    .number("/riggings", 68.0, 0)
    .number("/riggings_since_repair", 21.0, 0));
    let connector = ask(&question(
        27,
        "history CF-SG-03-R",
        Rest::Get("/components/CF-SG-03-R/history"),
        0,
        "history_of_a_connector",
    )
    .number("/riggings", 77.0, 0));
    let cuts: Vec<String> = column(&connector, "/events", &["kind", "tag"])
        .into_iter()
        .filter(|event| event.starts_with("repair "))
        .collect();
    assert_eq!(cuts, ["repair RE-002", "repair RE-004", "repair RE-007"]);
    ask(&question(
        45,
        "findings --model SG-05 --code pairing_accepted",
        Rest::Get("/findings?model=SG-05&code=pairing_accepted"),
        1,
        "pairing_of_sg_05",
    )
    .word("/findings/0/subject", "JN-SG-05-R")
    .word(
        "/findings/0/text",
        "JN-SG-05-R belongs with PN-R-05; its fit with PN-C-05, PN-R-02 was accepted 2026-05-09 by QS at 0.095 mm \
         and ends when one of them comes off",
    ));
}

#[test]
fn what_wears_and_what_is_over_its_limit() {
    ask(&question(
        17,
        "trend JN-SG-01-L",
        Rest::Get("/components/JN-SG-01-L/trend"),
        0,
        "trend_of_the_left_joiner",
    )
    .number("/series/0/line/slope", 0.00279, 5)
    .number("/series/0/forecast/0/count_left", 5.7, 1)
    .number("/series/0/forecast/0/earliest_left", 1.1, 1)
    .number("/series/0/forecast/1/count_left", 34.4, 1)
    .number("/series/0/forecast/1/earliest_left", 25.5, 1));
    let caller = Caller::new(&Demo::shared().url(), Demo::shared().token("FS"));
    let refused = caller.get("/components/JN-SG-01-L/trend?whole_history=true").expect(200);
    assert!(refused.text.contains("a fit over the whole history is refused"), "{}", refused.text);
    ask(&question(31, "trend SV08-B002", Rest::Get("/components/SV08-B002/trend"), 0, "trend_of_a_servo")
        .number("/series/0/forecast/2/limit", 1.2, 1)
        .number("/series/0/forecast/2/at_count", 377.0, 0)
        .number("/series/0/forecast/2/count_left", 106.0, 0)
        .number("/series/0/forecast/2/earliest_left", 22.0, 0)
        .word("/series/0/forecast/2/earliest_on", "2026-06-12"));
    let connectors = ask(&question(
        26,
        "findings --code no_re_termination_left",
        Rest::Get("/findings?code=no_re_termination_left"),
        1,
        "connectors_without_a_termination_left",
    ));
    let slack: Vec<(&str, f64)> = connectors["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|found| (found["subject"].as_str().unwrap(), found["reading"]["value"].as_f64().unwrap()))
        .collect();
    assert_eq!(
        slack,
        [("CF-SG-03-R", 6.0), ("CF-SG-04-L", 15.0), ("CF-SG-04-R", 16.0), ("CF-SG-06-L", 11.0)]
    );
    ask(&question(
        26,
        "findings --code contacts_low",
        Rest::Get("/findings?code=contacts_low"),
        1,
        "contacts_that_are_low",
    )
    .word("/findings/0/subject", "K24-P")
    .number("/counts/watch", 1.0, 0));
    let over = ask(&question(
        28,
        "findings --code reading_beyond_limit",
        Rest::Get("/findings?code=reading_beyond_limit"),
        1,
        "findings_over_limit",
    ));
    let mut said: Vec<(String, String, &str)> = over["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|found| {
            let word = |key: &str| found[key].as_str().unwrap();
            (word("severity").to_owned(), found["reading"]["value"].to_string(), word("subject"))
        })
        .collect();
    said.sort_by_key(|(.., subject)| *subject);
    let expected = [
        ("watch", "12.0", "CF-SG-04-R"),
        ("watch", "11.0", "CF-SG-06-L"),
        ("watch", "10.0", "CF-SG-06-R"),
        ("watch", "0.14", "JN-SG-03-R"),
        ("watch", "82.4", "PK-SG-03"),
        ("watch", "0.9", "SV08-B002"),
        ("restrict", "1.0", "SV08-B006"),
        ("watch", "0.8", "SV08-B012"),
    ];
    let expected = expected.map(|(class, value, subject)| (class.to_owned(), value.to_owned(), subject));
    assert_eq!(said, expected);
    ask(&question(
        30,
        "life SV08 --batch A --batch B --position-kind 'flap servo'",
        Rest::Get("/life?part=SV08&batches=A,B&position_kind=flap%20servo"),
        0,
        "life_of_two_batches",
    )
    .number("/kinds/0/groups/0/mtbf/mtbf", 1293.0, 0)
    .number("/kinds/0/groups/1/mtbf/mtbf", 1172.0, 0)
    .word("/kinds/0/comparisons/0/is_shown", false)
    .word("/kinds/0/wear/0/comparisons/0/is_shown", true)
    .number("/kinds/0/wear/0/comparisons/0/p_one_sided", 0.0041, 4));
}

#[test]
fn the_bench_calculators() {
    ask(&question(
        18,
        "balance --base 1202.5:96.52 --change 0.45:62=left --change 0.42:62=right --change 1.91:985=tail --trim-at -335 \
         --range 92:99",
        Rest::Post(
            "/compute/balance",
            json!({"base": {"mass_g": 1202.5, "x_mm": 96.52}, "trim_place_x_mm": -335.0,
                   "range": {"front_x_mm": 92.0, "rear_x_mm": 99.0},
                   "changes": [{"item": "left", "mass_change_g": 0.45, "x_mm": 62.0},
                               {"item": "right", "mass_change_g": 0.42, "x_mm": 62.0},
                               {"item": "tail", "mass_change_g": 1.91, "x_mm": 985.0}]}),
        ),
        0,
        "nose_weight_after_a_swap",
    )
    .number("/after/mass_g", 1205.28, 2)
    .number("/after/x_mm", 97.90, 2)
    .number("/x_change_mm", 1.383, 3)
    .number("/trim/weight_g", 3.86, 2)
    .word("/range/is_inside", true));
    ask(&question(
        21,
        "ballast --base 1202.5:96.5156 --loading 20.5 --area-dm2 70.89 --slug 50:6=S50 --slug 30:4=S30 --slug 15.2:4=S15 \
         --cell 62:3 --cell 98:3 --cell 134:3",
        Rest::Post(
            "/compute/ballast",
            json!({"base": {"mass_g": 1202.5, "x_mm": 96.5156}, "target_loading_g_dm2": 20.5, "area_dm2": 70.89,
                   "slugs": [{"slug": "S50", "mass_g": 50.0, "count": 6}, {"slug": "S30", "mass_g": 30.0, "count": 4},
                             {"slug": "S15", "mass_g": 15.2, "count": 4}],
                   "cells": [{"x_mm": 62.0, "capacity": 3}, {"x_mm": 98.0, "capacity": 3},
                             {"x_mm": 134.0, "capacity": 3}]}),
        ),
        0,
        "ballast_on_the_bench",
    )
    .word("/best/text", "5 × S50 as 2/1/2")
    .number("/best/added_g", 250.0, 1)
    .number("/best/x_change_mm", 0.26, 2)
    .number("/nearest_mass/slugs", 9.0, 0));
    ask(&question(
        22,
        "weigh --support -60:878.0 --support 520:324.5 --list 1195.7:96.0738",
        Rest::Post(
            "/compute/weighing",
            json!({"supports": [{"x_mm": -60.0, "reading_g": 878.0}, {"x_mm": 520.0, "reading_g": 324.5}],
                   "u_scale_g": 0.5, "u_place_mm": 0.5, "list": {"mass_g": 1195.7, "x_mm": 96.0738}}),
        ),
        0,
        "weighing_on_the_bench",
    )
    .number("/mass/mass_g", 1202.5, 1)
    .number("/x/at_mm", 96.52, 2)
    .number("/reconciliation/mass_gap_g", 6.8, 1)
    .number("/reconciliation/arm_mm", 174.0, 0)
    .number("/reconciliation/arm_2u_mm", 151.0, 0));
    ask(&question(
        23,
        "cover --depth 7 --sheet 1 --arm 4.5 --tip 1.9 --try 0.5,0.3",
        Rest::Post(
            "/compute/cover",
            json!({"axis_to_skin_mm": 7.0, "sheet_mm": 1.0, "arm_mm": 4.5, "tip_mm": 1.9,
                   "sheets_mm": [0.5, 0.3]}),
        ),
        0,
        "cover_scrapes",
    )
    .number("/gap_mm", -0.40, 2)
    .number("/relief/length_mm", 5.82, 2)
    .number("/blister_mm", 0.70, 2));
    let flap = json!({"arm_mm": 4.5, "arm_deg": 28.0, "hinge_x_mm": 62.0, "hinge_z_mm": 3.5, "horn_mm": 4.6,
                      "set_back_mm": 0.5});
    ask(&question(
        24,
        "linkage --arm 4.5:28 --hinge 62:3.5 --horn 4.6:0.5 --at -50 --chord 62 --servo-play 0.6",
        Rest::Post(
            "/compute/linkage",
            json!({"geometry": flap, "servo_deg": [-50.0], "surface": {"chord_mm": 62.0}, "servo_play_deg": 0.6}),
        ),
        0,
        "flap_at_50",
    )
    .number("/rows/0/deflection_deg", 53.5, 1)
    .number("/rows/0/play/total_mm", 0.91, 2));
    ask(&question(
        24,
        "linkage --arm 4.5:28 --hinge 62:3.5 --horn 4.6:0.5 --at 0 --chord 62 --servo-play 0.6 --hole-play 0.06",
        Rest::Post(
            "/compute/linkage",
            json!({"geometry": flap, "servo_deg": [0.0], "surface": {"chord_mm": 62.0}, "servo_play_deg": 0.6,
                   "hole_play_mm": 0.06}),
        ),
        0,
        "play_at_neutral",
    )
    .number("/rows/0/play/total_mm", 1.38, 2));
    let mut right = flap.clone();
    right["arm_deg"] = json!(33.0);
    let mismatch = ask(&question(
        25,
        "linkage --arm 4.5:28 --hinge 62:3.5 --horn 4.6:0.5 --at 0 --chord 62 --right-arm 4.5:33 --ends -50:20",
        Rest::Post(
            "/compute/linkage",
            json!({"geometry": flap, "servo_deg": [0.0], "surface": {"chord_mm": 62.0},
                   "other_side": {"geometry": right, "forward_deg": -50.0, "aft_deg": 20.0}}),
        ),
        0,
        "linkage_mismatch",
    )
    .word("/mismatch/cure", "five_point_curve"));
    let rows = mismatch.pointer("/mismatch/rows").unwrap().as_array().unwrap();
    let at = |servo_deg: f64| {
        let row = rows.iter().find(|row| row["servo_deg"].as_f64() == Some(servo_deg)).unwrap();
        format!("{:.2}", row.pointer("/with_end_points/difference_mm").unwrap().as_f64().unwrap())
    };
    assert_eq!((at(-30.0).as_str(), at(-50.0).trim_start_matches('-')), ("-0.56", "0.00"));
    ask(&question(
        39,
        "pack --cells 6.1,6.3,8.9 --temperature 14 --new 4.9,5.0,5.0 --current 32 --open 3.75 --measured 742 --rated 900 \
         --run 30 --avionics 70",
        Rest::Post(
            "/compute/pack",
            json!({"resistance": {"cells_mohm": [6.1, 6.3, 8.9], "temperature_c": 14.0, "new_mohm": [4.9, 5.0, 5.0]},
                   "sag": {"current_a": 32.0, "open_v": 3.75},
                   "capacity": {"measured_mah": 742.0, "rated_mah": 900.0},
                   "launch": {"draw": {"motor_s": 30.0, "motor_a": 32.0, "avionics_mah": 70.0}}}),
        ),
        0,
        "pack_measured_cold",
    )
    .number("/resistance/cells/0/at_25_mohm", 4.91, 2)
    .number("/resistance/cells/1/at_25_mohm", 5.07, 2)
    .number("/resistance/cells/2/at_25_mohm", 7.17, 2)
    .number("/resistance/cells/2/ratio_to_new", 1.43, 2)
    .number("/capacity/left/of_rated_pct", 82.4, 1)
    .number("/launch/charge/launches", 1.0, 0)
    .word("/class", "watch"));
    ask(&question(
        44,
        "joiner --section box:26:12:2:1.5 --sand 0.1",
        Rest::Post(
            "/compute/joiner",
            json!({"section": {"shape": "box", "width_mm": 26.0, "height_mm": 12.0, "cap_mm": 2.0, "web_mm": 1.5},
                   "sanding": {"now": {"top_mm": 0.1, "bottom_mm": 0.1, "front_mm": 0.1, "rear_mm": 0.1}}}),
        ),
        0,
        "joiner_sanded",
    )
    .number("/sanding/z_vertical_change_pct", -6.1, 1));
}
