//! Questions: what waits for a person, what stands against it now, and its settling by recording what was sent.

use preen_tests::on_both;
use preen_tests::world::{World, flight, items, new_id};
use serde_json::{Value, json};

fn send(world: &World, noun: &str, fact: &Value) -> Value {
    let sent = json!({ "facts": [{ "noun": noun, "fact": fact }] });
    world.av.post("/facts", &sent).expect(200).json()["results"][0].clone()
}

fn open(world: &World) -> Vec<Value> {
    world.av.get("/open-questions").expect(200).json()["questions"].as_array().unwrap().clone()
}

fn codes(reasons: &Value) -> Vec<&str> {
    reasons.as_array().unwrap().iter().map(|reason| reason["code"].as_str().unwrap()).collect()
}

fn settling(more: Value) -> Value {
    let mut body =
        json!({ "id": new_id(), "occurred_at": "2026-05-21T08:00:00Z", "text": "asked both pilots" });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    body
}

on_both!(two_phones_log_one_flight_and_a_person_settles_it, |world| {
    world.small_fleet();
    let first = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let second = flight("SG-01", "AV", "2026-05-20T10:02:00Z");
    assert_eq!(send(world, "flights", &first)["status"], "recorded");
    let asked = send(world, "flights", &second);
    assert_eq!(asked["status"], "question");

    let waiting = open(world);
    assert_eq!(waiting.len(), 1);
    assert_eq!((&waiting[0]["id"], &waiting[0]["fact_id"]), (&asked["question"], &second["id"]));
    assert_eq!((&waiting[0]["sent_by"], &waiting[0]["occurred_at"]), (&json!("AV"), &second["occurred_at"]));
    assert_eq!(codes(&waiting[0]["reasons"]), codes(&waiting[0]["stands_against"]), "nothing changed since");
    assert!(waiting[0]["text"].as_str().unwrap().contains("SG-01"));

    // As it was sent it is refused as before, and stays a question.
    let path = format!("/questions/{}/settlement", asked["question"].as_str().unwrap());
    let refused = world.av.post(&path, &settling(json!({ "record_as_sent": true })));
    let problem = refused.problem(409, "refused_by_rule");
    assert!(problem["errors"][0]["pointer"].as_str().unwrap().starts_with("/fact/"), "{problem}");
    assert_eq!((open(world).len(), items(world.av.get("/settlements")).len()), (1, 0), "both or neither");

    // Put right it is recorded, and the question is settled in the same change.
    let mut right = second.clone();
    right["occurred_at"] = json!("2026-05-20T11:02:00Z");
    let body = settling(json!({ "fact": right }));
    let settled = world.av.post(&path, &body).expect(201).json();
    assert_eq!(
        (&settled["recorded"]["noun"], &settled["recorded"]["id"]),
        (&json!("flights"), &second["id"])
    );
    assert_eq!(settled["recorded"]["revision"], settled["settlement"]["revision"]);
    assert_eq!(open(world), Vec::<Value>::new());
    assert_eq!(items(world.av.get("/flights")).len(), 2);

    // The same again says so; another settling is refused.
    let again = world.av.post(&path, &body).expect(200).json();
    assert_eq!(again["settlement"]["id"], settled["settlement"]["id"]);
    world.av.post(&path, &settling(json!({}))).problem(409, "refused_by_rule");
});

on_both!(what_stood_against_it_is_gone_and_it_goes_in_as_sent, |world| {
    world.small_fleet();
    let wrong = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let right = flight("SG-01", "AV", "2026-05-20T10:02:00Z");
    send(world, "flights", &wrong);
    let asked = send(world, "flights", &right);
    assert_eq!(asked["status"], "question");
    let correction = json!({ "id": new_id(), "reason": "logged on the wrong model", "is_void": true });
    world.av.post(&format!("/flights/{}/correction", wrong["id"].as_str().unwrap()), &correction).expect(201);

    let waiting = open(world);
    assert!(!waiting[0]["reasons"].as_array().unwrap().is_empty(), "why it was refused is kept");
    assert_eq!(waiting[0]["stands_against"], json!([]));
    assert!(waiting[0]["clear_by"].as_str().unwrap().contains("nothing stands against it"));
    let path = format!("/questions/{}/settlement", asked["question"].as_str().unwrap());
    world.av.post(&path, &settling(json!({ "record_as_sent": true }))).expect(201);
    let flights = items(world.av.get("/flights"));
    assert_eq!(flights.len(), 1);
    assert_eq!(flights[0]["id"], right["id"]);
    // What was open by then is still told as of then.
    assert_eq!(open(world).len(), 0);
});

on_both!(leaving_out_needs_only_the_reason, |world| {
    world.small_fleet();
    let mut never = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    never["airtime_min"] = json!(-1.0);
    let asked = send(world, "flights", &never);
    let path = format!("/questions/{}/settlement", asked["question"].as_str().unwrap());
    world.av.post(&path, &settling(json!({ "text": "" }))).problem(422, "invalid_fields");
    let both = settling(json!({ "record_as_sent": true, "fact": never }));
    assert_eq!(world.av.post(&path, &both).wrong_field().0, "/fact");
    let settled = world.av.post(&path, &settling(json!({}))).expect(201).json();
    assert_eq!(settled["recorded"], Value::Null);
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    world
        .av
        .post(&format!("/questions/{}/settlement", new_id()), &settling(json!({})))
        .problem(404, "not_found");
});

on_both!(nobody_signs_what_another_sent, |world| {
    world.small_fleet();
    // AV's phone sent a reading in a unit that cannot be; QS may settle it, but not sign it.
    let reading = json!({
        "id": new_id(), "subject": { "model": "SG-01" }, "quantity": "mass", "values": [], "unit": "g",
        "occurred_at": "2026-05-20T10:00:00Z",
    });
    let asked = send(world, "measurements", &reading);
    assert_eq!(asked["status"], "question", "{asked}");
    let mut right = reading.clone();
    right["values"] = json!([1201.0]);
    let path = format!("/questions/{}/settlement", asked["question"].as_str().unwrap());
    let inspector = world.member("QS", &["inspector"], &["read", "write"]);
    let helper = world.member("JW", &["helper"], &["read", "write"]);
    helper.post(&path, &settling(json!({}))).problem(403, "not_allowed");
    inspector.post(&path, &settling(json!({ "fact": right }))).problem(403, "scope_missing");
    let historian = world.token_of("QS", &["read", "write", "history"], None);
    historian.post(&path, &settling(json!({ "fact": right }))).expect(201);
    let stored =
        world.av.get(&format!("/measurements/{}", reading["id"].as_str().unwrap())).expect(200).json();
    let member = |tag: &str| world.av.get(&format!("/members/{tag}")).expect(200).json()["id"].clone();
    assert_eq!(stored["measured_by"], member("AV"), "who read it stays who sent it");
    assert_eq!(stored["recorded_by"], member("QS"));
});

on_both!(visitors_and_other_clubs_see_no_questions, |world| {
    world.small_fleet();
    let mut odd = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    odd["airtime_min"] = json!(-1.0);
    let asked = send(world, "flights", &odd);
    let visitor = world.member("VW", &["visitor"], &["read", "write"]);
    assert_eq!(visitor.get("/open-questions").expect(200).json()["questions"], json!([]));
    let other = world
        .begin_club("fenwick", &json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper", "inspector"] }));
    let other = world.av.with_token(&other);
    let path = format!("/questions/{}/settlement", asked["question"].as_str().unwrap());
    other.post(&path, &settling(json!({}))).problem(404, "not_found");
    assert_eq!(open(world).len(), 1);
});
