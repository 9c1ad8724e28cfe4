//! Fleets in memory are kept to a limit: the estimate beside what the system says, and answers that stay right however
//! little may be held.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use preen_api::db::fleet::{Held, Shelf};
use preen_api::watch::Upkeep;
use preen_api::watch::machine::resident_bytes;
use preen_domain::facts::{Fact, Recorded};
use preen_domain::fleet::{Club, Fleet, Names};
use preen_domain::ids::{ClubId, MemberId};
use preen_tests::exposition::Numbers;
use preen_tests::http::Caller;
use preen_tests::world::{design, flight, new_id, part};
use preen_tests::{Database, World};
use serde_json::{Value, json};
use uuid::Uuid;

/// The demo club.
fn demo() -> Vec<Fact> {
    preen_api::demo::tables::read().unwrap().rows.into_iter().map(|row| row.fact).collect()
}

fn held(facts: &[Fact], flights: i64) -> (Fleet, Names) {
    let at = "2026-05-21T08:00:00Z".parse().unwrap();
    let by = MemberId::from(Uuid::nil());
    let id = ClubId::from(Uuid::nil());
    let (tag, title) = ("quillmarsh".parse().unwrap(), "A club".to_owned());
    let mut fleet = Fleet::new(Club { id, tag, title, zone: chrono_tz::Europe::London });
    let mut names = Names::default();
    let mut revision = 0;
    let mut take = |fact: Fact| {
        revision += 1;
        names.apply(&fact);
        fleet.apply(&Recorded { fact, recorded_at: at, recorded_by: by, revision });
    };
    let mut model = None;
    for fact in facts {
        if let Fact::Flight(flight) = fact {
            model = Some(flight.clone());
        }
        take(fact.clone());
    }
    if let Some(like) = model {
        for number in 0..flights {
            let mut more = like.clone();
            more.id = Uuid::now_v7().into();
            more.occurred_at = like.occurred_at.plus_seconds(-86_400 - (flights - number) * 600);
            take(Fact::Flight(more));
        }
    }
    (fleet, names)
}

/// The estimate is within a third of what the system says that the process has grown by.
pub fn measured() -> String {
    let mut told = String::new();
    let facts = demo();
    // Warm, so that what the allocator has of its own is filled.
    let _warm = [held(&facts, 0), held(&facts, 0)];
    // Nothing is given back meanwhile, so that all that comes is new to the process.
    let mut kept = Vec::new();
    for (clubs, flights) in [(150, 0), (4, 150_000)] {
        let before = resident_bytes().unwrap();
        let all: Vec<(Fleet, Names)> = (0..clubs).map(|_| held(&facts, flights)).collect();
        let grown = resident_bytes().unwrap().saturating_sub(before);
        let estimate: u64 = all.iter().map(|(fleet, names)| fleet.bytes() + names.bytes()).sum();
        let ratio = estimate as f64 / grown as f64;
        let count = facts.len();
        told += &format!(
            "{clubs} clubs of {count} facts with {flights} flights more: {estimate} bytes for {grown} ({ratio:.2}); "
        );
        assert!((0.67..1.5).contains(&ratio), "{told}");
        kept.push(all);
        if flights > 0 {
            let (few, names) = held(&facts, 0);
            let more = estimate - u64::try_from(clubs).unwrap() * (few.bytes() + names.bytes());
            let each = more as f64 / (f64::from(clubs) * flights as f64);
            assert!((30.0..=45.0).contains(&each), "{each} bytes a flight");
            told += &format!("{each:.0} bytes a flight");
        }
    }
    told
}

/// What was read before a change and comes after it, when the club was let go in between, does not take its place.
pub fn never_older() -> String {
    let shelf = Shelf::new(false);
    shelf.limit(1);
    let at = |revision: i64| {
        let (fleet, names) = held(&[], 0);
        Held { revision, fleet: Arc::new(fleet), names, head: revision.to_string(), head_at: None }
    };
    let newest = |club: &str| shelf.get(club).map(|held| held.revision);
    shelf.publish("moor", at(6));
    assert_eq!(newest("moor"), Some(6));
    shelf.publish("fen", at(1));
    assert_eq!((newest("moor"), newest("fen")), (None, Some(1)), "room for one");
    shelf.publish("moor", at(5));
    assert_eq!((newest("moor"), newest("fen")), (None, Some(1)), "an older one does not come back");
    shelf.publish("moor", at(6));
    assert_eq!((newest("moor"), newest("fen")), (Some(6), None), "the same may");
    shelf.limit(u64::MAX);
    shelf.publish("fen", at(1));
    shelf.publish("holm", at(1));
    assert_eq!(newest("moor"), Some(6));
    let bytes = shelf.standing().1;
    assert_eq!(shelf.standing().0, 3);
    // Asked for in this order: fen the longest ago.
    shelf.limit(bytes);
    shelf.publish("tarn", at(1));
    assert_eq!(["fen", "holm", "moor", "tarn"].map(newest), [None, Some(1), Some(6), Some(1)]);
    for club in ["holm", "moor", "tarn"] {
        shelf.forget(club);
    }
    assert_eq!(shelf.standing(), (0, 0));
    "the longest unasked goes first".to_owned()
}

