//! A service with a read replica, set up for real: what it answers from there says how far behind it may be, nobody is
//! shown less than before, and the replica takes over when the primary is killed, without a restart of the service.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use preen_tests::Reply;
use preen_tests::http::Caller;
use preen_tests::pair::Pair;
use preen_tests::waiting::{rest, until};
use serde_json::json;

use crate::load::{Acknowledged, WRITERS, flight};
use crate::{Process, record};

const MAX_LAG_MS: i64 = 3_000;

struct Scene {
    pair: Pair,
    place: String,
    token: String,
    service: Process,
}

fn begin(is_in_step: bool) -> Scene {
    let pair = Pair::start(is_in_step);
    let (place, token) = record::begin_at(pair.new_database());
    let replica = pair.at_replica(&place);
    let settings = [("PREEN_REPLICA", replica.as_str()), ("PREEN_REPLICA_MAX_LAG", "3s")];
    let service = crate::start_with(&place, &token, &settings);
    let scene = Scene { pair, place, token, service };
    until("the replica answers", || behind(&scene.ask("/may-fly")).is_some());
    scene
}

/// How far behind an answer says that it may be.
fn behind(reply: &Reply) -> Option<i64> {
    reply.header("preen-behind-ms").map(|value| value.parse().unwrap())
}

impl Scene {
    fn ask(&self, path: &str) -> Reply {
        self.service.caller.get(path).expect(200)
    }

    fn fly(&self) -> String {
        let (id, body) = flight(0);
        let told = self.service.caller.post("/flights", &body).expect(201);
        assert_eq!(behind(&told), None, "what writes asks the primary");
        id
    }

    /// Flights of the model by its answer, its list and its feed, which must agree and hold the newest.
    fn sees(&self, newest: &str) -> [Reply; 3] {
        let used = self.ask("/models/SG-00/usage");
        let list = self.ask("/flights?limit=200&model=SG-00");
        let feed = self.ask("/facts");
        let items = list.json()["items"].as_array().unwrap().len();
        assert_eq!(used.json()["flights"], json!(items));
        assert!(list.text.contains(newest), "{newest} was acknowledged and is not in the list");
        assert!(feed.text.contains(newest), "{newest} was acknowledged and is not in the feed");
        [used, list, feed]
    }
}

/// Lag is stated, never hides what was acknowledged, and beyond the maximum the primary is asked.
pub fn tells_its_lag() -> String {
    let scene = begin(false);
    let (mut from_replica, mut most) = (0, 0);
    for _ in 0..40 {
        let newest = scene.fly();
        for reply in scene.sees(&newest) {
            from_replica += u32::from(behind(&reply).is_some());
            most = most.max(behind(&reply).unwrap_or(0));
        }
    }
    // An idle primary is no lag.
    let idle = Instant::now();
    while idle.elapsed() < Duration::from_secs(5) {
        let said = behind(&scene.ask("/may-fly")).expect("the replica answers");
        assert!(said < MAX_LAG_MS, "{said} ms behind an idle primary");
        most = most.max(said);
        rest(Duration::from_millis(100));
    }
    // Who only reads is not kept from the replica by what another club does not see there yet.
    for (held_up, what) in [(true, "held up"), (false, "cut")] {
        let change = |is_on: bool| if held_up { scene.pair.hold_up(is_on) } else { scene.pair.cut(is_on) };
        change(true);
        let newest = scene.fly();
        for reply in scene.sees(&newest) {
            assert_eq!(behind(&reply), None, "{what}: the replica does not have it yet");
        }
        change(false);
        until("the replica has caught up", || behind(&scene.ask("/flights")).is_some());
        scene.sees(&newest);
    }
    let mut lags = Vec::new();
    // A service that has seen nothing of a change elsewhere may show less, says so, and no longer than the maximum.
    let replica = scene.pair.at_replica(&scene.place);
    let settings = [("PREEN_REPLICA", replica.as_str()), ("PREEN_REPLICA_MAX_LAG", "3s")];
    let other = crate::start_with(&scene.place, &scene.token, &settings);
    until("the replica answers the other", || behind(&other.caller.get("/may-fly").expect(200)).is_some());
    scene.pair.hold_up(true);
    let newest = scene.fly();
    let since = Instant::now();
    loop {
        let reply = other.caller.get("/flights?limit=200&model=SG-00").expect(200);
        let Some(said) = behind(&reply) else {
            assert!(reply.text.contains(&newest), "the primary has it");
            break;
        };
        if !reply.text.contains(&newest) {
            let real = i64::try_from(since.elapsed().as_millis()).unwrap();
            assert!(said + 200 >= real, "{said} ms said, and {real} ms behind");
            assert!(said <= MAX_LAG_MS);
        }
        lags.push(said);
        rest(Duration::from_millis(100));
    }
    assert!(lags.len() > 5, "{lags:?}");
    scene.pair.hold_up(false);
    until("the other is answered by the replica again", || {
        behind(&other.caller.get("/may-fly").expect(200)).is_some()
    });
    scene.pair.kill_replica();
    let newest = scene.fly();
    scene.sees(&newest);
    assert_eq!(behind(&scene.ask("/may-fly")), None);
    record::holds(&scene.service, &scene.place);
    format!(
        "{from_replica} of 120 reads after a write by the replica, at most {most} ms said in step, {} ms when held up",
        lags.iter().max().unwrap()
    )
}

