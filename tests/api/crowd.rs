//! Many at once: nothing is lost, nothing is doubled, every change has its own revision.

use std::collections::BTreeSet;

use preen_tests::on_both;
use preen_tests::world::{flight, items, model, new_id};
use serde_json::{Value, json};

const CALLERS: usize = 8;
const EACH: usize = 10;

on_both!(changes_at_once_are_all_kept_in_a_row, |world| {
    world.small_fleet();
    let before = world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap();
    let revisions: Vec<i64> = std::thread::scope(|scope| {
        let callers: Vec<_> = (0..CALLERS)
            .map(|caller| {
                scope.spawn(move || {
                    let log = |number: usize| {
                        let at = format!("2026-05-20T1{caller}:{number:02}:00Z");
                        let mut short = flight("SG-01", "AV", &at);
                        short["airtime_min"] = json!(0.5);
                        let stored = world.av.post("/flights", &short).expect(201).json();
                        stored["revision"].as_i64().unwrap()
                    };
                    (0..EACH).map(log).collect::<Vec<i64>>()
                })
            })
            .collect();
        callers.into_iter().flat_map(|caller| caller.join().unwrap()).collect()
    });
    let distinct: BTreeSet<i64> = revisions.iter().copied().collect();
    let expected: BTreeSet<i64> = (before + 1..=before + 80).collect();
    assert_eq!(distinct, expected);
    assert_eq!(world.av.get("/models/SG-01/usage").expect(200).json()["flights"], 80);
});

on_both!(the_same_sent_by_many_counts_once, |world| {
    world.small_fleet();
    let body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let callers: Vec<_> =
            (0..CALLERS).map(|_| scope.spawn(|| world.av.post("/flights", &body).status)).collect();
        callers.into_iter().map(|caller| caller.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 201).count(), 1, "{statuses:?}");
    assert!(statuses.iter().all(|status| *status == 200 || *status == 201), "{statuses:?}");
    assert_eq!(items(world.av.get("/flights")).len(), 1);
});

on_both!(two_phones_fit_the_same_part_and_one_is_refused, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    let tags: Vec<String> = (0..CALLERS).map(|number| format!("TW-{number}")).collect();
    for tag in &tags {
        world.add("models", model(tag, "AV"));
    }
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let callers: Vec<_> = tags
            .iter()
            .map(|tag| {
                scope.spawn(move || {
                    let body: Value = json!({
                        "id": new_id(), "component": "PN-1", "inside": { "model": tag }, "position": "W.C",
                        "occurred_at": "2026-05-20T10:00:00Z"
                    });
                    world.av.post("/installations", &body).status
                })
            })
            .collect();
        callers.into_iter().map(|caller| caller.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 201).count(), 1, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|status| **status == 409).count(), CALLERS - 1, "{statuses:?}");
});

on_both!(clubs_keep_their_own_count, |world| {
    world.small_fleet();
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper", "builder"] });
    let other = world.av.with_token(&world.begin_club("reedbed", &member));
    let revision = |caller: &preen_tests::http::Caller| {
        caller.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap()
    };
    let (here, there) = (revision(&world.av), revision(&other));
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    assert_eq!((revision(&world.av), revision(&other)), (here + 1, there));
});
