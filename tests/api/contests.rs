//! Classes, contests and entries over HTTP: written by the team manager, refused by name where they cannot be right.

use preen_tests::on_both;
use preen_tests::world::{World, flight, new_id};
use serde_json::{Value, json};

/// A contest with twelve rounds at most.
pub fn contest(tag: &str) -> Value {
    json!({ "id": new_id(), "tag": tag, "title": "Reedbed Open", "class": "F5J", "check_in_at": "2026-05-29T20:00:00Z",
        "first_on": "2026-05-30", "last_on": "2026-05-31", "prelim_rounds_max": 8, "flyoff_rounds_max": 4,
        "training_flights": 8 })
}

fn entry(contest: &str, pilot: &str) -> Value {
    json!({ "id": new_id(), "contest": contest, "pilot": pilot, "model": "SG-01", "state": "entered" })
}

fn small(world: &World) {
    world.small_fleet();
    world.component("SV-1", "SV08");
}

on_both!(the_team_manager_enters_pilots_and_nobody_else_does, |world| {
    small(world);
    let manager = world.member("LZ", &["team_manager"], &["read", "write"]);
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    pilot.post("/contests", &contest("CT-1")).problem(403, "not_allowed");
    manager.post("/contests", &contest("CT-1")).expect(201);
    pilot.post("/entries", &entry("CT-1", "BK")).problem(403, "not_allowed");
    let mut mine = entry("CT-1", "BK");
    mine["parts"] = json!(["SV-1"]);
    mine["marks"] = json!("QM 42");
    manager.post("/entries", &mine).expect(201);
    let read = pilot.get(&format!("/entries/{}", mine["id"].as_str().unwrap())).expect(200).json();
    assert_eq!((&read["marks"], read["parts"].as_array().map(Vec::len)), (&json!("QM 42"), Some(1)));
    // One entry for each pilot, until it is withdrawn.
    manager.post("/entries", &entry("CT-1", "BK")).problem(409, "refused_by_rule");
    mine["state"] = json!("withdrawn");
    manager.put(&format!("/entries/{}", mine["id"].as_str().unwrap()), Some("*"), &mine).expect(200);
    manager.post("/entries", &entry("CT-1", "BK")).expect(201);
});

on_both!(contests_that_cannot_be_are_refused_by_name, |world| {
    small(world);
    let with = |field: &str, value: Value| {
        let mut body = contest("CT-1");
        body[field] = value;
        let (pointer, _, text) = world.av.post("/contests", &body).wrong_field();
        (pointer, text)
    };
    assert_eq!(with("last_on", json!("2026-05-29")).0, "/last_on");
    assert_eq!(with("check_in_at", json!("2026-06-02T10:00:00Z")).0, "/check_in_at");
    assert_eq!(with("rounds_min", json!(13)).0, "/rounds_min");
    let (pointer, text) = with("class", json!("F9Z"));
    assert!(pointer == "/class" && text.contains("F5J, F5K"), "{text}");
    assert_eq!(with("permissions", json!(["insurance", "insurance"])).0, "/permissions");
    world.av.post("/contests", &contest("CT-1")).expect(201);
    world.av.post("/contests", &contest("CT-1")).problem(409, "tag_taken");
    let with = |field: &str, value: Value| {
        let mut body = entry("CT-1", "AV");
        body[field] = value;
        world.av.post("/entries", &body).wrong_field().0
    };
    assert_eq!(with("contest", json!("CT-9")), "/contest");
    assert_eq!(with("reserves", json!(["SG-01"])), "/reserves/0");
    assert_eq!(with("parts", json!(["SV-1", "SV-1"])), "/parts/1");
});

on_both!(a_class_is_confirmed_by_who_compared_it, |world| {
    small(world);
    let bk = world.member("BK", &["inspector", "pilot"], &["read", "write"]);
    let mut class = json!({ "id": new_id(), "tag": "F5J", "title": "Thermal", "edition": "2026", "source": "the text",
        "area": "projected_wing_and_tail", "limits": [{ "quantity": "span_mm", "max": 4000.0 }] });
    world.av.post("/classes", &class).expect(201);
    class["confirmed_on"] = json!("2026-04-01");
    let path = format!("/classes/{}", class["id"].as_str().unwrap());
    let reply = world.av.put(&path, Some("*"), &class).wrong_field();
    assert_eq!(reply.0, "/confirmed_on");
    class["confirmed_by"] = json!("AV");
    bk.put(&path, Some("*"), &class).problem(403, "not_allowed");
    class["confirmed_by"] = json!("BK");
    bk.put(&path, Some("*"), &class).expect(200);
    // Others may change its note, but no limit under that name.
    class["note"] = json!("see the wall");
    world.av.put(&path, Some("*"), &class).expect(200);
    class["limits"] = json!([{ "quantity": "span_mm", "max": 5000.0 }]);
    world.av.put(&path, Some("*"), &class).problem(403, "not_allowed");
    class["limits"] = json!([{ "quantity": "span_mm", "min": 2.0, "max": 1.0 }]);
    class["confirmed_by"] = json!("AV");
    let reply = world.av.put(&path, Some("*"), &class).wrong_field();
    assert_eq!(reply.0, "/limits/0");
});