/// The clubs of one service, each with its keeper.
fn clubs(world: &World) -> Vec<Caller> {
    let names = ["moor", "fen", "holm"];
    let callers = names.map(|name| {
        let member =
            json!({ "id": new_id(), "tag": "AV", "roles": ["pilot", "builder", "inspector", "keeper"] });
        world.av.with_token(&world.begin_club(name, &member))
    });
    callers.to_vec()
}

/// Everything that is compared.
fn answers(caller: &Caller) -> Vec<String> {
    let mut list = Vec::new();
    for path in
        ["/may-fly", "/due", "/models/SG-01/usage", "/where?part=SV08", "/models", "/open-questions", "/club"]
    {
        list.push(caller.get(path).expect(200).text);
    }
    list
}

/// Three clubs asked in turn with writes between, with room for one alone, beside a service without a limit.
pub fn three_clubs(database: Database) -> String {
    let mut narrow = World::nothing(database);
    narrow.restart_with(Upkeep { fleet_bytes: 1, ..Upkeep::default() });
    let wide = World::nothing(database);
    let (here, there) = (clubs(&narrow), clubs(&wide));
    let both = |club: usize, path: &str, body: Value| {
        let wanted = there[club].post(path, &body);
        let got = here[club].post(path, &body);
        assert_eq!(got.status, wanted.status, "{}", got.text);
    };
    for club in 0..3 {
        let with_id = |path: &str, mut body: Value| {
            body["id"] = json!(new_id());
            both(club, path, body);
        };
        with_id("/designs", design("SEDGE"));
        with_id("/parts", part("SV08", "servo"));
        with_id("/models", preen_tests::world::model("SG-01", "AV"));
    }
    for round in 0..24_usize {
        let club = round * 5 % 3;
        both(club, "/flights", flight("SG-01", "AV", &format!("2026-05-20T{:02}:{club}0:00Z", round % 24)));
        let mut odd = flight("SG-01", "NOBODY", "2026-05-20T08:00:00Z");
        odd["id"] = json!(new_id());
        both((club + 1) % 3, "/flights", odd);
        for asked in [club, (club + 2) % 3] {
            let strip = |text: String| text.replace("\"received_at\"", "");
            let wanted: Vec<String> = answers(&there[asked]).into_iter().map(strip).collect();
            let got: Vec<String> = answers(&here[asked]).into_iter().map(strip).collect();
            for (got, wanted) in got.iter().zip(&wanted) {
                // Ids of clubs and first members differ; everything else is the same.
                assert_eq!(without_ids(got), without_ids(wanted), "round {round} club {asked}");
            }
        }
        let now = Numbers::of(&narrow.av);
        assert_eq!(now.get("preen_fleets_held", &[]), 1.0, "one alone");
    }
    let readers = concurrent(&here);
    let now = Numbers::of(&narrow.av);
    let evictions = now.get("preen_fleet_evictions_total", &[]);
    assert!(evictions > 40.0, "{evictions}");
    assert_eq!(
        now.get("preen_fleet_loads_total", &[]),
        evictions + 1.0,
        "what was loaded is held or was let go"
    );
    let unlimited = Numbers::of(&wide.av);
    assert_eq!(unlimited.get("preen_fleet_evictions_total", &[]), 0.0);
    assert_eq!(unlimited.get("preen_fleets_held", &[]), 3.0);
    format!("{evictions} let go, {readers} answers while others wrote")
}

/// A text with its ids left out.
fn without_ids(text: &str) -> String {
    let is_id = |word: &&str| word.len() == 36 && word.parse::<Uuid>().is_ok();
    text.split('"').filter(|word| !is_id(word)).collect::<Vec<_>>().join("\"")
}

/// Readers of all clubs while each is written to: no answer is older than what its reader knew to be on record.
fn concurrent(clubs: &[Caller]) -> usize {
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let readers: Vec<_> = clubs
            .iter()
            .map(|caller| {
                let is_over = &is_over;
                scope.spawn(move || {
                    let (mut count, mut newest) = (0_usize, 0_i64);
                    while !is_over.load(Ordering::Relaxed) {
                        let board = caller.get("/may-fly").expect(200).json();
                        let revision = board["revision"].as_i64().unwrap();
                        assert!(revision >= newest, "revision {revision} after {newest}");
                        newest = revision;
                        count += 1;
                    }
                    count
                })
            })
            .collect();
        let writers: Vec<_> = clubs
            .iter()
            .map(|caller| {
                scope.spawn(move || {
                    for minute in 0..40 {
                        let at = format!("2026-05-19T{:02}:{:02}:00Z", minute / 6, minute % 6 * 10);
                        caller.post("/flights", &flight("SG-01", "AV", &at)).expect(201);
                        // Whoever has written finds it there.
                        let board = caller.get("/models/SG-01/usage").expect(200).json();
                        assert!(board["flights"].as_i64().unwrap() > i64::from(minute), "{board}");
                    }
                })
            })
            .collect();
        writers.into_iter().for_each(|writer| writer.join().unwrap());
        is_over.store(true, Ordering::Relaxed);
        readers.into_iter().map(|reader| reader.join().unwrap()).sum()
    })
}
