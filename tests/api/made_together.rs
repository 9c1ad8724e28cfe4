//! Changes that are made together come out as those that are made one by one, whichever database keeps them.

use std::sync::Arc;

use preen_api::db::door::{Change, Kept};
use preen_api::problem::Problem;
use preen_domain::facts::Fact;
use preen_tests::world::{World, flight, items, new_id};
use preen_tests::{Database, on_both};
use serde_json::{Value, json};

const AT: &str = "2026-05-20T06:00:00Z";

/// An outbox of all that can become of an item: names by id and by tag, of what came just before; parts that move; the same
/// again, other content under the same id, tags that are taken, in the outbox and before; values and moments that a rule
/// refuses; what does not read; what lies far ahead.
fn mixture(model: &str, pilot: &str) -> Vec<(&'static str, Value)> {
    let servo = |tag: &str| json!({ "id": new_id(), "tag": tag, "part": "SV08", "mass_g": 10.4, "state": "serviceable" });
    let panel = json!({
        "id": new_id(), "tag": "PN-1", "part": "PANEL", "design": "SEDGE", "seat": "PANEL", "mass_g": 300.0,
        "state": "serviceable"
    });
    let fit = |component: &str| {
        json!({
            "id": new_id(), "component": component, "inside": { "component": "PN-1" }, "position": "FS.L",
            "occurred_at": AT
        })
    };
    let tagged = |tag: &str, at: &str| {
        let mut body = flight(model, pilot, at);
        body["tag"] = json!(tag);
        body
    };
    let by_ids = flight(model, pilot, "2026-05-20T10:00:00Z");
    let mut other_content = by_ids.clone();
    other_content["airtime_min"] = json!(3.0);
    let mut broken = flight("SG-01", "AV", "2026-05-20T10:40:00Z");
    broken["airtime_min"] = json!(-3.0);
    let mut unread = flight("SG-01", "AV", "2026-05-20T10:50:00Z");
    unread["colour"] = json!("red");
    let first_fit = fit("SV-1");
    let taken_out = json!({
        "id": new_id(), "installation": first_fit["id"], "component": "SV-1", "occurred_at": "2026-05-20T07:00:00Z",
        "reason": "other"
    });
    vec![
        ("flights", by_ids.clone()),
        ("components", panel),
        ("components", servo("SV-1")),
        ("components", servo("SV-2")),
        ("components", servo("SV-1")),
        ("installations", first_fit),
        ("installations", fit("SV-2")),
        ("removals", taken_out),
        ("flights", by_ids),
        ("flights", other_content),
        ("flights", broken),
        ("flights", unread.clone()),
        ("flights", unread),
        ("flights", tagged("FL-1", "2026-05-20T11:00:00Z")),
        ("flights", tagged("FL-1", "2026-05-20T11:10:00Z")),
        ("flights", tagged("FL-2", "2026-05-20T11:20:00Z")),
        ("flights", flight("SG-01", "AV", "2026-05-20T11:21:00Z")),
        ("flights", flight("SG-02", "AV", "2026-05-20T12:00:00Z")),
        ("flights", flight("SG-01", "AV", "2027-05-20T12:00:00Z")),
        ("flights", flight("SG-01", "AV", "2026-05-20T13:00:00Z")),
        ("settlements", json!({ "id": new_id() })),
        ("flights", flight(model, pilot, "2026-05-20T14:00:00Z")),
    ]
}

/// What became of each item: status, revisions since the beginning, codes of the reasons.
fn told(world: &World, outboxes: &[&[(&str, Value)]], begun_at: i64) -> Vec<(String, Option<i64>, String)> {
    let mut told = Vec::new();
    for sent in outboxes {
        let facts: Vec<Value> =
            sent.iter().map(|(noun, fact)| json!({ "noun": noun, "fact": fact })).collect();
        let answer = world.av.post("/facts", &json!({ "facts": facts })).expect(200).json();
        for one in answer["results"].as_array().unwrap() {
            let codes: Vec<&str> = one["problem"]["errors"]
                .as_array()
                .into_iter()
                .flatten()
                .map(|error| error["code"].as_str().unwrap())
                .collect();
            told.push((
                one["status"].as_str().unwrap().to_owned(),
                one["revision"].as_i64().map(|revision| revision - begun_at),
                format!("{} {}", one["problem"]["code"], codes.join(" ")),
            ));
        }
    }
    told
}

