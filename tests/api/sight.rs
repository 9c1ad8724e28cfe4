//! What a visitor may not see does not exist for them: by whatever operation and whatever name they ask.

use preen_tests::http::Caller;
use preen_tests::world::{flight, items, new_id};
use preen_tests::{Reply, World, on_both};
use serde_json::{Value, json};

/// A visitor to whom MP-01 is lent, beside SG-01, which is not.
fn visitor(world: &World) -> Caller {
    world.small_fleet();
    world.add("models", preen_tests::world::model("MP-01", "AV"));
    for (panel, model) in [("PN-1", "SG-01"), ("PN-2", "MP-01")] {
        world.component(panel, "PANEL");
        world.fit(panel, json!({ "model": model }), "W.C", "2026-01-10T10:00:00Z");
    }
    let visitor = world.member("VI", &["visitor"], &["read", "write"]);
    world.add(
        "loans",
        json!({
            "item": { "model": "MP-01" }, "lent_to": "VI", "occurred_at": "2026-05-19T10:00:00Z",
            "from_on": "2026-05-19", "due_back_on": "2026-05-31"
        }),
    );
    visitor
}

fn defect(model: &str) -> Value {
    json!({
        "id": new_id(), "model": model, "subject": { "model": model }, "severity": "watch", "text": "a dent",
        "occurred_at": "2026-05-20T10:00:00Z"
    })
}

/// The text of an answer, with the name that was asked for taken out.
fn nameless(reply: &Reply, name: &str) -> (u16, String) {
    (reply.status, reply.text.replace(name, "NAME"))
}

on_both!(a_path_to_something_unseen_leads_nowhere, |world| {
    let visitor = visitor(world);
    let flown = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let dented = world.add("defects", defect("SG-01"));
    let nowhere = "01970a3c-5d00-7000-8000-ffffffffffff";
    let asked: [(&str, &str, &str, &str); 14] = [
        ("GET", "/models/NAME", "SG-01", "SG-99"),
        ("GET", "/models/NAME/usage", "SG-01", "SG-99"),
        ("PUT", "/models/NAME", "SG-01", "SG-99"),
        ("POST", "/models/NAME/swap", "SG-01", "SG-99"),
        ("GET", "/components/NAME/history", "PN-1", "PN-9"),
        ("POST", "/components/NAME/remove", "PN-1", "PN-9"),
        ("POST", "/components/NAME/correction", "PN-1", "PN-9"),
        ("GET", "/flights/NAME", &flown, nowhere),
        ("GET", "/flights/NAME?at_revision=9", &flown, nowhere),
        ("POST", "/flights/NAME/correction", &flown, nowhere),
        ("POST", "/defects/NAME/correction", &dented, nowhere),
        ("POST", "/members/NAME/erasure", "AV", "ZZ"),
        ("PUT", "/members/NAME", "AV", "ZZ"),
        ("PUT", "/members/NAME/password", "AV", "ZZ"),
    ];
    for (method, path, unseen, absent) in asked {
        // Whatever is sent with it, it is not looked at.
        for body in [json!({}), json!({ "id": new_id(), "reason": "a slip", "is_void": true })] {
            let ask =
                |name: &str| Reply::of(visitor.request(method, &path.replace("NAME", name)).json(&body));
            let reply = ask(unseen);
            reply.problem(404, "not_found");
            assert_eq!(nameless(&reply, unseen), nameless(&ask(absent), absent), "{method} {path}");
        }
    }
    assert_eq!(world.av.get(&format!("/flights/{flown}")).expect(200).json()["pilot"], id_of(world, "AV"));
});

