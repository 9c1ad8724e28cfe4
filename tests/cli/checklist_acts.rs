//! The club's questions that change the record: a release, a deferral, a swap, a late entry, a correction; each over
//! REST and at the command line, and what the record says afterwards, as JSON and as text.

use preen_tests::http::Caller;
use serde_json::{Value, json};

use crate::demo::Demo;

fn rest(demo: &Demo, member: &str) -> Caller {
    Caller::new(&demo.url(), demo.token(member))
}

fn fresh() -> Value {
    json!(uuid::Uuid::now_v7())
}

/// Fields and codes that a refusal names.
fn refusals(problem: &Value) -> Vec<(&str, &str)> {
    let errors = problem["errors"].as_array().unwrap_or_else(|| panic!("{problem}"));
    errors.iter().map(|error| (error["pointer"].as_str().unwrap(), error["code"].as_str().unwrap())).collect()
}

#[test]
fn a_held_servo_of_a_forbidden_batch_is_refused_and_a_good_one_opens_the_swap_check() {
    let demo = Demo::shared();
    let fs = rest(demo, "FS");
    let swap = |on: &str| {
        json!({"occurred_at": "2026-05-21T08:00:00Z", "exchanges": [{"path": "W.C/FS.L", "on": on,
               "installation": fresh(), "removal": fresh(), "reason": "over_limit"}]})
    };
    let problem = fs.post("/models/SG-04/swap?preview=true", &swap("SV08-B016")).expect(409).json();
    let codes: Vec<&str> = refusals(&problem).into_iter().map(|(_, code)| code).collect();
    assert_eq!(codes, ["not_serviceable", "batch_forbidden"], "{problem}");
    let sent = fs.post("/models/SG-04/swap?preview=true", &swap("SV08-C004")).expect(200).json();
    assert_eq!(sent["checks_opened"], json!(["SW"]));
    let preen = demo.preen("FS");
    let printed = preen.json("swap SG-04 W.C/FS.L SV08-C004 --reason over_limit --preview");
    for key in
        ["before", "after", "delta", "range", "nose_weight_g", "checks_opened", "findings", "is_preview"]
    {
        assert_eq!(printed[key], sent[key], "{key}");
    }
    preen
        .run("swap SG-04 W.C/FS.L SV08-B016 --reason over_limit --preview")
        .code(4)
        .is_as_expected("swap_refused");
    preen
        .run("swap SG-04 W.C/FS.L SV08-C004 --reason preventive --preview")
        .code(0)
        .is_as_expected("swap_previewed");
    let refused = preen.run("swap SG-04 W.C/FS.L SV08-B016 --reason over_limit --preview --json").code(4);
    assert!(refused.stderr.contains("forbids SV08/B at a flap servo"), "{}", refused.stderr);
}

#[test]
fn what_grounds_is_never_deferred() {
    let demo = Demo::shared();
    let body = json!({"id": fresh(), "restrictions": [{"kind": "max_flights", "value": 4}],
                      "fix_by_on": "2026-05-30", "reason": "servo ordered", "occurred_at": "2026-05-21T08:00:00Z"});
    let problem = rest(demo, "FS").post("/defects/DE-008/deferral", &body).expect(409).json();
    assert_eq!(refusals(&problem), [("/defect", "ground_is_never_deferred")], "{problem}");
    let line = "defer DE-008 --until 2026-05-30 --restrict max_flights=4 --reason 'servo ordered'";
    let said = demo.preen("FS").run(line).code(4);
    assert_eq!(said.stdout, "");
    assert!(
        said.stderr.contains("DE-008 grounds, and what grounds is never deferred: repair and release it"),
        "{}",
        said.stderr
    );
    let said = demo.preen("FS").run(&format!("{line} --json")).code(4);
    assert!(said.stderr.contains("what grounds is never deferred"), "{}", said.stderr);
    let standing = rest(demo, "FS").get("/defects/DE-008/standing").expect(200).json();
    assert_eq!((&standing["severity"], &standing["can_be_deferred"]), (&json!("ground"), &json!(false)));
    assert_eq!(demo.preen("FS").json("standing DE-008"), standing);
}

