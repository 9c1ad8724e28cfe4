//! Lives over HTTP: those of a question on the bench, and those of the club's own parts.

use preen_tests::on_both;
use preen_tests::world::flight;
use serde_json::{Value, json};

on_both!(lives_on_the_bench_are_judged_and_compared, |world| {
    let lives: Value = json!([
        {"group": "B", "failed_at": 96}, {"group": "B", "good_at": 60, "found_at": 110},
        {"group": "B", "failed_at": 84}, {"group": "B", "running_at": 128, "entered": 20},
        {"group": "A", "running_at": 1800}
    ]);
    let question =
        json!({"lives": lives, "unit": "flights", "ages": [100], "stretches": [{"from": 50, "to": 100}]});
    let answer = world.av.post("/compute/survival", &question).expect(200).json();
    let b = &answer["groups"][0];
    assert_eq!(
        (&b["group"], &b["failures"], &b["mtbf"]["exposure"]),
        (&json!("B"), &json!(3), &json!(398.0))
    );
    assert!(b["weibull"]["beta"]["value"].as_f64().is_some_and(|shape| shape > 1.0), "{b}");
    assert!(b["survival_from_last_good"].is_object(), "a failure between two looks shows both ends");
    let a = &answer["groups"][1];
    assert_eq!((&a["mtbf"]["mtbf"], &a["mtbf"]["high"]), (&Value::Null, &Value::Null));
    assert_eq!(answer["comparisons"][0]["is_shown"], true);

    let refused = |question: Value, pointer: &str| {
        let reply = world.av.post("/compute/survival", &question);
        reply.problem(422, "invalid_fields");
        assert_eq!(reply.wrong_field().0, pointer, "{}", reply.text);
    };
    refused(json!({"lives": []}), "/lives");
    refused(json!({"lives": [{"failed_at": 5}, {"failed_at": 5, "running_at": 6}]}), "/lives/1");
    refused(json!({"lives": [{"failed_at": 1e300}]}), "/lives/0/failed_at");
    refused(json!({"lives": [{"failed_at": 5}], "confidence": 2}), "/confidence");
});

on_both!(lives_of_the_clubs_own_parts, |world| {
    world.small_fleet();
    world.component("B001", "SV08");
    world.component("PANEL-1", "PANEL");
    world.fit("PANEL-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    world.fit("B001", json!({ "component": "PANEL-1" }), "FS.L", "2026-05-01T08:00:00Z");
    for hour in 10..14 {
        world.add("flights", flight("SG-01", "AV", &format!("2026-05-02T{hour}:00:00Z")));
    }
    let answer = world.av.get("/life?part=SV08").expect(200).json();
    let kind = &answer["kinds"][0];
    let group = &kind["groups"][0];
    assert_eq!((&group["mtbf"]["exposure"], &group["failures"]), (&json!(4.0), &json!(0)), "{answer}");
    assert_eq!(group["mtbf"]["mtbf"], Value::Null, "nothing failed: a bound, no estimate");
    assert_eq!(kind["parts"][0]["outcome"], "running");
    let before = world.av.get("/life?part=SV08&as_of=2026-05-02T11:30:00Z").expect(200).json();
    assert_eq!(before["kinds"][0]["groups"][0]["mtbf"]["exposure"], 2.0);
    let known = before["revision"].as_i64().unwrap() - 1;
    let known = world.av.get(&format!("/life?part=SV08&at_revision={known}")).expect(200).json();
    assert_eq!(known["kinds"][0]["groups"][0]["mtbf"]["exposure"], 3.0, "the last flight was not known yet");

    for (query, name) in [
        ("", "part"),
        ("?part=SV99", "parts"),
        ("?part=SV08&batches=A,,B", "batches"),
        ("?part=SV08&counter=charges", "counter"),
        ("?part=SV08&as_new=0.25", "as_new"),
        ("?part=SV08&quantity=servo_free_play&as_new=x", "as_new"),
        ("?part=SV08&confidence=1", "confidence"),
        ("?part=SV08&batch=A", "batch"),
    ] {
        let problem = world.av.get(&format!("/life{query}")).problem(400, "bad_parameter");
        assert!(problem.to_string().contains(name), "{query}: {problem}");
    }
    world.member("VW", &["visitor"], &["read"]).get("/life?part=SV08").problem(403, "not_allowed");
});
