//! The log of a real process: lines of JSON, and in none of them a name, code, note, token, password or path.

use std::collections::BTreeSet;
use std::time::Duration;

use diesel::RunQueryDsl as _;
use diesel::connection::SimpleConnection as _;
use preen_api::db::conn::{Db, Place, open};
use preen_tests::Database;
use preen_tests::process::Process;
use preen_tests::world::{design, flight, new_id, part};
use serde_json::{Value, json};

use crate::process::{Records, begin_club};

/// What everything is marked with that somebody writes.
const MARK: &str = "ZQMARK";

fn run(conn: &mut Db, sql: &str) {
    match conn {
        Db::Sqlite(conn) => conn.batch_execute(sql).unwrap(),
        Db::Postgres(conn) => conn.batch_execute(sql).unwrap(),
    }
}

/// Many operations, refusals and failures inside, each with marked words; none of them is logged.
pub fn discreet(database: Database) -> String {
    let (records, code) = Records::with_club(database);
    let mut service = Process::start(records.serve(), "");
    begin_club(&mut service, &code);
    let av = &service.caller;
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(new_id());
        av.post(&format!("/{noun}"), &body).expect(201);
    };
    add("members", json!({ "tag": "ZQMARK-M", "name": "ZQMARK Person", "roles": ["pilot"] }));
    add("designs", design("ZQMARK-D"));
    add("parts", part("ZQMARK-P", "servo"));
    let mut model = preen_tests::world::model("ZQMARK-1", "ZQMARK-M");
    model["design"] = json!("ZQMARK-D");
    add("models", model);
    let mut flown = flight("ZQMARK-1", "ZQMARK-M", "2025-06-20T08:00:00Z");
    flown["note"] = json!("ZQMARK note");
    av.post("/flights", &flown).expect(201);
    let mut again = flown.clone();
    again["id"] = json!(new_id());
    av.post("/flights", &again).expect(409);
    for path in [
        "/models/ZQMARK-1",
        "/models/ZQMARK-1/usage",
        "/models/ZQMARK-1/export",
        "/where?part=ZQMARK-P",
        "/members",
        "/facts",
        "/export",
        "/may-fly?model=ZQMARK-1",
    ] {
        let reply = av.get(path);
        assert_eq!(reply.status, 200, "{path}: {}", reply.text);
    }
    for path in ["/models/ZQMARK-NONE", "/ZQMARK", "/photos/ZQMARK.jpg", "/models?ZQMARK=1"] {
        let status = av.get(path).status;
        assert!(status >= 400, "{path}: {status}");
    }
    av.post_text("/flights", "{\"note\": \"ZQMARK").expect(400);
    av.post_text("/flights", "{\"id\": \"ZQMARK\", \"model\": [\"ZQMARK\"]}").expect(422);
    av.post("/facts", &json!({ "facts": [{ "noun": "flights", "fact": { "id": new_id(), "note": MARK } }] }))
        .expect(200);
    av.with_token("preen_quillmarsh_ZQMARKZQMARKZQMARK").get("/models").expect(401);
    let signing = json!({ "club": "ZQMARK", "member": "ZQMARK-M", "password": "ZQMARK password" });
    av.with_token("").post("/session", &signing).expect(401);
    let signing = json!({ "club": "quillmarsh", "member": "ZQMARK-M", "password": "ZQMARK password" });
    av.with_token("").post("/session", &signing).expect(401);
    let page = av.request("GET", "/x").build().unwrap().url().clone();
    let client = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
    for path in ["/models/ZQMARK-1", "/static/ZQMARK.css", "/ZQMARK?ZQMARK=1", "/sign-in?to=ZQMARK"] {
        client.get(page.join(path).unwrap()).header("cookie", "preen=ZQMARK").send().unwrap();
    }
    let failures = fail_inside(&records, &service, &flown);

    let token = service.caller.token.clone();
    service.signal("TERM");
    let (_, log) = service.wait(Duration::from_secs(40));
    let lines: Vec<Value> = log
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect();
    let secret = token.rsplit('_').next().unwrap();
    for line in log.lines() {
        for word in [MARK, "zqmark", secret, code.as_str(), "SELECT", "INSERT"] {
            assert!(!line.contains(word), "`{word}` is in the log: {line}");
        }
    }
    let answered: Vec<&Value> = lines.iter().filter(|line| line["fields"]["message"] == "answered").collect();
    for line in &answered {
        let fields = &line["fields"];
        let names: BTreeSet<&str> = fields.as_object().unwrap().keys().map(String::as_str).collect();
        assert_eq!(
            names,
            BTreeSet::from(["message", "method", "route", "status", "micros", "bytes"]),
            "{line}"
        );
        assert!(
            fields["route"].as_str().is_some_and(|route| route == "none" || route.starts_with('/')),
            "{line}"
        );
        assert!(line["span"]["id"].as_str().is_some_and(|id| id.len() == 36), "{line}");
    }
    assert!(answered.len() > 30, "{}", answered.len());
    let faults = lines.iter().filter(|line| line["level"] == "ERROR").count();
    assert!(faults >= failures, "{faults} of {failures} failures are in the log");
    format!("{} lines, {faults} of failures inside", lines.len())
}

/// Lets the database refuse by value, and rows be unreadable; returns how often the service failed.
fn fail_inside(records: &Records, service: &Process, flown: &Value) -> usize {
    let mut conn = open(&Place::from_url(&records.database)).unwrap();
    let mut failures = 0;
    let av = &service.caller;
    // Two flights with one note: the database says so in its own words.
    run(&mut conn, "CREATE UNIQUE INDEX one_note ON flights (club_id, note)");
    let mut body = flown.clone();
    body["id"] = json!(new_id());
    body["occurred_at"] = json!("2025-06-21T08:00:00Z");
    // A failure inside is described nowhere, so that it is asked past the description.
    let failed = |path: &str| av.request("GET", path).send().unwrap().status().as_u16() == 500;
    let sent = av.request("POST", "/flights").json(&body).send().unwrap();
    failures += usize::from(sent.status().as_u16() == 500);
    run(&mut conn, "DROP INDEX one_note");
    // A list in a column that is none any more, with words of a person in it.
    diesel::sql_query("UPDATE designs SET positions = '{\"ZQMARK\": ZQMARK note}'")
        .execute(&mut conn)
        .unwrap();
    for path in ["/designs", "/designs/ZQMARK-D", "/export", "/facts"] {
        failures += usize::from(failed(path));
    }
    // A table that is gone.
    run(&mut conn, "ALTER TABLE charges RENAME TO charges_away");
    failures += usize::from(failed("/charges"));
    run(&mut conn, "ALTER TABLE charges_away RENAME TO charges");
    assert!(failures >= 3, "{failures}");
    failures
}