#[test]
fn a_boom_is_released_by_an_inspector_after_its_cure() {
    let demo = Demo::own();
    let (qs, bk) = (rest(&demo, "QS"), rest(&demo, "BK"));
    let release = |at: &str| json!({"id": fresh(), "repair": "RE-014", "occurred_at": at});
    demo.clock.set("2026-05-22T20:00:00Z".parse().unwrap());
    let problem = qs.post("/releases", &release("2026-05-22T20:00:00Z")).expect(409).json();
    assert!(problem.to_string().contains("It cures until 2026-05-22T21:00:00Z"), "{problem}");
    demo.clock.set("2026-05-22T21:30:00Z".parse().unwrap());
    let check = json!({"id": fresh(), "model": "MP-03", "group": "RP", "result": "pass", "is_summary": true,
                       "occurred_at": "2026-05-22T21:20:00Z"});
    qs.post("/inspections", &check).expect(201);
    let problem = bk.post("/releases", &release("2026-05-22T21:30:00Z")).expect(403).json();
    let text = problem.to_string();
    assert!(text.contains("BK did the work") && text.contains("released by an inspector"), "{text}");
    let before = qs.get("/may-fly?model=MP-03").expect(200).json();
    assert_eq!(before.pointer("/models/0/may_fly"), Some(&json!(false)));
    qs.post("/releases", &release("2026-05-22T21:30:00Z")).expect(201);
    let after = qs.get("/may-fly?model=MP-03").expect(200).json();
    assert_eq!(after.pointer("/models/0/state"), Some(&json!("restricted")));
    assert_eq!(after.pointer("/models/0/restrictions/0/kind"), Some(&json!("light_launch_only")));
    assert_eq!(after.pointer("/models/0/restrictions/0/source"), Some(&json!("RE-014")));
    let preen = demo.preen("QS");
    assert_eq!(preen.json("may-fly MP-03"), after);
    preen.run("may-fly MP-03").code(1).is_as_expected("mp_03_released");
}

#[test]
fn two_flights_entered_late_change_saturday_and_say_why() {
    let demo = Demo::own();
    demo.clock.set("2026-05-22T08:00:00Z".parse().unwrap());
    let av = rest(&demo, "AV");
    let before = av.get("/may-fly?on=2026-05-23&model=SG-01").expect(200).json();
    let revision = before["revision"].as_i64().unwrap();
    let flight = |at: &str, tag: &str| {
        json!({"noun": "flights", "fact": {"id": fresh(), "tag": tag, "model": "SG-01", "pilot": "AV",
               "occurred_at": at, "airtime_min": 8.0, "motor_s": 20, "landing": "normal",
               "is_post_flight_logged": true}})
    };
    let outbox = json!({"sent_at": "2026-05-22T08:00:00Z",
                        "facts": [flight("2026-05-17T17:00:00Z", "FL-L1"), flight("2026-05-17T17:30:00Z", "FL-L2")]});
    let sent = av.post("/facts", &outbox).expect(200).json();
    assert!(sent["results"].as_array().unwrap().iter().all(|one| one["status"] == "recorded"), "{sent}");
    let usage = av.get("/models/SG-01/usage").expect(200).json();
    assert_eq!(usage["flights"], 273);
    let after = av.get("/may-fly?on=2026-05-23&model=SG-01").expect(200).json();
    let flights = |answer: &Value| answer.pointer("/models/0/max_flights").cloned();
    assert_eq!((flights(&before), flights(&after)), (Some(json!(4)), Some(json!(2))));
    let changed = av.get(&format!("/changes?since={revision}&on=2026-05-23")).expect(200).json();
    let models = changed["models"].as_array().unwrap();
    assert_eq!(models.len(), 1, "{changed}");
    assert_eq!((&models[0]["model"], &models[0]["max_flights_before"]), (&json!("SG-01"), &json!(4)));
    assert_eq!(models[0]["max_flights_after"], 2);
    assert_eq!(models[0]["by_revisions"], json!([revision + 1, revision + 2]));
    assert_eq!(models[0]["restrictions_gone"][0]["value"], json!(4.0));
    assert_eq!(models[0]["restrictions_new"][0]["value"], json!(2.0));
    // Asked for what was known before, the answer is the one of then.
    let then =
        av.get(&format!("/may-fly?on=2026-05-23&model=SG-01&at_revision={revision}")).expect(200).json();
    assert_eq!(then["models"], before["models"]);
    let preen = demo.preen("AV");
    assert_eq!(preen.json(&format!("changes --since {revision} --on 2026-05-23")), changed);
    let said = preen.run(&format!("changes --since {revision} --on 2026-05-23")).code(0).stdout;
    let lines: Vec<&str> = said.lines().map(str::trim).collect();
    let campaign = "watch: CA-2026-1 action 2: replace by batch C (SV08-B002, SV08-B001)";
    for line in [
        "SG-01: was fit, max 4; is fit, max 2",
        &format!("now   {campaign}: 28 of 30 flights flown, 2 left; within 30 flights and by 2026-05-29"),
        &format!("gone  {campaign}: 26 of 30 flights flown, 4 left; within 30 flights and by 2026-05-29"),
        &format!(
            "by    revision {}: flight of SG-01, 8 min, landing normal, entered 4 days after",
            revision + 1
        ),
        &format!(
            "by    revision {}: flight of SG-01, 8 min, landing normal, entered 4 days after",
            revision + 2
        ),
    ] {
        assert!(lines.contains(&line), "{line} in\n{said}");
    }
    assert_eq!(preen.json("usage SG-01"), av.get("/models/SG-01/usage").expect(200).json());
}

