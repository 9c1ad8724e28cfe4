//! The service is told to stop under load: what it had begun is finished and answered, it ends by itself, in time and
//! without a fault; what was acknowledged is there, and what was kept was acknowledged.

use std::collections::BTreeSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use diesel::RunQueryDsl as _;
use preen_api::audit::verify::verify;
use preen_api::db::conn::{Place, open};
use preen_api::resources::nouns;
use preen_domain::time::Instant as Moment;
use preen_tests::Database;
use preen_tests::http::Caller;
use preen_tests::process::Process;
use preen_tests::waiting::{rest, until};
use preen_tests::world::{CLUB, design, new_id, part};
use serde_json::{Value, json};

use crate::process::{Records, begin_club};

/// Writers at once, each with a connection of its own.
const WRITERS: usize = 8;
/// How often it is stopped.
const ROUNDS: usize = 5;

/// What became of what was sent.
#[derive(Default)]
struct Sent {
    acknowledged: Mutex<Vec<String>>,
    /// Sent, and nothing came back.
    unanswered: Mutex<Vec<String>>,
    told_to_wait: AtomicU64,
}

static NUMBER: AtomicU64 = AtomicU64::new(1);

/// Writes until nobody answers any more.
fn write(writer: usize, caller: &Caller, sent: &Sent) {
    loop {
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let id = format!("01990000-0000-7000-8000-{number:012x}");
        let at = Moment::from_micros(1_745_000_000_000_000).plus_seconds(60 * i64::try_from(number).unwrap());
        let body = json!({
            "id": id, "model": format!("SG-0{writer}"), "pilot": "AV", "occurred_at": at, "airtime_min": 0.5,
            "landing": "normal", "is_post_flight_logged": true,
        });
        let Ok(reply) = caller.request("POST", "/flights").json(&body).send() else {
            sent.unanswered.lock().unwrap().push(id);
            return;
        };
        match reply.status().as_u16() {
            201 => sent.acknowledged.lock().unwrap().push(id),
            503 => drop(sent.told_to_wait.fetch_add(1, Ordering::Relaxed)),
            status => panic!("{status}: {:?}", reply.text()),
        }
    }
}

fn begin(service: &mut Process, code: &str) {
    begin_club(service, code);
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(new_id());
        service.caller.post(&format!("/{noun}"), &body).expect(201);
    };
    add("designs", design("SEDGE"));
    for writer in 0..WRITERS {
        add("models", preen_tests::world::model(&format!("SG-0{writer}"), "AV"));
    }
}

/// Stopped under load, again and again.
pub fn under_load(database: Database) -> String {
    let (records, code) = Records::with_club(database);
    let mut service = Process::start(records.serve(), "");
    begin(&mut service, &code);
    let token = service.caller.token.clone();
    let sent = Sent::default();
    let (mut longest, mut signals) = (Duration::ZERO, ["TERM", "INT"].iter().cycle());
    for round in 0..ROUNDS {
        if round > 0 {
            service = Process::start(records.serve(), "");
        }
        let url = service.caller.base().to_owned();
        let goal = sent.acknowledged.lock().unwrap().len() + 40;
        std::thread::scope(|scope| {
            for writer in 0..WRITERS {
                let (caller, sent) = (Caller::new(&url, &token), &sent);
                scope.spawn(move || write(writer, &caller, sent));
            }
            until("load", || sent.acknowledged.lock().unwrap().len() >= goal);
            service.signal(signals.next().unwrap());
            let begun = Instant::now();
            let (status, log) = service_ended(&mut service);
            longest = longest.max(begun.elapsed());
            assert!(status.success(), "{status}: {log}");
            assert!(log.contains("told to stop"), "{log}");
            assert!(!log.contains("\"level\":\"ERROR\""), "{log}");
        });
    }
    let mut conn = open(&Place::from_url(&records.database)).unwrap();
    assert_eq!(verify(&mut conn, nouns::TABLES, CLUB).unwrap().broken, None);
    let kept = kept(&mut conn);
    let acknowledged: BTreeSet<String> = sent.acknowledged.into_inner().unwrap().into_iter().collect();
    let lost: Vec<&String> = acknowledged.iter().filter(|id| !kept.contains(*id)).collect();
    assert_eq!(lost, Vec::<&String>::new(), "acknowledged, and not on record");
    let unanswered = sent.unanswered.into_inner().unwrap();
    let kept_unanswered = unanswered.iter().filter(|id| kept.contains(*id)).count();
    assert_eq!(kept_unanswered, 0, "on record, and nobody was told");
    assert_eq!(kept.len(), acknowledged.len());
    format!(
        "{ROUNDS} stops under load of {WRITERS}: {} acknowledged, 0 lost, {} unanswered of which 0 kept, {} told to \
         wait, ended within {:.1} s",
        acknowledged.len(),
        unanswered.len(),
        sent.told_to_wait.into_inner(),
        longest.as_secs_f64()
    )
}

