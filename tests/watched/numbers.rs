//! `GET /metrics`: the format, counters that move by exactly what was asked, lines that stay bounded, who may read.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use diesel::RunQueryDsl as _;
use preen_api::watch::{Meters, Upkeep};
use preen_tests::exposition::Numbers;
use preen_tests::http::Reply;
use preen_tests::process::Process;
use preen_tests::waiting::until;
use preen_tests::world::{flight, new_id, part};
use preen_tests::{Database, World};
use serde_json::json;

use crate::process::Records;

/// One line of the numbers: its name, its labels, its value.
type Sample = (String, Vec<(String, String)>, f64);

/// What is counted of one operation.
fn operation(method: &str, route: &str, status: &str, times: f64) -> Vec<Sample> {
    let label = |name: &str, value: &str| (name.to_owned(), value.to_owned());
    let mut labels = vec![label("method", method), label("route", route)];
    let time = ("preen_request_duration_seconds_count".to_owned(), labels.clone(), times);
    labels.push(label("status", status));
    vec![("preen_requests_total".to_owned(), labels, times), time]
}

/// Counters move by what was asked, and nothing else moves.
pub fn moves(database: Database) -> String {
    let world = World::begin(database);
    world.small_fleet();
    let before = Numbers::of(&world.av);
    for _ in 0..3 {
        world.av.get("/models").expect(200);
    }
    world.av.get("/models/SG-01").expect(200);
    world.av.get("/models/NOBODY").expect(404);
    for minute in ["10", "20"] {
        let body = flight("SG-01", "AV", &format!("2026-05-20T08:{minute}:00Z"));
        world.av.post("/flights", &body).expect(201);
        world.av.post("/flights", &body).expect(200);
    }
    world.av.post("/flights", &flight("SG-01", "AV", "2027-05-20T08:00:00Z")).expect(422);
    for path in ["/nothing", "/models/SG-01/nothing"] {
        world.av.get(path).expect(404);
    }
    let now = Numbers::of(&world.av);
    let wanted = [
        operation("GET", "/api/v1/models", "2xx", 3.0),
        operation("GET", "/api/v1/models/{id}", "2xx", 1.0),
        operation("GET", "/api/v1/models/{id}", "4xx", 1.0),
        operation("POST", "/api/v1/flights", "2xx", 4.0),
        operation("POST", "/api/v1/flights", "4xx", 1.0),
        operation("GET", "none", "4xx", 2.0),
        operation("GET", "/metrics", "2xx", 1.0),
    ];
    let mut sums = std::collections::BTreeMap::new();
    for (name, labels, times) in wanted.into_iter().flatten() {
        *sums.entry((name, labels.into_iter().collect())).or_insert(0.0) += times;
    }
    // One sender, one change after the other: a group each, whether something was recorded or not.
    for name in ["preen_groups_committed_total", "preen_group_changes_count", "preen_commit_seconds_count"] {
        sums.insert((name.to_owned(), Default::default()), 5.0);
    }
    assert_eq!(now.moved_since(&before), sums);
    assert_eq!(now.get("preen_group_changes_sum", &[]) - before.get("preen_group_changes_sum", &[]), 5.0);
    assert_eq!(now.get("preen_requests_in_flight", &[]), 1.0, "the one that asks");
    assert_eq!(now.get("preen_fleets_held", &[]), 1.0);
    assert!(now.get("preen_fleets_held_bytes", &[]) > 10_000.0);
    assert!(now.get("preen_resident_memory_bytes", &[]) > 1e6);
    assert!(now.get("preen_disk_free_bytes", &[("place", "photos")]) > 0.0);
    let kind = if database == Database::Sqlite { "sqlite" } else { "postgresql" };
    let build = [("version", env!("CARGO_PKG_VERSION")), ("database", kind)];
    assert_eq!(now.get("preen_build_info", &build), 1.0);
    format!("{} lines", now.samples.len())
}