#[test]
fn a_reading_typed_wrong_stays_and_its_correction_counts_for_all_later_moments() {
    let demo = Demo::own();
    let qs = rest(&demo, "QS");
    let before = qs.get("/components/JN-SG-01-L/trend").expect(200).json();
    let revision = before["revision"].as_i64().unwrap();
    let typed = qs.get("/measurements/ME0010").expect(200).json();
    assert_eq!(typed["values"], json!([0.101]));
    let mut right = typed.clone();
    for key in ["recorded_at", "recorded_by", "revision"] {
        right.as_object_mut().unwrap().remove(key);
    }
    right["values"] = json!([0.110]);
    let correction = json!({"id": fresh(), "reason": "typed .101 for .110", "fact": right});
    qs.post("/measurements/ME0010/correction", &correction).expect(201);

    // The original stands as it was, the correction beside it with its reason and who made it.
    let then = qs.get(&format!("/measurements/ME0010?at_revision={revision}")).expect(200).json();
    assert_eq!(then["values"], json!([0.101]));
    let list = qs.get("/corrections").expect(200).json();
    let kept = list["items"].as_array().unwrap().iter().find(|one| one["id"] == correction["id"]).unwrap();
    let member = qs.get("/members/QS").expect(200).json();
    assert_eq!((&kept["reason"], &kept["recorded_by"]), (&correction["reason"], &member["id"]));
    assert_eq!(kept["original"], typed["id"]);

    // The trend is another one from that reading on, and the same before it.
    let slope = |answer: &Value| answer.pointer("/series/0/line/slope").and_then(Value::as_f64).unwrap();
    let after = qs.get("/components/JN-SG-01-L/trend").expect(200).json();
    assert_eq!(format!("{:.6} {:.6}", slope(&before), slope(&after)), "0.002788 0.003088");
    let earlier = |more: &str| {
        let path = format!("/components/JN-SG-01-L/trend?as_of=2026-05-10{more}");
        qs.get(&path).expect(200).json()["series"].clone()
    };
    assert_eq!(earlier(""), earlier(&format!("&at_revision={revision}")));
    let changed = qs.get(&format!("/changes?since={revision}")).expect(200).json();
    assert_eq!(changed["facts"][0]["parts"], json!(["JN-SG-01-L"]), "{changed}");
    let preen = demo.preen("QS");
    assert_eq!(preen.json("trend JN-SG-01-L"), after);
    preen.run("trend JN-SG-01-L").code(0).is_as_expected("trend_after_a_correction");
}
