//! A long mixed load at a steady pace on services of their own, one for each database at the same time: what members ask
//! and log, some of it again and again, some of it wrong. Told are answers, errors, times of each kind and memory.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant as Stopwatch};

use preen_api::db::conn::Place;
use preen_tests::waiting::rest;
use serde_json::{Value, json};

use crate::club::{self, Extent};
use crate::load::{Connection, Measured, Reply, request};
use crate::programs::{Memory, Process, Programs};
use crate::service::{CLUB, Folder, How, Served, everything};

/// How long and how much.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// How long.
    pub time: Duration,
    /// Requests a second for each service.
    pub pace: f64,
    /// Connections to each.
    pub connections: u32,
    /// How often memory is looked at.
    pub look: Duration,
}

/// What one service went through.
#[derive(Debug, Default)]
pub struct Soaked {
    /// By kind of request.
    pub kinds: BTreeMap<&'static str, Measured>,
    /// Seconds since the start, and the memory then.
    pub memory: Vec<(f64, Memory)>,
    /// Answers that should not be.
    pub wrong: Vec<String>,
}

/// One request of the mix: its kind, its bytes, the statuses that are right.
type Turn = (&'static str, Vec<u8>, &'static [u16]);

/// Ten flights in one outbox.
const OUTBOX: &str = "outbox of 10";

/// The mix; a flight, once logged, stays logged.
fn turn(number: u64, extent: Extent, token: &str) -> Turn {
    let model = u32::try_from(number.wrapping_mul(7_919) % u64::from(extent.models)).unwrap();
    let get = |path: &str| request("GET", &format!("/api/v1{path}"), token, &[], None);
    let page = |path: &str| request("GET", path, "", &[], None);
    let post = |path: &str, body: &Value| {
        request("POST", &format!("/api/v1{path}"), token, &[], Some(&body.to_string()))
    };
    // One after the other, in an outbox as well: a model flies one flight at a time.
    let flight = |more: u64| {
        let at = club::end().plus_seconds(i64::try_from(number * 20 + more * 2).unwrap());
        club::short_flight(model, at)
    };
    match number % 25 {
        0 | 12 => ("may-fly board", get("/may-fly"), &[200]),
        1 => ("due list", get("/due"), &[200]),
        2..=6 => ("one model", get(&format!("/may-fly?model=L-{model}")), &[200]),
        7 | 8 => ("list", get(&format!("/flights?model=L-{model}&limit=50")), &[200]),
        9 => ("balance", get(&format!("/models/L-{model}/balance")), &[200]),
        10 => ("usage", get(&format!("/models/L-{model}/usage")), &[200]),
        11 if number % 1_000 == 11 => ("sheet", get(&format!("/models/L-{model}/field-card.pdf")), &[200]),
        11 => ("findings", get(&format!("/findings?model=L-{model}")), &[200]),
        13..=18 => ("flight", post("/flights", &json!(flight(0))), &[201]),
        19 => {
            let items: Vec<Value> =
                (0..10).map(flight).map(|fact| json!({"noun": "flights", "fact": fact})).collect();
            (OUTBOX, post("/facts", &json!({ "facts": items })), &[200])
        }
        20 => ("bench", post("/compute/joiner", &json!({})), &[422]),
        21 => ("not there", get("/models/NOBODY"), &[404]),
        22 => ("without a token", page("/api/v1/may-fly"), &[401]),
        23 => ("sign-in page", page("/sign-in"), &[200]),
        _ => ("description", page("/api/v1/openapi.json"), &[200]),
    }
}

/// Whether all of an outbox was recorded, none of it kept as a question; other answers say by their status what they are.
fn is_whole(kind: &str, reply: &Reply) -> bool {
    let results = || serde_json::from_slice::<Value>(&reply.body).unwrap()["results"].take();
    kind != OUTBOX || results().as_array().unwrap().iter().all(|result| result["status"] == "recorded")
}

fn soak(process: &Process, token: &str, extent: Extent, effort: Effort) -> Soaked {
    let (number, all) = (AtomicU64::new(0), Mutex::new(Soaked::default()));
    let started = Stopwatch::now();
    std::thread::scope(|scope| {
        for _ in 0..effort.connections {
            scope.spawn(|| {
                while started.elapsed() < effort.time {
                    ask_at_pace(process.address, &number, &all, started, token, extent, effort);
                }
            });
        }
        scope.spawn(|| {
            let mut next = Duration::ZERO;
            while started.elapsed() < effort.time {
                wait_until(started, next);
                let memory = process.memory();
                all.lock().unwrap().memory.push((started.elapsed().as_secs_f64(), memory));
                next += effort.look;
            }
        });
    });
    let mut soaked = all.into_inner().unwrap();
    for kind in soaked.kinds.values_mut() {
        kind.micros.sort_unstable();
        kind.seconds = started.elapsed().as_secs_f64();
    }
    soaked
}

fn wait_until(started: Stopwatch, then: Duration) {
    rest(then.saturating_sub(started.elapsed()).min(Duration::from_secs(60)));
}

