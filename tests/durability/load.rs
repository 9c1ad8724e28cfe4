//! Several writers at once: what they send, and how the service dies under them.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use preen_tests::http::Caller;
use serde_json::{Value, json};

use crate::Process;

/// Models, each with a writer of its own.
pub const WRITERS: usize = 4;

/// Chance that a seed repeats: a linear congruential generator (Knuth, MMIX).
pub struct Chance(u64);

impl Chance {
    /// From a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number from 0 up to and without `end`.
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

/// What the service said it has.
#[derive(Default)]
pub struct Acknowledged {
    /// Ids of facts.
    pub facts: Vec<String>,
    /// Ids of removal and installation of each exchange of parts that was sent, acknowledged or not.
    pub swaps: Vec<(String, String)>,
}

static NUMBER: AtomicU64 = AtomicU64::new(1);

/// Every fact has a minute of its own, so that no flight overlaps another.
pub fn next() -> (String, String) {
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let id = format!("01980000-0000-7000-8000-{number:012x}");
    let minutes = i64::try_from(number).unwrap();
    let at = preen_domain::time::Instant::from_micros(1_745_000_000_000_000).plus_seconds(minutes * 60);
    (id, at.to_string())
}

/// A flight of a writer's model, and its id.
pub fn flight(writer: usize) -> (String, Value) {
    let (id, at) = next();
    let body = json!({
        "id": id, "model": format!("SG-0{writer}"), "pilot": "AV", "occurred_at": at, "airtime_min": 0.5,
        "landing": "normal", "is_post_flight_logged": true,
    });
    (id, body)
}

/// Loads the service and kills it after a random number of acknowledgements.
pub fn until_killed(service: &mut Process, chance: &mut Chance, acknowledged: &mut Acknowledged) {
    let kill_at = 5 + chance.below(60);
    let count = AtomicU64::new(0);
    let said = Mutex::new((Vec::new(), Vec::new()));
    let caller = service.caller.clone();
    std::thread::scope(|scope| {
        let writers: Vec<_> = (0..WRITERS)
            .map(|writer| {
                let (caller, said, count) = (caller.clone(), &said, &count);
                scope.spawn(move || write(writer, &caller, said, count))
            })
            .collect();
        // A writer that found something wrong ends; the scope then tells of it.
        while count.load(Ordering::Relaxed) < kill_at && !writers.iter().all(|writer| writer.is_finished()) {
            std::thread::yield_now();
        }
        service.kill();
    });
    let (facts, swaps) = said.into_inner().unwrap();
    acknowledged.facts.extend(facts);
    acknowledged.swaps.extend(swaps);
}

/// What was acknowledged so far: facts, and exchanges that were sent.
pub type Said = Mutex<(Vec<String>, Vec<(String, String)>)>;

/// What the service answered to a change.
pub enum Answer {
    /// So many facts were recorded.
    Recorded(u64),
    /// It has no room; nothing was recorded.
    NoRoom,
}

/// Writes until nobody answers any more.
fn write(writer: usize, caller: &Caller, said: &Said, count: &AtomicU64) {
    while let Some(answer) = write_one(writer, caller, said) {
        match answer {
            Answer::Recorded(recorded) => count.fetch_add(recorded, Ordering::Relaxed),
            Answer::NoRoom => panic!("the service says that it has no room"),
        };
    }
}

/// One change: a flight, flights by outbox, or an exchange of parts, as the writer's number has it. `None` where
/// nobody answers.
pub fn write_one(writer: usize, caller: &Caller, said: &Said) -> Option<Answer> {
    match writer {
        0 => exchange(caller, said),
        1 => outbox(writer, caller, said),
        _ => single(writer, caller, said),
    }
}

fn send(caller: &Caller, path: &str, body: &Value) -> Option<(u16, Value)> {
    let reply = caller.request("POST", path).json(body).send().ok()?;
    let status = reply.status().as_u16();
    let retry_after = reply.headers().get("retry-after").cloned();
    // An answer that breaks off is no acknowledgement.
    let answer: Value = reply.json().ok()?;
    if status == 503 {
        assert_eq!(answer["code"], "storage_full", "{answer}");
        assert_eq!(retry_after.unwrap(), "1");
    }
    Some((status, answer))
}

fn single(writer: usize, caller: &Caller, said: &Said) -> Option<Answer> {
    let (id, body) = flight(writer);
    let (status, answer) = send(caller, "/flights", &body)?;
    if status == 503 {
        return Some(Answer::NoRoom);
    }
    assert_eq!(status, 201, "{answer}");
    said.lock().unwrap().0.push(id);
    Some(Answer::Recorded(1))
}

fn outbox(writer: usize, caller: &Caller, said: &Said) -> Option<Answer> {
    let flights: Vec<(String, Value)> = (0..20).map(|_| flight(writer)).collect();
    let facts: Vec<Value> =
        flights.iter().map(|(_, body)| json!({ "noun": "flights", "fact": body })).collect();
    let (status, answer) = send(caller, "/facts", &json!({ "facts": facts }))?;
    assert_eq!(status, 200, "{answer}");
    let results = answer["results"].as_array().unwrap();
    let mut recorded = 0;
    for ((id, _), result) in flights.into_iter().zip(results) {
        if result["status"] == "try_again" {
            assert_eq!(result["problem"]["code"], "storage_full", "{answer}");
            continue;
        }
        assert_eq!(result["status"], "recorded", "{answer}");
        said.lock().unwrap().0.push(id);
        recorded += 1;
    }
    // What came before room ran out may stand; what came after it was not even looked at.
    let is_left = |result: &Value| result["status"] == "try_again";
    assert!(results.iter().skip_while(|result| !is_left(result)).all(is_left), "{answer}");
    if results.iter().any(is_left) {
        return Some(Answer::NoRoom);
    }
    Some(Answer::Recorded(recorded))
}

/// What only a person can settle, and large: more than the database keeps in memory of one transaction, so that it
/// is written before COMMIT.
pub fn heavy(caller: &Caller, said: &Said) -> Option<Answer> {
    let (id, _) = next();
    let fact = json!({ "id": id, "note": "x".repeat(1_000_000) });
    let (status, answer) =
        send(caller, "/facts", &json!({ "facts": [{ "noun": "flights", "fact": fact }] }))?;
    assert_eq!(status, 200, "{answer}");
    let result = &answer["results"][0];
    if result["status"] == "try_again" {
        assert_eq!(result["problem"]["code"], "storage_full", "{answer}");
        return Some(Answer::NoRoom);
    }
    assert_eq!(result["status"], "question");
    said.lock().unwrap().0.push(result["question"].as_str().unwrap().to_owned());
    Some(Answer::Recorded(1))
}

/// Puts one servo out and the other in; the two facts belong together.
fn exchange(caller: &Caller, said: &Said) -> Option<Answer> {
    let fitted = caller.request("GET", "/where?part=SV08").send().ok()?.json::<Value>().ok()?;
    let on = fitted["components"].as_array()?.iter().find(|row| row["model"].is_null())?["component"].clone();
    let ((removal, _), (installation, at)) = (next(), next());
    let body = json!({
        "occurred_at": at,
        "exchanges": [{
            "path": "W.C/FS.L", "on": on, "removal": removal, "installation": installation, "reason": "preventive",
        }],
    });
    said.lock().unwrap().1.push((removal.clone(), installation.clone()));
    let (status, answer) = send(caller, "/models/SG-00/swap", &body)?;
    if status == 503 {
        return Some(Answer::NoRoom);
    }
    assert!(matches!(status, 200 | 201), "{answer}");
    said.lock().unwrap().0.extend([removal, installation]);
    Some(Answer::Recorded(1))
}
