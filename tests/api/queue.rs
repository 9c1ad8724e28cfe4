//! What waits for a writer: how much may wait, who is next, and what one transaction holds.

use std::collections::BTreeSet;
use std::sync::mpsc::channel;

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use preen_api::db::conn::{Db, Place};
use preen_api::db::door::{DoorError, Kept};
use preen_api::problem::Problem;
use preen_domain::facts::Fact;
use preen_tests::http::{Caller, Reply};
use preen_tests::on_both;
use preen_tests::world::{World, flight, items, new_id};
use serde_json::{Value, json};

/// Somebody else's transaction that holds a club (all of SQLite) until it is rolled back.
fn hold(world: &World, club: &str) -> Db {
    let mut conn = world.conn();
    conn.begin_write().unwrap();
    conn.batch_execute(&format!("UPDATE clubs SET revision = revision WHERE id = '{club}'")).unwrap();
    conn
}

/// Flights of half a minute, each at a minute of its own.
fn flights(from: usize, count: usize) -> Vec<Value> {
    let start: preen_domain::time::Instant = "2026-01-01T00:00:00Z".parse().unwrap();
    let number = |number: usize| i64::try_from(number).unwrap();
    let one = |index: usize| {
        let at = start.plus_seconds(number(from + index) * 60);
        let mut body = flight("SG-01", "AV", &at.to_string());
        body["airtime_min"] = json!(0.5);
        body
    };
    (0..count).map(one).collect()
}

fn outbox(facts: &[Value]) -> Value {
    let facts: Vec<Value> = facts.iter().map(|fact| json!({ "noun": "flights", "fact": fact })).collect();
    json!({ "facts": facts })
}

fn ids(facts: &[Value]) -> Vec<String> {
    facts.iter().map(|fact| fact["id"].as_str().unwrap().to_owned()).collect()
}

fn ids_on_record(caller: &Caller) -> BTreeSet<String> {
    let feed = caller.get("/facts").expect(200);
    let lines = feed.text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    lines.map(|line| line["fact"]["id"].as_str().unwrap().to_owned()).collect()
}

/// Outboxes sent at once, each of as many items as one transaction takes.
const OUTBOXES: usize = 16;
const ITEMS: usize = 60;
/// Single changes sent at once when the lane is nearly full: more than a transaction could make room for.
const SINGLES: usize = 80;

on_both!(a_full_queue_turns_away_and_what_was_accepted_is_kept, |world| {
    world.small_fleet();
    let lock = hold(world, "quillmarsh");
    let (say, said) = channel::<&str>();
    let (kept, turned_away) = std::thread::scope(|scope| {
        let outboxes: Vec<_> = (0..OUTBOXES)
            .map(|number| {
                let say = say.clone();
                scope.spawn(move || {
                    let facts = flights(number * ITEMS, ITEMS);
                    let answer = world.av.post("/facts", &outbox(&facts)).expect(200).json();
                    let statuses: BTreeSet<&str> = answer["results"]
                        .as_array()
                        .unwrap()
                        .iter()
                        .map(|result| result["status"].as_str().unwrap())
                        .collect();
                    assert_eq!(
                        statuses.len(),
                        1,
                        "an outbox of one transaction is taken in or not: {answer}"
                    );
                    let is_kept = statuses.contains("recorded");
                    assert!(is_kept || statuses.contains("try_again"), "{answer}");
                    if !is_kept {
                        assert_eq!(answer["results"][0]["problem"]["code"], "busy");
                        say.send("outbox").unwrap();
                    }
                    (is_kept, ids(&facts))
                })
            })
            .collect();
        // More wait than may: there is room for less than one outbox now.
        assert_eq!(said.recv().unwrap(), "outbox");
        let singles: Vec<_> = flights(OUTBOXES * ITEMS, SINGLES)
            .into_iter()
            .map(|fact| {
                let say = say.clone();
                scope.spawn(move || {
                    let reply = world.av.post("/flights", &fact);
                    if reply.status == 503 {
                        say.send("single").unwrap();
                    }
                    (reply, ids(&[fact]))
                })
            })
            .collect();
        while said.recv().unwrap() != "single" {}
        drop(lock);
        let (mut kept, mut turned_away) = (Vec::new(), Vec::new());
        for single in singles {
            let (reply, ids) = single.join().unwrap();
            match reply.status {
                201 => kept.extend(ids),
                _ => {
                    reply.problem(503, "busy");
                    assert_eq!(reply.header("retry-after"), Some("1"));
                    turned_away.extend(ids);
                }
            }
        }
        for outbox in outboxes {
            let (is_kept, ids) = outbox.join().unwrap();
            if is_kept { kept.extend(ids) } else { turned_away.extend(ids) }
        }
        (kept, turned_away)
    });
    assert!(kept.len() > 400, "{} of {} were accepted", kept.len(), kept.len() + turned_away.len());
    assert!(!turned_away.is_empty());
    let on_record = ids_on_record(&world.av);
    assert!(kept.iter().all(|id| on_record.contains(id)), "what was accepted is there");
    assert!(!turned_away.iter().any(|id| on_record.contains(id)), "what was turned away is not");
    // With the queue empty again it goes on by itself.
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
});

/// More clubs than PostgreSQL has writers.
const HELD: usize = 6;