fn service_ended(service: &mut Process) -> (std::process::ExitStatus, String) {
    service.wait(Duration::from_secs(26))
}

#[derive(diesel::QueryableByName)]
struct Kept {
    #[diesel(sql_type = diesel::sql_types::Text)]
    id: String,
}

fn kept(conn: &mut preen_api::db::conn::Db) -> BTreeSet<String> {
    let rows: Vec<Kept> = diesel::sql_query("SELECT id FROM flights").load(conn).unwrap();
    rows.into_iter().map(|row| row.id).collect()
}

/// What is under way when it is told to stop is finished, though it lasts, and nobody new comes in; a second word ends it
/// at once.
pub fn in_flight() -> String {
    let (records, code) = Records::with_club(Database::Postgres);
    let mut service = Process::start(records.serve(), "");
    begin(&mut service, &code);
    let mut other = open(&Place::from_url(&records.database)).unwrap();
    let hold = |other: &mut preen_api::db::conn::Db| {
        other.begin_write().unwrap();
        diesel::sql_query("SELECT id FROM clubs FOR UPDATE").execute(other).unwrap();
    };
    let part = |tag: &str| {
        let mut body = part(tag, "servo");
        body["id"] = json!(new_id());
        body
    };
    hold(&mut other);
    let caller = service.caller.clone();
    // Connected before the word comes.
    let watcher = Caller::new(caller.base(), "");
    watcher.get("/health/ready").expect(200);
    let waited = std::thread::scope(|scope| {
        let sent = scope.spawn(|| caller.post("/parts", &part("P-1")));
        until("it waits", || {
            preen_tests::exposition::Numbers::of(&watcher).get("preen_requests_in_flight", &[]) > 1.0
        });
        service.signal("TERM");
        let begun = Instant::now();
        rest(Duration::from_millis(1_500));
        let newcomer = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
        let refused = newcomer.get(format!("{}/health/live", caller.base())).send().unwrap_err();
        assert!(refused.is_connect(), "{refused}");
        other.roll_back().unwrap();
        sent.join().unwrap().expect(201);
        begun.elapsed()
    });
    let (status, log) = service_ended(&mut service);
    assert!(status.success(), "{log}");

    let mut service = Process::start(records.serve(), "");
    service.caller.token = caller.token.clone();
    hold(&mut other);
    let at_once = std::thread::scope(|scope| {
        let caller = service.caller.clone();
        let body = part("P-2");
        scope.spawn(move || caller.request("POST", "/parts").json(&body).send().is_err());
        let watcher = Caller::new(service.caller.base(), "");
        until("it waits", || {
            preen_tests::exposition::Numbers::of(&watcher).get("preen_requests_in_flight", &[]) > 1.0
        });
        service.signal("TERM");
        rest(Duration::from_millis(300));
        let begun = Instant::now();
        service.signal("TERM");
        let (status, log) = service_ended(&mut service);
        assert_eq!(status.code(), Some(1), "{log}");
        begun.elapsed()
    });
    assert!(at_once < Duration::from_secs(1), "{at_once:?}");
    other.roll_back().unwrap();
    let names = "SELECT id FROM names WHERE tag = 'P-2'";
    let rows: Vec<Kept> = diesel::sql_query(names).load(&mut other).unwrap();
    assert_eq!(rows.len(), 0, "what nobody was told of is not there");
    format!(
        "answered {:.1} s after the word; a second one ends it in {} ms",
        waited.as_secs_f64(),
        at_once.as_millis()
    )
}
