//! Two requests at the same moment for one seat, and for one part: exactly one wins, a thousand times.

use std::sync::Barrier;

use preen_domain::time::Instant;
use preen_tests::http::Caller;
use preen_tests::on_both;
use preen_tests::world::{World, design, model, new_id, part};
use serde_json::{Value, json};

/// Clubs that race at the same time.
const CLUBS: usize = 4;
/// Rounds in each of them.
const ROUNDS: i64 = 250;
/// When the first round is.
const FIRST: &str = "2026-01-01T08:00:00Z";

/// A club with two models, each with an empty seat for a panel, and two panels.
fn club(world: &World, number: usize) -> Caller {
    let roles = json!(["pilot", "builder", "stores", "inspector", "keeper"]);
    let member = json!({ "id": new_id(), "tag": "AV", "roles": roles });
    let caller = world.av.with_token(&world.begin_club(&format!("racing-{number}"), &member));
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(new_id());
        caller.post(&format!("/{noun}"), &body).expect(201);
    };
    add("designs", design("SEDGE"));
    add("parts", part("PANEL", "panel"));
    for (tag, panel) in [("SG-01", "PN-1"), ("SG-02", "PN-2")] {
        add("models", model(tag, "AV"));
        let panel = json!({
            "tag": panel, "part": "PANEL", "mass_g": 10.4, "state": "serviceable", "seat": "PANEL",
            "design": "SEDGE",
        });
        add("components", panel);
    }
    caller
}

fn fit(caller: &Caller, panel: &str, model: &str, at: Instant) -> (u16, Value) {
    let body = json!({
        "id": new_id(), "component": panel, "inside": { "model": model }, "position": "W.C",
        "occurred_at": at.to_string(),
    });
    let reply = caller.post("/installations", &body);
    (reply.status, reply.json())
}

/// One club's rounds: in the even ones two panels want the seat of one model, in the odd ones one panel is wanted
/// by two models. The winner is taken out again.
fn race(caller: &Caller) {
    let first: Instant = FIRST.parse().unwrap();
    let start = Barrier::new(2);
    for round in 0..ROUNDS {
        let at = first.plus_seconds(round * 120);
        let wishes = if round % 2 == 0 {
            [("PN-1", "SG-01"), ("PN-2", "SG-01")]
        } else {
            [("PN-1", "SG-01"), ("PN-1", "SG-02")]
        };
        let replies: Vec<(u16, Value)> = std::thread::scope(|scope| {
            let wish = |(panel, model): (&'static str, &'static str)| {
                let start = &start;
                scope.spawn(move || {
                    start.wait();
                    fit(caller, panel, model, at)
                })
            };
            let both = wishes.map(wish);
            both.into_iter().map(|one| one.join().unwrap()).collect()
        });
        let mut statuses: Vec<u16> = replies.iter().map(|(status, _)| *status).collect();
        statuses.sort_unstable();
        assert_eq!(statuses, [201, 409], "round {round}: {replies:?}");
        let (_, lost) = replies.iter().find(|(status, _)| *status == 409).unwrap();
        assert_eq!(lost["code"], "refused_by_rule", "{lost}");
        let (_, won) = replies.iter().find(|(status, _)| *status == 201).unwrap();
        let out = json!({
            "id": new_id(), "component": won["component"], "installation": won["id"], "reason": "upgrade",
            "occurred_at": at.plus_seconds(60).to_string(),
        });
        caller.post("/removals", &out).expect(201);
    }
}

on_both!(two_want_one_seat_and_exactly_one_gets_it, |world| {
    let clubs: Vec<Caller> = (0..CLUBS).map(|number| club(world, number)).collect();
    std::thread::scope(|scope| {
        let races: Vec<_> = clubs.iter().map(|caller| scope.spawn(move || race(caller))).collect();
        for race in races {
            race.join().unwrap();
        }
    });
    // Each round is there with one installation and one removal, and nothing else.
    let rounds = usize::try_from(ROUNDS).unwrap();
    for caller in &clubs {
        let feed = caller.get("/facts").expect(200).text;
        let count = |noun: &str| {
            let is_of = |line: &&str| serde_json::from_str::<Value>(line).unwrap()["noun"] == noun;
            feed.lines().filter(is_of).count()
        };
        assert_eq!((count("installations"), count("removals")), (rounds, rounds));
    }
});
