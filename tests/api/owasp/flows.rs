//! API4 and API6, too much of a good thing: every list, outbox, table, plan, sheet has its most, told as a limit; and what
//! counts once counts once, however often it is sent.

use preen_tests::world::{flight, items, new_id};
use preen_tests::{Reply, on_both};
use serde_json::{Value, json};

on_both!(whatever_can_be_asked_for_has_its_most, |world| {
    world.small_fleet();
    for (path, name) in [
        ("/flights?limit=501", "limit"),
        ("/flights?limit=0", "limit"),
        ("/flights?limit=-1", "limit"),
        ("/flights?limit=1e3", "limit"),
        ("/flights?limit=18446744073709551616", "limit"),
        ("/flights?cursor=nothing", "cursor"),
        ("/facts?since=-1", "since"),
    ] {
        let said = world.av.get(path).problem(400, "bad_parameter");
        assert!(said["detail"].as_str().unwrap().contains(&format!("`{name}`")), "{path}: {said}");
    }
    let item = || json!({ "noun": "flights", "fact": flight("SG-01", "AV", "2026-05-20T10:00:00Z") });
    let outbox = |count: usize| json!({ "facts": (0..count).map(|_| json!({ "noun": "flights", "fact": {} })).collect::<Vec<Value>>() });
    assert_eq!(world.av.post("/facts", &outbox(2_001)).expect(422).wrong_field().0, "/facts");
    let table = world.av.post("/facts?mode=all&preview=true", &outbox(20_001)).expect(422);
    assert_eq!(table.wrong_field().0, "/facts");
    world.av.post("/facts", &json!({ "facts": [item()] })).expect(200);
    // Calculators: sizes that would take an hour are told so at once.
    let tasks: Vec<Value> = (0..5_000)
        .map(|number| json!({ "name": format!("T{number}"), "hours": 1.0, "after": [], "people": 1 }))
        .collect();
    for (name, body) in [
        ("plan", json!({ "tasks": tasks, "people": [] })),
        ("ballast", json!({ "base": { "mass_g": 1200.0, "x_mm": 96.0 }, "cells": vec![json!({}); 5_000] })),
        ("regression", json!({ "points": vec![[1.0, 1.0]; 200_000] })),
    ] {
        let reply = world.av.post(&format!("/compute/{name}"), &body);
        assert!(matches!(reply.status, 413 | 422), "{name}: {} {}", reply.status, reply.text);
    }
    world.av.get("/club").expect(200);
});

on_both!(the_same_sent_by_the_hundred_counts_once, |world| {
    world.small_fleet();
    let mut wrong = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    wrong["model"] = json!("SG-99");
    let good = flight("SG-01", "AV", "2026-05-20T11:00:00Z");
    let twice: Vec<Value> = (0..60)
        .flat_map(|_| [&wrong, &good])
        .map(|fact| json!({ "noun": "flights", "fact": fact }))
        .collect();
    for _ in 0..4 {
        world.av.post("/facts", &json!({ "facts": twice })).expect(200);
    }
    assert_eq!(items(world.av.get("/flights")).len(), 1);
    let open = world.av.get("/open-questions").expect(200).json();
    assert_eq!(open["questions"].as_array().map(Vec::len), Some(1), "{open}");
    // Settled by two at once: one settles it.
    let question = open["questions"][0]["id"].as_str().unwrap().to_owned();
    let settle = json!({ "leave_out": true, "reason": "no such model" });
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8)
            .map(|_| {
                scope.spawn(|| world.av.post(&format!("/questions/{question}/settlement"), &settle).status)
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    let done = statuses.iter().filter(|status| **status == 201).count();
    assert!(done <= 1 && statuses.iter().all(|status| *status < 500), "{statuses:?}");
});

on_both!(what_lets_in_once_lets_in_once, |world| {
    // The code that begins a club, tried again and by others at once.
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper"] });
    let zone = "Europe/London".parse().unwrap();
    let code = preen_api::resources::setup::store::create_club(
        &mut world.conn(),
        "reedbed",
        "A club",
        zone,
        world.clock.now(),
    )
    .unwrap()
    .unwrap();
    let setup = json!({ "club": "reedbed", "code": code, "member": member });
    let nobody = world.av.with_token("");
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(|| nobody.post("/setup", &setup).status)).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 201).count(), 1, "{statuses:?}");
    let again = nobody.post("/setup", &setup);
    assert!((400..500).contains(&again.status), "{}", again.text);
    // A one-time password: whoever has it after it was replaced has nothing.
    world.member("BK", &["pilot"], &["read"]);
    world.av.put("/members/BK/password", None, &json!({ "new_password": "three old oars" })).expect(200);
    let body = json!({ "club": "quillmarsh", "member": "BK", "password": "three old oars" });
    let first = nobody.post("/session", &body).expect(201);
    let (cookie, csrf) = (
        first.header("set-cookie").unwrap().split(';').next().unwrap().to_owned(),
        first.json()["csrf_token"].as_str().unwrap().to_owned(),
    );
    let change = nobody
        .request("PUT", "/members/BK/password")
        .header("cookie", &cookie)
        .header("origin", world.url())
        .header("x-csrf-token", &csrf)
        .json(&json!({ "new_password": "four new rudders" }));
    Reply::of(change).expect(200);
    nobody.post("/session", &body).problem(401, "sign_in_wrong");
    Reply::of(nobody.request("GET", "/session").header("cookie", &cookie)).problem(401, "session_ended");
});
