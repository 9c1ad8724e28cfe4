//! The feed: outboxes in, facts out, and what changed between two revisions.

use preen_tests::on_both;
use preen_tests::world::{flight, items, new_id};
use serde_json::{Value, json};

fn outbox(items: &[(&str, &Value)]) -> Value {
    let facts: Vec<Value> = items.iter().map(|(noun, fact)| json!({ "noun": noun, "fact": fact })).collect();
    json!({ "sent_at": "2026-05-21T08:00:00Z", "facts": facts })
}

fn statuses(answer: &Value) -> Vec<&str> {
    answer["results"].as_array().unwrap().iter().map(|one| one["status"].as_str().unwrap()).collect()
}

on_both!(one_bad_item_in_the_middle_leaves_the_others, |world| {
    world.small_fleet();
    let good = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let mut bad = flight("SG-01", "AV", "2026-05-20T10:30:00Z");
    bad["airtime_min"] = json!(-3.0);
    let later = flight("SG-01", "AV", "2026-05-20T11:00:00Z");
    let sent = outbox(&[("flights", &good), ("flights", &bad), ("flights", &later)]);
    let answer = world.av.post("/facts", &sent).expect(200).json();
    assert_eq!(statuses(&answer), ["recorded", "question", "recorded"]);
    assert_eq!(answer["results"][1]["problem"]["errors"][0]["pointer"], "/airtime_min");
    assert_eq!(items(world.av.get("/flights")).len(), 2);

    let kept = items(world.av.get("/questions"));
    assert_eq!(kept.len(), 1);
    assert_eq!((&kept[0]["noun"], &kept[0]["fact"]), (&json!("flights"), &bad), "kept whole, as it was sent");
    assert_eq!(kept[0]["reasons"][0]["code"], "out_of_range");

    // The answer got lost and the outbox is sent again: nothing is doubled, not even the question.
    let again = world.av.post("/facts", &sent).expect(200).json();
    assert_eq!(statuses(&again), ["known", "question", "known"]);
    assert_eq!(again["results"][1]["question"], answer["results"][1]["question"]);
    assert_eq!(items(world.av.get("/questions")).len(), 1);
    assert_eq!(items(world.av.get("/flights")).len(), 2);
});

on_both!(an_item_may_name_one_that_came_just_before_it, |world| {
    world.small_fleet();
    let servo =
        json!({ "id": new_id(), "tag": "SV08-Z001", "part": "SV08", "mass_g": 10.4, "state": "serviceable" });
    let reading = json!({
        "id": new_id(), "subject": { "component": "SV08-Z001" }, "quantity": "servo_free_play", "values": [0.3],
        "unit": "deg", "occurred_at": "2026-05-21T07:00:00Z",
    });
    let answer =
        world.av.post("/facts", &outbox(&[("components", &servo), ("measurements", &reading)])).json();
    assert_eq!(statuses(&answer), ["recorded", "recorded"], "{answer}");
});

on_both!(two_phones_fit_the_same_part, |world| {
    world.small_fleet();
    world.component("SV08-Z001", "SV08");
    world.component("SV08-Z002", "SV08");
    world.component("PN-Z", "PANEL");
    let fit = |component: &str| {
        json!({
            "id": new_id(), "component": component, "inside": { "component": "PN-Z" }, "position": "FS.L",
            "occurred_at": "2026-05-21T07:00:00Z",
        })
    };
    let (mine, yours) = (fit("SV08-Z001"), fit("SV08-Z002"));
    let first = world.av.post("/facts", &outbox(&[("installations", &mine)])).expect(200).json();
    assert_eq!(statuses(&first), ["recorded"], "{first}");
    let second = world.av.post("/facts", &outbox(&[("installations", &yours)])).expect(200).json();
    assert_eq!(statuses(&second), ["question"]);
    assert_eq!(second["results"][0]["problem"]["errors"][0]["code"], "position_occupied");

    let question = second["results"][0]["question"].clone();
    let settlement = json!({
        "id": new_id(), "question": question, "occurred_at": "2026-05-21T08:00:00Z", "text": "Z002 stayed in the box",
    });
    world.av.post("/settlements", &settlement).expect(201);
    let again = json!({
        "id": new_id(), "question": question, "occurred_at": "2026-05-21T08:00:00Z", "text": "once more",
    });
    world.av.post("/settlements", &again).problem(409, "refused_by_rule");
});

on_both!(clocks_that_are_ahead, |world| {
    world.small_fleet();
    let hour = flight("SG-01", "AV", "2026-05-21T09:00:00Z");
    let days = flight("SG-01", "AV", "2026-05-23T08:00:00Z");
    let mut sent = outbox(&[("flights", &hour), ("flights", &days)]);
    sent["sent_at"] = json!("2026-05-21T09:00:05Z");
    let answer = world.av.post("/facts", &sent).expect(200).json();
    assert_eq!(statuses(&answer), ["question", "refused"]);
    assert_eq!(answer["clock_ahead_s"], 3605);
});

on_both!(what_the_sender_may_not_do_is_refused, |world| {
    world.small_fleet();
    let helper = world.member("JW", &["helper"], &["read", "write"]);
    let part = json!({ "id": new_id(), "tag": "SV99", "kind": "servo", "tracking": "serial", "nominal_mass_g": 1.0 });
    let flight = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let answer = helper.post("/facts", &outbox(&[("parts", &part), ("flights", &flight)])).expect(200).json();
    assert_eq!(statuses(&answer), ["refused", "recorded"]);
    assert_eq!(answer["results"][0]["problem"]["code"], "not_allowed");
    helper.get("/facts").problem(403, "not_allowed");
});