#[test]
fn an_outbox_comes_out_as_item_by_item() {
    let mut all = Vec::new();
    for database in [Database::Sqlite, Database::Postgres] {
        for is_together in [true, false] {
            let world = World::begin(database);
            world.small_fleet();
            let id_of = |noun: &str| items(world.av.get(noun))[0]["id"].as_str().unwrap().to_owned();
            let sent = mixture(&id_of("/models"), &id_of("/members"));
            // The model was the last thing that the small fleet needed.
            let begun_at = items(world.av.get("/models"))[0]["revision"].as_i64().unwrap();
            let outboxes: Vec<&[(&str, Value)]> =
                if is_together { vec![&sent[..]] } else { sent.chunks(1).collect() };
            let first = told(&world, &outboxes, begun_at);
            // The answer got lost, and all is sent again.
            let again = told(&world, &outboxes, begun_at);
            assert!(again.iter().all(|(status, ..)| status != "recorded"), "{again:?}");
            world.check();
            all.push((first, again));
        }
    }
    let statuses: Vec<&str> = all[0].0.iter().map(|(status, ..)| status.as_str()).collect();
    let count = |wanted: &str| statuses.iter().filter(|status| **status == wanted).count();
    assert!(count("recorded") >= 9 && count("question") >= 5 && count("refused") >= 1, "{:#?}", all[0].0);
    assert_eq!(count("known"), 1, "{:#?}", all[0].0);
    for other in &all[1..] {
        assert_eq!(other, &all[0]);
    }
}

on_both!(what_the_database_refuses_costs_that_change_alone, |world| {
    world.small_fleet();
    let facts: Vec<Fact> = ["AA", "BB", "AA", "CC"]
        .into_iter()
        .map(|tag| {
            let json = json!({ "id": new_id(), "tag": tag, "roles": ["pilot"] });
            Fact::Member(serde_json::from_value(json).unwrap())
        })
        .collect();
    let ids = facts.iter().map(Fact::id).collect();
    let (door, by) = world.another_door();
    // No rule is asked: the third takes a tag that another of them has.
    let works = facts.into_iter().map(|fact| {
        move |change: &mut Change<'_>| -> Result<Kept<i64>, Problem> {
            Ok(Kept::Recorded(change.record("add_member", fact.clone())?.revision))
        }
    });
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let results = runtime.block_on(door.write_each("quillmarsh", by, ids, works.collect())).unwrap();
    let kept: Vec<Option<i64>> = results.iter().map(|result| result.as_ref().ok().copied()).collect();
    let first = kept[0].unwrap();
    assert_eq!(kept, [Some(first), Some(first + 1), None, Some(first + 2)], "{results:?}");
    door.stop();
    // The running service is another writer of the same records and sees what this door has kept.
    world.add("members", json!({ "tag": "DD", "roles": ["pilot"] }));
    assert_eq!(items(world.av.get("/members")).len(), 5);
});