/// Whatever is asked, there are as many lines as there are operations.
pub fn bounded(database: Database) -> String {
    let world = World::begin(database);
    let known = ["api/v1/models", "api/v1/flights", "models", "static", "docs", "health", "metrics"];
    let ask = |number: u64| {
        let start = known.get(usize::try_from(number % 9).unwrap()).copied().unwrap_or("elsewhere");
        let path = match number % 4 {
            0 => format!("/api/v1/{number:x}"),
            1 => format!("/api/v1/models/M{number:x}"),
            2 => format!("/health/{number:x}%22%0a%5c?x={number}"),
            _ => format!("/api/v1/{start}/{number:x}/{}", number * 7),
        };
        let method = ["GET", "POST", "BREW", "DELETE"][usize::try_from(number / 4 % 4).unwrap()];
        let sent = world.av.request(method, &path).send().unwrap();
        assert!(sent.status().as_u16() >= 300, "{method} {path}: {}", sent.status());
    };
    for number in 0..200 {
        ask(number);
    }
    let before = Numbers::of(&world.av);
    let begun = Instant::now();
    for number in 200..10_200 {
        ask(number);
    }
    let took = begun.elapsed();
    let now = Numbers::of(&world.av);
    let lines = |numbers: &Numbers| numbers.samples.keys().cloned().collect::<BTreeSet<_>>();
    let more: Vec<_> = lines(&now).difference(&lines(&before)).cloned().collect();
    assert!(
        more.iter().all(|(_, labels)| labels.get("route").is_some_and(|route| route == "/metrics")),
        "{more:?}"
    );
    for (_, labels) in now.samples.keys() {
        let route = labels.get("route").map_or("none", String::as_str);
        assert!(route == "none" || route.starts_with('/'), "{route}");
        assert!(!route.contains("M2") && !route.contains('?'), "{route}");
    }
    format!("10,000 paths, {} lines, {} us a request", now.samples.len(), took.as_micros() / 10_000)
}

/// This machine itself may read, past any proxy; else whoever has the token.
pub fn readers(database: Database) -> String {
    let mut world = World::begin(database);
    let ask = |world: &World, header: Option<(&str, &str)>, token: &str| {
        let request = world.av.with_token(token).request("GET", "/metrics");
        Reply::of(match header {
            Some((name, value)) => request.header(name, value),
            None => request,
        })
    };
    let token = "a-token-of-a-monitor";
    ask(&world, None, "").expect(200);
    for header in ["X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"] {
        ask(&world, Some((header, "192.0.2.7")), "").problem(404, "no_such_path");
    }
    ask(&world, None, token).problem(401, "token_unknown");
    ask(&world, None, &world.av.token).problem(401, "token_unknown");
    world.restart_with(Upkeep { metrics_token: Some(token.to_owned()), ..Upkeep::default() });
    ask(&world, Some(("X-Forwarded-For", "192.0.2.7")), token).expect(200);
    ask(&world, Some(("X-Forwarded-For", "192.0.2.7")), "a-token-of-a-monitoR").problem(401, "token_unknown");
    ask(&world, Some(("X-Forwarded-For", "192.0.2.7")), "").problem(404, "no_such_path");
    ask(&world, None, "").expect(200);
    "past a proxy the token alone".to_owned()
}

/// Counting takes next to nothing, and so does showing it.
pub fn cost() -> String {
    let meters = Meters::new(0);
    let begun = Instant::now();
    for _ in 0..100_000 {
        meters.begin();
        meters.ended("GET", "/api/v1/models/{id}", Some(200), Duration::from_micros(900));
        meters.end();
    }
    let counted = begun.elapsed();
    assert!(counted < Duration::from_secs(2), "{counted:?}");
    let world = World::begin(Database::Sqlite);
    Numbers::of(&world.av);
    let begun = Instant::now();
    for _ in 0..100 {
        world.av.with_token("").get("/metrics").expect(200);
    }
    let shown = begun.elapsed() / 100;
    assert!(shown < Duration::from_millis(100), "{shown:?}");
    format!("{} ns a request, {} us to show it all", counted.as_nanos() / 100_000, shown.as_micros())
}