/// One connection, until it breaks or the time is up.
fn ask_at_pace(
    address: SocketAddr,
    number: &AtomicU64,
    all: &Mutex<Soaked>,
    started: Stopwatch,
    token: &str,
    extent: Extent,
    effort: Effort,
) {
    let Ok(mut connection) = Connection::open(address) else {
        all.lock().unwrap().wrong.push("a connection was refused".to_owned());
        return;
    };
    loop {
        let turn_number = number.fetch_add(1, Ordering::Relaxed);
        wait_until(started, Duration::from_secs_f64(turn_number as f64 / effort.pace));
        if started.elapsed() >= effort.time {
            return;
        }
        let (kind, wanted, right) = turn(turn_number, extent, token);
        let asked = Stopwatch::now();
        let reply = connection.ask(&wanted);
        let micros = asked.elapsed().as_micros().try_into().unwrap_or(u32::MAX);
        let mut all = all.lock().unwrap();
        let status = reply.as_ref().map_or(0, |reply| reply.status);
        let measured = all.kinds.entry(kind).or_default();
        measured.answers += 1;
        measured.micros.push(micros);
        *measured.statuses.entry(status).or_default() += 1;
        let is_right = right.contains(&status) && reply.as_ref().is_ok_and(|reply| is_whole(kind, reply));
        if !is_right && all.wrong.len() < 20 {
            let said = match &reply {
                Ok(reply) => String::from_utf8_lossy(&reply.body).chars().take(300).collect(),
                Err(error) => error.to_string(),
            };
            all.wrong.push(format!("{kind}: {status} {said}"));
        }
        if reply.is_err() {
            return;
        }
    }
}

/// Makes the club on a database and starts a service of its own over it.
fn prepare(programs: &Programs, place: Place, folder: Folder, extent: Extent) -> (Process, String, Folder) {
    let mut served = Served::on(place.clone(), folder, How { workers: Some(1), changes_a_commit: None });
    served.begin_club(CLUB);
    served.record(CLUB, everything(extent));
    let token = served.token().to_owned();
    let folder = served.close();
    let database = match &place {
        Place::File(file) => file.to_string_lossy().into_owned(),
        Place::Server(url) => url.clone(),
    };
    (Process::start(programs, &database, &folder.0.join("photos")), token, folder)
}

/// Soaks a service on each database at the same time.
pub fn both(programs: &Programs, extent: Extent, effort: Effort) -> [(&'static str, Soaked); 2] {
    let folder = Folder::new();
    let file = Place::File(folder.0.join("preen.db"));
    let (sqlite, sqlite_token, _kept) = prepare(programs, file, folder, extent);
    let server = Place::from_url(&preen_tests::cluster::new_database());
    let (postgres, postgres_token, _kept_too) = prepare(programs, server, Folder::new(), extent);
    std::thread::scope(|scope| {
        let one = scope.spawn(|| soak(&sqlite, &sqlite_token, extent, effort));
        let other = scope.spawn(|| soak(&postgres, &postgres_token, extent, effort));
        [("embedded SQLite", one.join().unwrap()), ("PostgreSQL", other.join().unwrap())]
    })
}

/// Prints what a service went through.
pub fn print(name: &str, soaked: &Soaked) {
    println!(
        "\n{name}\n\n| request | answers | p50 ms | p99 ms | most ms | statuses |\n|---|---|---|---|---|---|"
    );
    for (kind, measured) in &soaked.kinds {
        let ms = |part: f64| measured.quantile(part) / 1e3;
        println!(
            "| {kind} | {} | {:.1} | {:.1} | {:.1} | {:?} |",
            measured.answers,
            ms(0.5),
            ms(0.99),
            ms(1.0),
            measured.statuses
        );
    }
    let told: Vec<String> = soaked
        .memory
        .iter()
        .map(|(seconds, memory)| {
            format!("{:.1} of {:.0} MB at {:.0} min", memory.own / 1e6, memory.now / 1e6, seconds / 60.0)
        })
        .collect();
    println!("\nmemory of its own, of all resident with its program: {}", told.join(", "));
    println!("answers that should not be: {}", soaked.wrong.len());
    for wrong in &soaked.wrong {
        println!("* {wrong}");
    }
}

/// Whether nothing was wrong and nothing of the service's own.
pub fn is_clean(soaked: &Soaked) -> bool {
    soaked.wrong.is_empty() && !soaked.kinds.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_the_mix_is_answered_as_it_should_be() {
        let programs = crate::programs::built();
        let effort =
            Effort { time: Duration::from_secs(4), pace: 40.0, connections: 4, look: Duration::from_secs(1) };
        for (name, soaked) in both(&programs, Extent::TINY, effort) {
            assert!(is_clean(&soaked), "{name}: {:?}", soaked.wrong);
            assert!(soaked.memory.iter().all(|(_, memory)| 1e6 < memory.own && memory.own < memory.now));
        }
    }
}