#[test]
fn clubs_held_elsewhere_keep_no_other_club_waiting() {
    let world = World::begin(preen_tests::Database::Postgres);
    let member = |tag: &str| json!({ "id": new_id(), "tag": tag, "roles": ["keeper"] });
    let names: Vec<String> = (0..HELD).map(|number| format!("held-{number}")).collect();
    let callers: Vec<Caller> =
        names.iter().map(|name| world.av.with_token(&world.begin_club(name, &member("ZZ")))).collect();
    let locks: Vec<Db> = names.iter().map(|name| hold(&world, name)).collect();
    std::thread::scope(|scope| {
        let waiting: Vec<_> = callers
            .iter()
            .flat_map(|caller| {
                ["AA", "BB"].map(|tag| {
                    let body = member(tag);
                    scope.spawn(move || caller.post("/members", &body).status)
                })
            })
            .collect();
        // All of them hang on locks that this test holds; this club's changes pass all the same.
        for _ in 0..5 {
            world.add("members", member(&format!("M-{}", new_id())));
        }
        assert!(waiting.iter().all(|one| !one.is_finished()), "the other clubs are held");
        drop(locks);
        for one in waiting {
            assert_eq!(one.join().unwrap(), 201);
        }
    });
    for caller in &callers {
        assert_eq!(items(caller.get("/members")).len(), 3);
    }
}

#[test]
fn who_waits_too_long_for_a_lock_is_told_that_the_service_is_busy() {
    let world = World::begin(preen_tests::Database::Postgres);
    let lock = hold(&world, "quillmarsh");
    let waited = std::time::Instant::now();
    let reply = world.av.post("/members", &json!({ "id": new_id(), "tag": "ZZ", "roles": ["pilot"] }));
    reply.problem(503, "busy");
    assert_eq!(reply.header("retry-after"), Some("1"));
    assert!(waited.elapsed() > preen_api::db::lanes::PATIENCE);
    drop(lock);
    world.add("members", json!({ "tag": "ZZ", "roles": ["pilot"] }));
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// Commits so far. SQLite marks the last page of each in its write-ahead log; PostgreSQL keeps the time of each.
fn commits(world: &World) -> i64 {
    match &world.place {
        Place::File(path) => {
            let log = std::fs::read(format!("{}-wal", path.display())).unwrap();
            let word = |at: usize| u32::from_be_bytes(log[at..at + 4].try_into().unwrap());
            let page = usize::try_from(word(8)).unwrap();
            let mut frames =
                (0..).map(|frame| 32 + frame * (24 + page)).take_while(|at| at + 24 <= log.len());
            i64::try_from(frames.by_ref().filter(|at| word(at + 4) != 0).count()).unwrap()
        }
        Place::Server(_) => {
            let count = "SELECT count(DISTINCT pg_xact_commit_timestamp(xmin)) AS count FROM trail";
            diesel::sql_query(count).get_result::<Count>(&mut world.conn()).unwrap().count
        }
    }
}

on_both!(an_outbox_is_kept_by_one_commit_with_a_result_for_each_item, |world| {
    world.small_fleet();
    let before = commits(world);
    let mut facts = flights(0, 50);
    facts[20]["airtime_min"] = json!(-1.0);
    facts[30] = facts[29].clone();
    let answer = world.av.post("/facts", &outbox(&facts)).expect(200).json();
    assert_eq!(commits(world) - before, 1);
    let results = answer["results"].as_array().unwrap();
    for (number, result) in results.iter().enumerate() {
        let expected = match number {
            20 => "question",
            30 => "known",
            _ => "recorded",
        };
        assert_eq!(result["status"], expected, "{number}: {result}");
    }
    // Each change has a revision of its own, in the order of sending.
    let revisions: Vec<i64> = results.iter().map(|result| result["revision"].as_i64().unwrap()).collect();
    assert_eq!(revisions[30], revisions[29]);
    assert_eq!(revisions[49] - revisions[0], 48);
    assert!(revisions.is_sorted());
    assert_eq!(items(world.av.get("/questions")).len(), 1);
    assert_eq!(ids_on_record(&world.av).intersection(&ids(&facts).into_iter().collect()).count(), 48);
});

on_both!(a_change_that_ends_by_a_panic_costs_nothing_but_itself, |world| {
    world.small_fleet();
    let facts: Vec<Fact> = ["AA", "BB", "CC"]
        .into_iter()
        .map(|tag| {
            Fact::Member(
                serde_json::from_value(json!({ "id": new_id(), "tag": tag, "roles": ["pilot"] })).unwrap(),
            )
        })
        .collect();
    let (door, by) = world.another_door();
    let works = facts.into_iter().enumerate().map(|(number, fact)| {
        move |change: &mut preen_api::db::door::Change<'_>| -> Result<Kept<i64>, Problem> {
            let recorded = change.record("add_member", fact.clone())?;
            assert_ne!(number, 1, "a defect");
            Ok(Kept::Recorded(recorded.revision))
        }
    });
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let results = runtime.block_on(door.write_each("quillmarsh", by, Vec::new(), works.collect())).unwrap();
    let kept: Vec<bool> = results.iter().map(Result::is_ok).collect();
    assert_eq!(kept, [true, false, true], "{results:?}");
    assert!(matches!(&results[1], Err(Problem::Internal(text)) if text.contains("panic")), "{results:?}");
    let later = runtime.block_on(door.write("quillmarsh", by, |change| {
        Err::<Kept<()>, DoorError>(DoorError::Busy(change.fleet().members().count().to_string()))
    }));
    assert!(matches!(&later, Err(DoorError::Busy(count)) if count == "3"), "{later:?}");
    door.stop();
    let tags =
        |reply: Reply| -> Vec<Value> { items(reply).into_iter().map(|one| one["tag"].clone()).collect() };
    // The running service is another writer of the same records and sees what this door has kept.
    world.add("members", json!({ "tag": "DD", "roles": ["pilot"] }));
    assert_eq!(tags(world.av.get("/members")).len(), 4);
});
