//! Facts that come together, as rows of a table do: tried, all or nothing, or each for itself.

use preen_tests::on_both;
use preen_tests::world::{flight, items, new_id};
use serde_json::{Value, json};

fn sent(facts: &[Value]) -> Value {
    let facts: Vec<Value> = facts.iter().map(|fact| json!({ "noun": "flights", "fact": fact })).collect();
    json!({ "facts": facts })
}

fn statuses(answer: &Value) -> Vec<&str> {
    answer["results"].as_array().unwrap().iter().map(|one| one["status"].as_str().unwrap()).collect()
}

on_both!(a_try_records_nothing_and_tells_what_would_come_of_it, |world| {
    world.small_fleet();
    let good = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let mut bad = flight("SG-01", "AV", "2026-05-20T10:30:00Z");
    bad["airtime_min"] = json!(-3.0);
    // It overlaps the first, which is only known inside the try.
    let overlapping = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let facts = sent(&[good.clone(), bad, overlapping]);
    for mode in ["rows", "all"] {
        let path = format!("/facts?mode={mode}&preview=true");
        let answer = world.av.post(&path, &facts).expect(200).json();
        assert_eq!(statuses(&answer), ["possible", "refused", "refused"], "{mode}");
        assert_eq!(answer["results"][1]["problem"]["errors"][0]["pointer"], "/airtime_min");
        assert_eq!(answer["results"][0]["revision"], Value::Null);
    }
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    assert_eq!(items(world.av.get("/questions")).len(), 0, "what is tried becomes no question");
    // Recorded since, it is known when tried again.
    world.av.post("/flights", &good).expect(201);
    let answer = world.av.post("/facts?mode=rows&preview=true", &sent(&[good])).expect(200).json();
    assert_eq!(statuses(&answer), ["known"]);
});

on_both!(all_or_none_is_one_change_of_the_record, |world| {
    world.small_fleet();
    let before = world.av.get("/club").json()["revision"].as_i64().unwrap();
    let first = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let second = flight("SG-01", "AV", "2026-05-20T11:00:00Z");
    let lost = flight("SG-77", "AV", "2026-05-20T12:00:00Z");
    let answer = world.av.post("/facts?mode=all", &sent(&[first.clone(), lost, second.clone()])).json();
    assert_eq!(statuses(&answer), ["possible", "refused", "possible"]);
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    assert_eq!(world.av.get("/club").json()["revision"], json!(before));
    let both = sent(&[first.clone(), second]);
    let answer = world.av.post("/facts?mode=all", &both).expect(200).json();
    assert_eq!(statuses(&answer), ["recorded", "recorded"]);
    assert_eq!(world.av.get("/club").json()["revision"], json!(before + 1));
    let again = world.av.post("/facts?mode=all", &both).expect(200).json();
    assert_eq!(statuses(&again), ["known", "known"]);
    assert_eq!(world.av.get("/club").json()["revision"], json!(before + 1));
    // The answers count both.
    assert_eq!(world.av.get("/models/SG-01/usage").json()["flights"], json!(2));
    assert_eq!(first["model"], "SG-01");
});

on_both!(each_for_itself_leaves_what_is_refused_with_whoever_sent_it, |world| {
    world.small_fleet();
    let hour = |hour: u32| flight("SG-01", "AV", &format!("2026-05-20T{hour:02}:00:00Z"));
    let mut facts: Vec<Value> = (6..20).map(hour).collect();
    facts[3] = flight("SG-77", "AV", "2026-05-20T09:00:00Z");
    let answer = world.av.post("/facts?mode=rows", &sent(&facts)).expect(200).json();
    let told = statuses(&answer);
    assert_eq!(told.iter().filter(|one| **one == "recorded").count(), 13);
    assert_eq!(told[3], "refused");
    assert_eq!(items(world.av.get("/questions")).len(), 0);
});

on_both!(what_does_not_fit_is_refused_before_anything_is_looked_at, |world| {
    world.small_fleet();
    let one = sent(&[flight("SG-01", "AV", "2026-05-20T10:00:00Z")]);
    for (query, name) in [
        ("mode=half", "mode"),
        ("preview=true", "preview"),
        ("mode=all&preview=maybe", "preview"),
        ("way=all", "way"),
    ] {
        let problem = world.av.post(&format!("/facts?{query}"), &one).problem(400, "bad_parameter");
        assert!(problem["detail"].as_str().unwrap().contains(&format!("`{name}`")), "{problem}");
    }
    let visitor = world.member("VV", &["visitor"], &["read", "write"]);
    let answer = visitor.post("/facts?mode=all", &one).expect(200).json();
    assert_eq!(statuses(&answer), ["refused"]);
    let facts = (0..2_001).map(|_| json!({ "id": new_id() })).collect::<Vec<_>>();
    world.av.post("/facts?mode=rows", &sent(&facts)).problem(422, "invalid_fields");
});