/// A club with a model that flew, its contest and the entry of its pilot.
fn entered(world: &World) -> Value {
    small(world);
    world.add("flights", flight("SG-01", "AV", "2026-05-04T10:00:00Z"));
    world.add("contests", contest("CT-1"));
    let mine = entry("CT-1", "AV");
    world.add("entries", mine.clone());
    mine
}

fn codes(findings: &Value) -> Vec<&str> {
    findings.as_array().unwrap().iter().map(|found| found["code"].as_str().unwrap()).collect()
}

on_both!(readiness_of_the_team_of_an_entry_and_of_a_model, |world| {
    world.set_clock("2026-05-21T08:00:00Z");
    let mine = entered(world);
    let team = world.av.get("/contests/CT-1/readiness").expect(200).json();
    assert_eq!((&team["contest"], &team["readiness"]), (&json!("CT-1"), &json!("work_to_do")));
    assert_eq!(team["entries"][0]["model"]["flights"]["last_round_flights"], 21);
    assert_eq!(codes(&team["findings"]), ["class_unconfirmed"]);
    let of_model = &team["entries"][0]["model"]["findings"];
    for code in ["position_empty", "check_never_done", "contest_check_open", "altimeter_missing"] {
        assert!(codes(of_model).contains(&code), "{code}: {of_model}");
    }
    for found in of_model.as_array().unwrap() {
        let (to_do, task) = (found["clear_by"].as_str().unwrap(), found["task"].as_str().unwrap());
        assert!(!to_do.is_empty() && !task.is_empty(), "{found}");
    }
    // The same by the entry, by the pilot, and of the model alone.
    let one =
        world.av.get(&format!("/entries/{}/readiness", mine["id"].as_str().unwrap())).expect(200).json();
    assert_eq!(one["model"], team["entries"][0]["model"]);
    let pilots = world.av.get("/contests/CT-1/readiness?pilot=AV").expect(200).json();
    assert_eq!(pilots["entries"], team["entries"]);
    let model = world.av.get("/models/SG-01/readiness?contest=CT-1").expect(200).json();
    assert_eq!(model["checks"], one["model"]["checks"]);
    let by_hand = world.av.get("/models/SG-01/readiness?flights=30&until_on=2026-07-01").expect(200).json();
    assert_eq!(by_hand["flights"]["last_round_flights"], 31);
    assert!(!codes(&by_hand["findings"]).contains(&"contest_check_open"), "{by_hand}");
    // What cannot be asked says what to ask.
    for target in [
        "flights=3001",
        "flights=some",
        "until_on=2026-05-20",
        "until_on=soon",
        "contest=CT-9",
        "contest=CT-1&flights=3",
    ] {
        world.av.get(&format!("/models/SG-01/readiness?{target}")).problem(400, "bad_parameter");
    }
    world.av.get("/contests/CT-9/readiness").problem(404, "not_found");
    world.av.get("/entries/EN-9/readiness").problem(404, "not_found");
    let visitor = world.member("VW", &["visitor"], &["read"]);
    visitor.get("/contests/CT-1/readiness").problem(404, "not_found");
    visitor.get("/models/SG-01/readiness").problem(404, "not_found");
});

on_both!(a_model_against_its_class, |world| {
    entered(world);
    let presets = world.av.get("/class-presets").expect(200).json();
    let tags: Vec<&str> =
        presets["classes"].as_array().unwrap().iter().map(|class| class["tag"].as_str().unwrap()).collect();
    assert_eq!(tags, ["F5J", "F5K", "F5B", "F3J", "F3K", "F3B", "F3F", "free"]);
    world.add(
        "weighings",
        json!({ "model": "SG-01", "mass_g": 1202.5, "x_mm": 95.0, "u_x_mm": 0.4,
        "occurred_at": "2026-05-05T10:00:00Z" }),
    );
    let check = world.av.get("/models/SG-01/class-check?class=F5J").expect(200).json();
    assert_eq!((&check["result"], &check["is_confirmed"]), (&json!("unconfirmed"), &json!(false)));
    let mass = check["as_fitted"]["rows"]
        .as_array()
        .unwrap()
        .iter()
        .find(|row| row["quantity"] == "mass_g")
        .unwrap();
    assert_eq!((&mass["value"], &mass["verdict"]), (&json!(1202.5), &json!("inside")));
    // One of the presets, compared and entered, takes its place.
    let mut class = presets["classes"][0].clone();
    class["confirmed_by"] = json!("AV");
    class["confirmed_on"] = json!("2026-05-01");
    class["limits"] = json!([{ "quantity": "mass_g", "max": 1000.0 }]);
    world.add("classes", class);
    let check = world.av.get("/models/SG-01/class-check?class=F5J").expect(200).json();
    assert_eq!((&check["result"], &check["confirmed_by"]), (&json!("outside"), &json!("AV")));
    world.av.get("/models/SG-01/class-check?class=F9Z").problem(400, "bad_parameter");
    world.av.get("/models/SG-01/class-check?class=a%20b").problem(400, "bad_parameter");
    world.av.get("/models/SG-99/class-check").problem(404, "not_found");
});
