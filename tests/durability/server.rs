//! The PostgreSQL server breaks down and comes back, again and again, while the service takes in facts: who writes
//! meanwhile is told to try again, nothing that was acknowledged is lost, and the service goes on without a restart.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use preen_tests::cluster;
use preen_tests::http::Caller;
use serde_json::{Value, json};

use crate::load::{Acknowledged, WRITERS, next};
use crate::record;

/// How often it breaks down.
const ROUNDS: u32 = 4;

/// Writes flights until told to stop.
fn write(
    writer: usize,
    caller: &Caller,
    facts: &Mutex<Vec<String>>,
    counts: (&AtomicU64, &AtomicU64),
    is_over: &AtomicBool,
) {
    while !is_over.load(Ordering::Relaxed) {
        let (id, at) = next();
        let body = json!({
            "id": id, "model": format!("SG-0{writer}"), "pilot": "AV", "occurred_at": at, "airtime_min": 0.5,
            "landing": "normal", "is_post_flight_logged": true,
        });
        // The same again until it is known what became of it: it counts once.
        loop {
            let reply = caller.request("POST", "/flights").json(&body).send().expect("the service lives on");
            let status = reply.status().as_u16();
            let answer: Value = reply.json().unwrap();
            if matches!(status, 200 | 201) {
                facts.lock().unwrap().push(id);
                counts.0.fetch_add(1, Ordering::Relaxed);
                break;
            }
            assert_eq!((status, &answer["code"]), (503, &json!("busy")), "{answer}");
            counts.1.fetch_add(1, Ordering::Relaxed);
            std::thread::yield_now();
        }
    }
}

/// Lets the server break down some times, then looks at what is on record.
pub fn break_down_and_look() -> String {
    let server = cluster::new_narrow_database();
    let (place, token) = record::begin_at(server.url.clone());
    let service = crate::start(&place, &token);
    let (facts, is_over) = (Mutex::new(Vec::new()), AtomicBool::new(false));
    let (recorded, busy) = (AtomicU64::new(0), AtomicU64::new(0));
    std::thread::scope(|scope| {
        let writers: Vec<_> = (0..WRITERS)
            .map(|writer| {
                let (caller, facts, counts) = (service.caller.clone(), &facts, (&recorded, &busy));
                let is_over = &is_over;
                scope.spawn(move || write(writer, &caller, facts, counts, is_over))
            })
            .collect();
        let until_more = || {
            let goal = recorded.load(Ordering::Relaxed) + 40;
            while recorded.load(Ordering::Relaxed) < goal
                && !writers.iter().any(std::thread::ScopedJoinHandle::is_finished)
            {
                std::thread::yield_now();
            }
        };
        for _ in 0..ROUNDS {
            until_more();
            server.break_down();
        }
        until_more();
        is_over.store(true, Ordering::Relaxed);
    });
    let acknowledged = Acknowledged { facts: facts.into_inner().unwrap(), swaps: Vec::new() };
    record::look(&service, &place, &acknowledged);
    format!(
        "{ROUNDS} times, {} facts acknowledged, {} times told to try again",
        acknowledged.facts.len(),
        busy.load(Ordering::Relaxed)
    )
}
