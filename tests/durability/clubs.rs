//! Eight clubs are written at once on one PostgreSQL server: nobody waits for a lock that another club holds. The server
//! itself tells of each wait longer than a millisecond; that it would tell is shown by two processes that write one club.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use diesel::connection::SimpleConnection as _;
use diesel::{Connection as _, PgConnection};
use preen_api::db::conn::{Place, open};
use preen_api::resources::setup;
use preen_tests::http::Caller;
use preen_tests::world::{design, model, new_id};
use preen_tests::{Database, cluster};
use serde_json::json;

use crate::load::next;
use crate::{Process, record};

const CLUBS: usize = 8;
/// How long each part writes.
const SPAN: Duration = Duration::from_secs(3);

/// A club with one model, and the token of its keeper.
fn begin_club(place: &str, process: &Process, club: &str) -> Caller {
    let mut conn = open(&Place::from_url(place)).unwrap();
    let now = "2025-04-05T06:00:00Z".parse().unwrap();
    let zone = "Europe/London".parse().unwrap();
    let code = setup::store::create_club(&mut conn, club, "A club", zone, now).unwrap().unwrap();
    let keeper = json!({ "id": new_id(), "tag": "AV", "roles": ["pilot", "builder", "stores", "keeper"] });
    let wanted = json!({ "club": club, "code": code, "member": keeper });
    let made = process.caller.with_token("").post("/setup", &wanted).expect(201).json();
    let caller = process.caller.with_token(made["token"]["token"].as_str().unwrap());
    let mut wing = design("SEDGE");
    wing["id"] = json!(new_id());
    caller.post("/designs", &wing).expect(201);
    let mut glider = model("SG-00", "AV");
    glider["id"] = json!(new_id());
    caller.post("/models", &glider).expect(201);
    caller
}

/// Flights of a club from now on; how many were recorded, and how often the service was too busy.
fn write(caller: &Caller, recorded: &AtomicU64) {
    let end = Instant::now() + SPAN;
    while Instant::now() < end {
        let (id, at) = next();
        let body = json!({
            "id": id, "model": "SG-00", "pilot": "AV", "occurred_at": at, "airtime_min": 0.5,
            "landing": "normal", "is_post_flight_logged": true,
        });
        let reply = caller.post("/flights", &body);
        if reply.status == 503 {
            reply.problem(503, "busy");
            continue;
        }
        reply.expect(201);
        recorded.fetch_add(1, Ordering::Relaxed);
    }
}

/// Writes at once for all these callers; changes a second.
fn rate(callers: &[Caller]) -> f64 {
    let recorded = AtomicU64::new(0);
    std::thread::scope(|scope| {
        for caller in callers {
            let recorded = &recorded;
            scope.spawn(move || write(caller, recorded));
        }
    });
    let recorded = u32::try_from(recorded.into_inner()).unwrap();
    f64::from(recorded) / SPAN.as_secs_f64()
}

/// Writes eight clubs, looks for waits, and tells how fast it was.
pub fn never_wait_for_each_other() -> String {
    let (place, token) = record::begin(Database::Postgres);
    let mut owner = PgConnection::establish(&place).unwrap();
    let name = cluster::name_of(&place);
    for setting in ["log_lock_waits = on", "deadlock_timeout = '1ms'"] {
        owner.batch_execute(&format!("ALTER DATABASE {name} SET {setting}")).unwrap();
    }
    drop(owner);
    let one = crate::start(&place, &token);
    let clubs: Vec<Caller> =
        (0..CLUBS).map(|number| begin_club(&place, &one, &format!("club-{number}"))).collect();

    let alone = rate(&clubs[..1]);
    let before = cluster::lock_waits(&place).len();
    let together = rate(&clubs);
    let waits = cluster::lock_waits(&place).split_off(before);
    // One process serves a club with one writer at a time, so that whoever waits here waits for another club.
    assert!(waits.is_empty(), "{} waits, such as {}", waits.len(), waits[0]);

    let two = crate::start(&place, &token);
    let both = [clubs[0].clone(), two.caller.with_token(&clubs[0].token)];
    let at_two = rate(&both);
    let seen = cluster::lock_waits(&place).len() - before;
    assert!(seen > 0, "two processes that write one club wait for each other, and the server tells of none");
    format!(
        "one club {alone:.0} changes/s, eight {together:.0} ({:.1} times), no wait between them; one club through two \
         processes {at_two:.0}, {seen} waits",
        together / alone
    )
}