on_both!(an_outbox_that_is_none, |world| {
    world.small_fleet();
    world
        .av
        .post("/facts", &json!({ "facts": [{ "noun": "flyings", "fact": {} }] }))
        .problem(422, "invalid_fields");
    world.av.post("/facts", &json!({ "facts": [], "colour": "red" })).problem(422, "invalid_fields");
    let nothing = json!({ "id": new_id() });
    let answer = world.av.post("/facts", &outbox(&[("flights", &nothing)])).expect(200).json();
    assert_eq!(statuses(&answer), ["question"], "kept even where it does not read as a flight");
    let many: Vec<Value> = (0..2001).map(|_| json!({ "noun": "flights", "fact": {} })).collect();
    world.av.post("/facts", &json!({ "facts": many })).problem(422, "invalid_fields");
});

on_both!(the_feed_gives_back_every_fact_in_order, |world| {
    world.small_fleet();
    let before = world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap();
    world.av.post("/flights", &flight("SG-01", "AV", "2026-05-20T10:00:00Z")).expect(201);
    world.av.post("/flights", &flight("SG-01", "AV", "2026-05-20T11:00:00Z")).expect(201);
    let lines = |path: &str| -> Vec<Value> {
        let reply = world.av.get(path).expect(200);
        assert_eq!(reply.header("content-type"), Some("application/x-ndjson"));
        reply.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    };
    let new = lines(&format!("/facts?since={before}"));
    let got: Vec<(i64, &str)> =
        new.iter().map(|line| (line["revision"].as_i64().unwrap(), line["noun"].as_str().unwrap())).collect();
    assert_eq!(got, [(before + 1, "flights"), (before + 2, "flights")]);
    assert_eq!(new[0]["fact"]["occurred_at"], "2026-05-20T10:00:00Z");
    let all = lines("/facts");
    assert!(all.len() > new.len());
    assert!(all.iter().map(|line| line["revision"].as_i64().unwrap()).is_sorted());
    assert_eq!(all[all.len() - 2..], new[..]);
    world.av.get("/facts?since=-1").problem(400, "bad_parameter");
    world.av.get("/facts?from=1").problem(400, "bad_parameter");
});

on_both!(a_late_flight_shows_in_what_changed, |world| {
    world.small_fleet();
    let since = world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap();
    let mut hard = flight("SG-01", "AV", "2026-05-17T18:00:00Z");
    hard["landing"] = json!("hard");
    world.av.post("/flights", &hard).expect(201);
    let answer = world.av.get(&format!("/changes?since={since}")).expect(200).json();
    assert_eq!(answer["facts"].as_array().unwrap().len(), 1);
    assert_eq!(answer["facts"][0]["models"], json!(["SG-01"]));
    let model = &answer["models"][0];
    assert_eq!(model["model"], "SG-01");
    assert_eq!(model["by_revisions"], json!([since + 1]));
    let new: Vec<&str> =
        model["reasons_new"].as_array().unwrap().iter().map(|r| r["code"].as_str().unwrap()).collect();
    assert!(new.contains(&"hard_landing_unchecked"), "{new:?}");
    let usage =
        answer["answers"].as_array().unwrap().iter().find(|change| change["answer"] == "usage").unwrap();
    assert_eq!((&usage["subject"], &usage["by_revisions"]), (&json!("SG-01"), &json!([since + 1])));
    let flights = |key: &str| usage[key].as_str().unwrap().split(' ').next().unwrap().to_owned();
    assert_eq!((flights("before"), flights("after")), ("0".to_owned(), "1".to_owned()));
    let after_s = answer["facts"][0]["entered_after_s"].as_i64().unwrap();
    assert_eq!(after_s, 3 * 86_400 + 14 * 3600, "from Sunday evening to Thursday morning");
    let nothing = world.av.get(&format!("/changes?since={}", since + 1)).expect(200).json();
    assert_eq!((&nothing["models"], &nothing["facts"]), (&json!([]), &json!([])));
    world.av.get("/changes").problem(400, "bad_parameter");
    world.av.get("/changes?since=999999").problem(400, "bad_parameter");
});

on_both!(a_correction_is_traced_to_what_it_corrects, |world| {
    world.small_fleet();
    let wrong = flight("SG-01", "AV", "2026-05-17T18:00:00Z");
    world.av.post("/flights", &wrong).expect(201);
    let since = world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap();
    let void = json!({ "id": new_id(), "reason": "it was another model", "is_void": true });
    world.av.post(&format!("/flights/{}/correction", wrong["id"].as_str().unwrap()), &void).expect(201);
    let answer = world.av.get(&format!("/changes?since={since}")).expect(200).json();
    assert_eq!(answer["facts"][0]["models"], json!(["SG-01"]), "{answer}");
    let usage =
        answer["answers"].as_array().unwrap().iter().find(|change| change["answer"] == "usage").unwrap();
    assert_eq!(usage["by_revisions"], json!([since + 1]));
    assert!(usage["before"].as_str().unwrap().starts_with("1 flights"), "{usage}");
    assert!(usage["after"].as_str().unwrap().starts_with("0 flights"), "{usage}");
});