/// What the works of some senders do who wait at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Does {
    /// Records a member of this tag.
    Records(&'static str),
    /// Records one and then says that it must not be.
    RecordsAndRefuses(&'static str),
    /// Says so before.
    Refuses,
    /// Finds nothing to do.
    Finds,
    /// Has a defect.
    Panics,
}

fn do_it(change: &mut Change<'_>, does: Does) -> Result<Kept<i64>, Problem> {
    let member = |tag: &str| {
        let json = json!({ "id": new_id(), "tag": tag, "roles": ["pilot"] });
        Fact::Member(serde_json::from_value(json).unwrap())
    };
    match does {
        Does::Records(tag) => Ok(Kept::Recorded(change.record("add_member", member(tag))?.revision)),
        Does::RecordsAndRefuses(tag) => {
            change.record("add_member", member(tag))?;
            Err(Problem::TagTaken("it must not be".to_owned()))
        }
        Does::Refuses => Err(Problem::TagTaken("it must not be".to_owned())),
        Does::Finds => Ok(Kept::Unchanged(change.revision())),
        Does::Panics => panic!("a defect of this test"),
    }
}

/// What became of changes that wait for a writer while it is busy with another: the revision of each that was kept, counted
/// from the first.
fn waiting_at_once(world: &World, all: &[Does]) -> Vec<Option<i64>> {
    let (door, by) = world.another_door();
    let (release, held) = std::sync::mpsc::channel::<()>();
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let results = runtime.block_on(async {
        let begin = Arc::clone(&door);
        let first = actix_web::rt::spawn(async move {
            let work = move |_: &mut Change<'_>| -> Result<Kept<()>, Problem> {
                held.recv().unwrap();
                Ok(Kept::Unchanged(()))
            };
            begin.write("quillmarsh", by, work).await
        });
        let waiting: Vec<_> = all
            .iter()
            .map(|does| {
                let (door, does) = (Arc::clone(&door), *does);
                let id = new_id().parse().unwrap();
                actix_web::rt::spawn(async move {
                    door.write_one("quillmarsh", by, id, move |change| do_it(change, does)).await
                })
            })
            .collect();
        while door.standing().waiting <= u64::try_from(all.len()).unwrap() {
            actix_web::rt::task::yield_now().await;
        }
        release.send(()).unwrap();
        first.await.unwrap().unwrap();
        let mut results = Vec::new();
        for one in waiting {
            results.push(one.await.unwrap());
        }
        results
    });
    door.stop();
    let first = results.iter().flatten().min().copied().unwrap();
    for (does, result) in all.iter().zip(&results) {
        let is_refused = matches!(result, Err(Problem::TagTaken(_)));
        let says_so = matches!(does, Does::Refuses | Does::RecordsAndRefuses(_));
        assert_eq!(is_refused, says_so, "{does:?} {result:?}");
    }
    results.iter().map(|result| result.as_ref().ok().map(|revision| revision - first)).collect()
}

on_both!(what_waits_at_once_comes_out_each_for_itself, |world| {
    use Does::{Finds, Panics, Records, RecordsAndRefuses, Refuses};
    world.small_fleet();
    // Nothing fails once something is written: they are made together.
    let smooth = [Records("T1"), Refuses, Records("T2"), Finds, Records("T3")];
    assert_eq!(waiting_at_once(world, &smooth), [Some(0), None, Some(1), Some(2), Some(2)]);
    // A tag that the database knows, a defect and one that thinks better of it: they cost themselves alone.
    let rough =
        [Records("R1"), Panics, Records("T1"), RecordsAndRefuses("R2"), Records("R3"), Finds, Records("R2")];
    let kept = waiting_at_once(world, &rough);
    assert_eq!(kept, [Some(0), None, None, None, Some(1), Some(2), Some(2)]);
    let tags: std::collections::BTreeSet<String> = items(world.av.get("/members"))
        .iter()
        .map(|member| member["tag"].as_str().unwrap().to_owned())
        .collect();
    for tag in ["T1", "T2", "T3", "R1", "R2", "R3"] {
        assert!(tags.contains(tag), "{tag} of {tags:?}");
    }
    assert_eq!(items(world.av.get("/members")).len(), tags.len(), "none twice");
    // The running service is another writer of the same records: it takes in what the others have kept.
    world.add("members", json!({ "tag": "DD", "roles": ["pilot"] }));
    world.check();
});