/// The newest good backup is known from the start on, and what fails is counted.
pub fn backups() -> String {
    let (records, _code) = Records::with_club(Database::Sqlite);
    let to = records.folder.join("backups");
    let start = |every: &str| {
        let mut command = records.serve();
        command.args(["--backup-every", every, "--backup-to"]).arg(&to).env("PREEN_LOG", "off");
        Process::start(command, "")
    };
    let service = start("1h");
    until("a backup", || Numbers::of(&service.caller).get("preen_backups_made_total", &[]) == 1.0);
    let made = Numbers::of(&service.caller).get("preen_backup_last_good_timestamp_seconds", &[]);
    assert!(made >= Numbers::of(&service.caller).get("preen_started_timestamp_seconds", &[]));
    drop(service);
    let service = start("1h");
    until("the last backup", || {
        Numbers::of(&service.caller).get("preen_backup_last_good_timestamp_seconds", &[]) > 0.0
    });
    let now = Numbers::of(&service.caller);
    assert!((now.get("preen_backup_last_good_timestamp_seconds", &[]) - made).abs() <= 1.0);
    assert_eq!(now.get("preen_backups_made_total", &[]), 0.0);
    drop(service);
    // While it serves, a file comes to stand where the folder was. What was known to be good is told no newer for it.
    let service = start("1s");
    until("a backup", || Numbers::of(&service.caller).get("preen_backups_made_total", &[]) >= 1.0);
    until("a file in the way", || {
        let is_gone = std::fs::remove_dir_all(&to).is_ok();
        is_gone && std::fs::write(&to, "no folder").is_ok()
    });
    until("a failure", || Numbers::of(&service.caller).get("preen_backups_failed_total", &[]) >= 1.0);
    let last_good = || Numbers::of(&service.caller).get("preen_backup_last_good_timestamp_seconds", &[]);
    let (then, failed) = (last_good(), Numbers::of(&service.caller).get("preen_backups_failed_total", &[]));
    until("another failure", || Numbers::of(&service.caller).get("preen_backups_failed_total", &[]) > failed);
    assert_eq!(last_good(), then);
    drop(service);
    // At the next start the setting is named.
    let mut command = records.serve();
    command.arg("--backup-to").arg(&to).env("PREEN_LOG", "off");
    let refused = command.output().unwrap();
    assert_eq!(refused.status.code(), Some(3));
    let said = String::from_utf8(refused.stderr).unwrap();
    assert!(
        said.starts_with("preen-server: --backup-to (PREEN_BACKUP_TO): nothing can be kept in "),
        "{said}"
    );
    "made, found again, failed".to_owned()
}

/// A club whose lock is held elsewhere: its change waits, is seen waiting, and is counted when it is given up.
pub fn busy() -> String {
    let world = World::begin(Database::Postgres);
    let before = Numbers::of(&world.av);
    let mut other = world.conn();
    other.begin_write().unwrap();
    diesel::sql_query("SELECT id FROM clubs FOR UPDATE").execute(&mut other).unwrap();
    std::thread::scope(|scope| {
        let sent = scope.spawn(|| {
            let mut part = part("SV08", "servo");
            part["id"] = json!(new_id());
            world.av.post("/parts", &part).problem(503, "busy");
        });
        // Taken by a writer it does not wait; between its turns it does.
        let mut seen = (0.0_f64, 0.0_f64);
        while !sent.is_finished() {
            let now = Numbers::of(&world.av);
            seen.0 = seen.0.max(now.get("preen_changes_waiting", &[]));
            seen.1 = seen.1.max(now.get("preen_change_oldest_wait_seconds", &[]));
        }
        assert_eq!(seen.0, 1.0);
        assert!(seen.1 > 5.0 && seen.1 < 12.0, "{seen:?}");
    });
    other.roll_back().unwrap();
    let now = Numbers::of(&world.av);
    let refused =
        |numbers: &Numbers, why: &str| numbers.get("preen_changes_refused_total", &[("reason", why)]);
    assert_eq!(refused(&now, "busy") - refused(&before, "busy"), 1.0);
    assert_eq!(refused(&now, "full"), 0.0);
    "seen waiting, then counted".to_owned()
}
