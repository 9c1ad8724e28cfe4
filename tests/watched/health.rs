//! `/health/ready` says no, and why, whenever the service is of no use; `/health/live` says yes all the while.

use std::net::TcpListener;
use std::path::Path;
use std::process::{Command, Stdio};

use diesel::RunQueryDsl as _;
use preen_api::db::conn::{Db, Place, open};
use preen_api::db::migrate;
use preen_tests::http::{Caller, Reply};
use preen_tests::process::Process;
use preen_tests::waiting::until;
use preen_tests::world::scratch;
use preen_tests::{Database, World};
use serde_json::json;

use crate::process::Records;

/// Asks past the keeping of connections: whoever answers during the start closes them.
fn ask(base: &str, path: &str) -> Option<(u16, serde_json::Value, Option<String>)> {
    let client = reqwest::blocking::Client::builder().no_proxy().pool_max_idle_per_host(0).build().unwrap();
    let reply = client.get(format!("{base}{path}")).send().ok()?;
    let again = reply.headers().get("retry-after").map(|value| value.to_str().unwrap().to_owned());
    Some((reply.status().as_u16(), reply.json().ok()?, again))
}

fn sql(conn: &mut Db, text: &str) {
    diesel::sql_query(text).execute(conn).unwrap_or_else(|error| panic!("{text}: {error}"));
}

#[track_caller]
fn not_ready(caller: &Caller, code: &str) {
    let reply = caller.with_token("").get("/health/ready");
    reply.problem(503, code);
    assert_eq!(reply.header("retry-after"), Some("1"));
    caller.with_token("").get("/health/live").expect(200);
}

/// While tables are brought up to date it is answered: that it lives, and that it is starting.
pub fn starting(database: Database) -> String {
    let mut records = Records::bare(database);
    // The migrations wait for whoever holds these.
    let mut other = open(&Place::from_url(&records.database)).unwrap();
    migrate::standing(&mut other).unwrap();
    other.begin_write().unwrap();
    if database == Database::Postgres {
        sql(&mut other, "LOCK TABLE __diesel_schema_migrations IN ACCESS EXCLUSIVE MODE");
    }
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    records.listen = format!("127.0.0.1:{port}");
    let base = format!("http://{}", records.listen);
    let command = records.serve();
    let (seen, service) = std::thread::scope(|scope| {
        let service = scope.spawn(|| Process::start(command, ""));
        until("an answer", || ask(&base, "/health/live").is_some());
        let mut seen = 0;
        for path in ["/health/ready", "/api/v1/models", "/metrics", "/"] {
            let (status, body, again) = ask(&base, path).unwrap();
            assert_eq!((status, &body["code"]), (503, &json!("starting")), "{path}: {body}");
            assert_eq!(again.as_deref(), Some("1"));
            assert_eq!(ask(&base, "/health/live").unwrap().0, 200);
            seen += 1;
        }
        other.roll_back().unwrap();
        (seen, service.join().unwrap())
    });
    service.caller.get("/health/ready").expect(200);
    format!("{seen} answers before it was there")
}

/// Told to stop, it sends whoever shares out requests elsewhere, and still lives while it ends what is under way.
pub fn stopping() -> String {
    let world = World::begin(Database::Sqlite);
    world.av.with_token("").get("/health/ready").expect(200);
    world.state().watch.stop();
    not_ready(&world.av, "stopping");
    world.av.get("/models").expect(200);
    "told, and still answering".to_owned()
}

/// Tables that went further than this program knows, or back.
pub fn tables(database: Database) -> String {
    let world = World::begin(database);
    let ready = || world.av.with_token("").get("/health/ready").expect(200);
    ready();
    let mut conn = world.conn();
    sql(&mut conn, "INSERT INTO __diesel_schema_migrations (version) VALUES ('29991231000000')");
    not_ready(&world.av, "tables_newer");
    sql(&mut conn, "DELETE FROM __diesel_schema_migrations WHERE version = '29991231000000'");
    ready();
    sql(
        &mut conn,
        "UPDATE __diesel_schema_migrations SET version = 'x' || version WHERE version = '20260216000000'",
    );
    not_ready(&world.av, "tables_newer");
    sql(&mut conn, "DELETE FROM __diesel_schema_migrations WHERE version = 'x20260216000000'");
    not_ready(&world.av, "tables_older");
    sql(&mut conn, "INSERT INTO __diesel_schema_migrations (version) VALUES ('20260216000000')");
    ready();
    "newer, older, as it should be".to_owned()
}

/// A database that hangs is told of within the time limit, and looked at once at a time.
pub fn silent() -> String {
    let world = World::begin(Database::Postgres);
    let mut other = world.conn();
    other.begin_write().unwrap();
    sql(&mut other, "LOCK TABLE __diesel_schema_migrations IN ACCESS EXCLUSIVE MODE");
    let begun = std::time::Instant::now();
    not_ready(&world.av, "silent");
    let first = begun.elapsed();
    for _ in 0..20 {
        not_ready(&world.av, "silent");
    }
    let all = begun.elapsed();
    assert!(first.as_secs() < 5 && all.as_secs() < 7, "{first:?} {all:?}");
    other.roll_back().unwrap();
    until("ready again", || world.av.with_token("").get("/health/ready").status == 200);
    format!(
        "told after {:.1} s, twenty times more within {:.1} s",
        first.as_secs_f64(),
        (all - first).as_secs_f64()
    )
}

fn mount(folder: &Path, bytes: u64) -> bool {
    let mut command = Command::new("mount");
    command.args(["-t", "tmpfs", "-o", &format!("size={bytes}"), "preen-watched"]).arg(folder);
    command.stderr(Stdio::null()).status().is_ok_and(|status| status.success())
}

/// A disk that is taken away at the end.
struct Disk<'a>(&'a Path);

impl Drop for Disk<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(self.0).stderr(Stdio::null()).status();
        let _ = std::fs::remove_dir_all(self.0);
    }
}

/// A disk of its own that fills up, for the records and for the photos.
pub fn disks() -> String {
    for place in ["records", "photos"] {
        let folder = scratch("preen-watched-disk");
        if !mount(&folder, 64 << 20) {
            std::fs::remove_dir_all(folder).unwrap();
            return "may not mount a disk here".to_owned();
        }
        let disk = Disk(&folder);
        let mut records = Records::bare(Database::Sqlite);
        if place == "records" {
            records.database = folder.join("preen.db").display().to_string();
        } else {
            records.photos = folder.join("photos");
        }
        let mut command = records.serve();
        command.args(["--min-free", "16MiB"]).env("PREEN_LOG", "off");
        let service = Process::start(command, "");
        service.caller.get("/health/ready").expect(200);
        std::fs::write(folder.join("filler"), vec![1_u8; 50 << 20]).unwrap();
        not_ready(&service.caller, "disk_nearly_full");
        let told = service.caller.get("/health/ready").json();
        assert!(told["detail"].as_str().unwrap().contains(place), "{told}");
        // It says so to balancers; who asks is still answered.
        assert_eq!(Reply::of(service.caller.request("GET", "/models")).status, 401);
        std::fs::remove_file(folder.join("filler")).unwrap();
        service.caller.get("/health/ready").expect(200);
        drop(service);
        drop(disk);
    }
    "records and photos".to_owned()
}