on_both!(a_body_that_names_something_unseen_names_nothing, |world| {
    let visitor = visitor(world);
    let cases = [
        ("/flights", flight("SG-01", "VI", "2026-05-20T10:00:00Z"), "SG-01", "SG-99"),
        ("/flights", flight("MP-01", "AV", "2026-05-20T10:00:00Z"), "AV", "ZZ"),
        ("/defects", defect("SG-01"), "SG-01", "SG-99"),
        (
            "/installations",
            json!({
                "id": new_id(), "component": "PN-1", "inside": { "model": "MP-01" }, "position": "W.C",
                "occurred_at": "2026-05-20T10:00:00Z"
            }),
            "PN-1",
            "PN-9",
        ),
        (
            "/tokens",
            json!({ "id": new_id(), "member": "AV", "label": "phone", "scopes": ["read"] }),
            "AV",
            "ZZ",
        ),
    ];
    for (path, body, unseen, absent) in cases {
        let reply = visitor.post(path, &body);
        reply.problem(422, "invalid_fields");
        assert_eq!(reply.json()["errors"][0]["code"], "unknown_reference", "{}", reply.text);
        let other: Value = serde_json::from_str(
            &body.to_string().replace(&format!("\"{unseen}\""), &format!("\"{absent}\"")),
        )
        .unwrap();
        assert_eq!(nameless(&reply, unseen), nameless(&visitor.post(path, &other), absent), "{path}");
    }
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    // What is lent is there, and so is the visitor.
    visitor.post("/flights", &flight("MP-01", "VI", "2026-05-20T10:00:00Z")).expect(201);
    visitor.post("/defects", &defect("MP-01")).expect(201);
    let taken = json!({ "tag": "SG-01", "design": "SEDGE", "owner": "VI", "ownership": "visitor",
                        "first_flight_on": "2025-04-05", "id": new_id() });
    visitor.post("/models", &taken).problem(403, "not_allowed");
});

on_both!(a_list_narrowed_by_something_unseen_is_narrowed_by_nothing, |world| {
    let visitor = visitor(world);
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let asked = [
        ("/flights?model=NAME", "SG-01", "SG-99"),
        ("/may-fly?model=NAME", "SG-01", "SG-99"),
        ("/due?model=NAME", "SG-01", "SG-99"),
        ("/may-fly?pilot=NAME", "AV", "ZZ"),
        ("/where?component=NAME", "PN-1", "PN-9"),
        ("/tokens?member=NAME", "AV", "ZZ"),
    ];
    for (path, unseen, absent) in asked {
        let ask = |name: &str| visitor.get(&path.replace("NAME", name));
        let reply = ask(unseen);
        assert!(matches!(reply.status, 400 | 404), "{path}: {}", reply.text);
        assert_eq!(nameless(&reply, unseen), nameless(&ask(absent), absent), "{path}");
    }
    visitor.get("/may-fly?model=MP-01").expect(200);
    assert_eq!(items(visitor.get("/flights?model=MP-01")).len(), 0);
});

on_both!(a_visitor_settles_the_question_that_their_entry_raised, |world| {
    let visitor = visitor(world);
    let sent = |model: &str| {
        let fact =
            json!({ "id": new_id(), "model": model, "cycles": 1, "occurred_at": "2026-05-20T10:00:00Z" });
        json!({ "facts": [{ "noun": "riggings", "fact": fact }] })
    };
    let ask = |caller: &Caller| -> String {
        let result = caller.post("/facts", &sent("SG-99")).expect(200).json()["results"][0].clone();
        result["question"].as_str().unwrap().to_owned()
    };
    let (own, others) = (ask(&visitor), ask(&world.av));
    // An unseen model raises the very question that an absent one does.
    let unseen = visitor.post("/facts", &sent("SG-01")).expect(200).json()["results"][0].clone();
    assert_eq!(unseen["problem"]["errors"][0]["code"], "unknown_reference", "{unseen}");
    visitor.get(&format!("/questions/{own}")).expect(200);
    visitor.get(&format!("/questions/{others}")).problem(404, "not_found");
    let settle = |question: &str| json!({ "id": new_id(), "question": question, "text": "typed wrong", "occurred_at": "2026-05-20T11:00:00Z" });
    let refused = visitor.post("/settlements", &settle(&others)).problem(422, "invalid_fields");
    assert_eq!(refused["errors"][0]["code"], "unknown_reference");
    visitor.post("/settlements", &settle(&own)).expect(201);
});

fn id_of(world: &World, member: &str) -> Value {
    world.av.get(&format!("/members/{member}")).expect(200).json()["id"].clone()
}