/// Writes flights until told to stop; the same again until it is known what became of it.
fn write(writer: usize, caller: &Caller, facts: &Mutex<Vec<String>>, busy: &AtomicU64, is_over: &AtomicBool) {
    while !is_over.load(Ordering::Relaxed) {
        let (id, body) = flight(writer);
        loop {
            let reply = caller.post("/flights", &body);
            if reply.status == 503 {
                reply.problem(503, "busy");
                assert!(reply.header("retry-after").is_some());
                busy.fetch_add(1, Ordering::Relaxed);
                rest(Duration::from_millis(20));
                continue;
            }
            assert!(matches!(reply.status, 200 | 201), "{}", reply.text);
            facts.lock().unwrap().push(id);
            break;
        }
    }
}

/// The primary is killed under load and the replica promoted: nothing that was acknowledged is lost.
pub fn takes_over() -> String {
    let scene = begin(true);
    let (facts, busy, is_over) = (Mutex::new(Vec::new()), AtomicU64::new(0), AtomicBool::new(false));
    let recorded = || facts.lock().unwrap().len();
    let (mut away, mut refused, mut back) = (0, 0, Duration::ZERO);
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (caller, facts, busy, is_over) = (scene.service.caller.clone(), &facts, &busy, &is_over);
            scope.spawn(move || write(writer, &caller, facts, busy, is_over));
        }
        until("flights are recorded", || recorded() > 40);
        scene.pair.kill_primary();
        // Until it is known that the primary is away, who asks may be told to try again.
        until("the replica answers alone", || {
            let reply = scene.service.caller.get("/may-fly");
            refused += u32::from(reply.status == 503);
            reply.status == 200 && behind(&reply).is_some()
        });
        let since = Instant::now();
        while since.elapsed() < Duration::from_secs(4) {
            for path in ["/may-fly", "/due", "/models", "/components"] {
                let reply = scene.ask(path);
                assert!(behind(&reply).is_some(), "{path} does not say how far behind it may be");
                away += 1;
            }
        }
        let (_, body) = flight(0);
        let told = scene.service.caller.post("/flights", &body);
        told.problem(503, "busy");
        assert!(told.header("retry-after").is_some());
        let before = recorded();
        let promoted = Instant::now();
        scene.pair.promote();
        until("flights are recorded by the server that took over", || recorded() > before + 40);
        back = promoted.elapsed();
        is_over.store(true, Ordering::Relaxed);
    });
    let acknowledged = Acknowledged { facts: facts.into_inner().unwrap(), swaps: Vec::new() };
    record::look(&scene.service, &scene.place, &acknowledged);
    format!(
        "{} facts acknowledged, none lost; {away} answers from the replica alone, {refused} before that told to try \
         again, {} writes told so; 40 more recorded {} ms after the promotion",
        acknowledged.facts.len(),
        busy.into_inner(),
        back.as_millis()
    )
}

/// The replica lacked the newest commits and is promoted: the service answers by the record as it is then.
pub fn lacked_commits() -> String {
    let scene = begin(false);
    let kept = scene.fly();
    scene.sees(&kept);
    until("the replica has it", || {
        let reply = scene.ask("/flights?limit=200");
        behind(&reply).is_some() && reply.text.contains(&kept)
    });
    scene.pair.cut(true);
    let lost: Vec<String> = (0..3).map(|_| scene.fly()).collect();
    let held = scene.ask("/may-fly").json()["revision"].as_i64().unwrap();
    scene.pair.kill_primary();
    // What is in memory is newer than the replica and is answered; lists would show less, and wait.
    until("it is known that the primary is away", || {
        let reply = scene.service.caller.get("/may-fly");
        reply.status == 200 && behind(&reply).is_some() && reply.json()["revision"] == json!(held)
    });
    scene.service.caller.get("/flights").problem(503, "busy");
    scene.pair.promote();
    until("the server that took over is found", || scene.service.caller.get("/flights").status == 200);
    let now = scene.ask("/may-fly").json()["revision"].as_i64().unwrap();
    assert_eq!(now, held - 3, "three changes are gone with the primary");
    let list = scene.ask("/flights?limit=200&model=SG-00").text;
    assert!(list.contains(&kept) && lost.iter().all(|id| !list.contains(id)));
    let again: Vec<String> = (0..4).map(|_| scene.fly()).collect();
    for id in &again {
        scene.sees(id);
    }
    let fresh = crate::start(&scene.place, &scene.token);
    for path in ["/models/SG-00/usage?as_of=2026-01-01T12:00:00Z", "/facts", "/flights?limit=200"] {
        assert_eq!(scene.ask(path).text, fresh.caller.get(path).expect(200).text, "{path}");
    }
    record::holds(&scene.service, &scene.place);
    format!("{} changes lost with the primary, {} recorded in their place", lost.len(), again.len())
}
