//! Several clients write at random to one club, each through whichever process chance picks, while they read: what was
//! acknowledged is in the next answer of every process, an answer at a revision is the same bytes everywhere, and at the
//! end every acknowledged fact is on record once. `PREEN_SEED` repeats the choices (not how they interleave).

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use preen_tests::everything::{everything, unlike};
use preen_tests::{Database, Reply};
use serde_json::{Value, json};

use crate::load::{Chance, WRITERS, next};
use crate::{Process, record};

const CLIENTS: u64 = 6;
/// Acts of each client between two comparisons of everything below.
const ACTS: u32 = 2;
/// What the answers are asked about, after everything that is recorded.
const AS_OF: &str = "2026-01-01T12:00:00Z";
const SERVOS: [&str; 4] = ["SV-1", "SV-2", "SV-3", "SV-4"];

/// What concurrency and chance may have refused; nothing else may be.
const MAY_REFUSE: [&str; 3] = ["refused_by_rule", "tag_taken", "id_taken"];

/// What all clients know together.
struct Known<'a> {
    processes: &'a [Process],
    /// Facts that were acknowledged and may be named again: noun, id, body.
    flights: Mutex<Vec<(String, Value)>>,
    acknowledged: Mutex<Vec<String>>,
    refused: Mutex<Vec<String>>,
    /// The newest revision that anybody was told of.
    newest: AtomicI64,
    /// What was answered, by path and revision.
    answers: Mutex<BTreeMap<(String, i64), String>>,
    counts: Mutex<BTreeMap<String, u64>>,
    busy: AtomicU64,
    compared: AtomicU64,
}

/// What became of a body that was sent.
struct Outcome {
    answer: Value,
    /// The code where it was refused.
    code: Option<String>,
}

impl Known<'_> {
    fn any(&self, chance: &mut Chance) -> &Process {
        let at = chance.below(u64::try_from(self.processes.len()).unwrap());
        &self.processes[usize::try_from(at).unwrap()]
    }

    fn reach(&self, answer: &Value) {
        if let Some(revision) = answer["revision"].as_i64() {
            self.newest.fetch_max(revision, Ordering::SeqCst);
        }
    }

    /// Sends until it is known what became of it. Who is told to try again may try elsewhere.
    fn send(&self, chance: &mut Chance, kind: &str, path: &str, body: &Value) -> Outcome {
        loop {
            let reply = self.any(chance).caller.post(path, body);
            let answer = reply.json();
            if reply.status == 503 {
                reply.problem(503, "busy");
                assert!(reply.header("retry-after").is_some());
                self.busy.fetch_add(1, Ordering::Relaxed);
                continue;
            }
            let code = answer["code"].as_str().filter(|_| reply.status >= 300).map(ToOwned::to_owned);
            if let Some(code) = &code {
                assert!(MAY_REFUSE.contains(&code.as_str()), "{path} {body}: {answer}");
            }
            let said = code.as_deref().unwrap_or(if reply.status == 200 { "known" } else { "recorded" });
            *self.counts.lock().unwrap().entry(format!("{kind} {said}")).or_default() += 1;
            self.reach(&answer);
            return Outcome { answer, code };
        }
    }

    /// Sends one fact and keeps what was said of it.
    fn add(&self, chance: &mut Chance, kind: &str, path: &str, body: &Value) -> Outcome {
        let outcome = self.send(chance, kind, path, body);
        self.keep(body, outcome.code.is_none());
        outcome
    }

    fn keep(&self, body: &Value, is_recorded: bool) {
        let list = if is_recorded { &self.acknowledged } else { &self.refused };
        list.lock().unwrap().push(body["id"].as_str().unwrap().to_owned());
    }

    fn flight(&self, chance: &mut Chance) -> Value {
        let (id, mut at) = next();
        let mut model = format!("SG-0{}", chance.below(u64::try_from(WRITERS).unwrap()));
        if chance.below(5) == 0
            && let Some((_, other)) = self.one_of(chance)
        {
            // At the very time of another: a rule refuses one of the two.
            at = other["occurred_at"].as_str().unwrap().to_owned();
            model = other["model"].as_str().unwrap().to_owned();
        }
        json!({
            "id": id, "model": model, "pilot": "AV", "occurred_at": at, "airtime_min": 0.5,
            "landing": "normal", "is_post_flight_logged": true,
        })
    }

    fn one_of(&self, chance: &mut Chance) -> Option<(String, Value)> {
        let flights = self.flights.lock().unwrap();
        let count = u64::try_from(flights.len()).unwrap();
        (count > 0).then(|| flights[usize::try_from(chance.below(count)).unwrap()].clone())
    }

    fn fly(&self, chance: &mut Chance) {
        let body = self.flight(chance);
        if self.add(chance, "flight", "/flights", &body).code.is_none() {
            self.flights.lock().unwrap().push((body["id"].as_str().unwrap().to_owned(), body));
        }
    }

    /// Two send the same at the same moment.
    fn fly_doubled(&self, chance: &mut Chance) {
        let body = self.flight(chance);
        let other_seed = chance.below(u64::from(u32::MAX));
        let outcomes: Vec<Option<String>> = std::thread::scope(|scope| {
            let other = scope
                .spawn(|| self.send(&mut Chance::new(other_seed), "doubled flight", "/flights", &body).code);
            let one = self.send(chance, "doubled flight", "/flights", &body).code;
            vec![one, other.join().unwrap()]
        });
        assert_eq!(outcomes[0], outcomes[1], "one and the same flight: {body}");
        self.keep(&body, outcomes[0].is_none());
    }

    fn exchange(&self, chance: &mut Chance) {
        let model = format!("SG-0{}", chance.below(2));
        let ((removal, _), (installation, at)) = (next(), next());
        let on = SERVOS[usize::try_from(chance.below(4)).unwrap()];
        let body = json!({ "occurred_at": at, "exchanges": [{
            "path": "W.C/FS.L", "on": on, "removal": removal, "installation": installation,
            "reason": "preventive",
        }]});
        let outcome = self.send(chance, "exchange", &format!("/models/{model}/swap"), &body);
        for id in [removal, installation] {
            self.keep(&json!({ "id": id }), outcome.code.is_none());
        }
    }

    fn measure(&self, chance: &mut Chance) {
        let (id, at) = next();
        let play = 0.1 + f64::from(u32::try_from(chance.below(100)).unwrap()) / 100.0;
        let body = json!({
            "id": id, "subject": { "component": SERVOS[usize::try_from(chance.below(4)).unwrap()] },
            "quantity": "servo_free_play", "values": [play], "unit": "deg", "occurred_at": at,
        });
        self.add(chance, "measurement", "/measurements", &body);
    }

    fn report(&self, chance: &mut Chance) {
        let (id, at) = next();
        let model = format!("SG-0{}", chance.below(u64::try_from(WRITERS).unwrap()));
        let body = json!({
            "id": id, "tag": format!("D-{}", chance.below(60)), "model": model, "subject": { "model": model },
            "severity": "watch", "occurred_at": at, "text": "a scratch",
        });
        self.add(chance, "defect", "/defects", &body);
    }

    fn correct(&self, chance: &mut Chance) {
        let Some((original, mut fact)) = self.one_of(chance) else { return };
        let mut body = json!({ "id": next().0, "reason": "typed wrong" });
        if chance.below(4) == 0 {
            body["is_void"] = json!(true);
        } else {
            fact["airtime_min"] = json!(0.25 + f64::from(u32::try_from(chance.below(4)).unwrap()) / 16.0);
            body["fact"] = fact;
        }
        self.add(chance, "correction", &format!("/flights/{original}/correction"), &body);
    }

    /// A batch in which one stands twice, one was sent before, and one may overlap another.
    fn outbox(&self, chance: &mut Chance) {
        let mut flights: Vec<Value> = (0..6).map(|_| self.flight(chance)).collect();
        flights.push(flights[2].clone());
        flights.extend(self.one_of(chance).map(|(_, body)| body));
        let facts: Vec<Value> =
            flights.iter().map(|body| json!({ "noun": "flights", "fact": body })).collect();
        let outcome = self.send(chance, "outbox", "/facts", &json!({ "facts": facts }));
        let results = outcome.answer["results"].as_array().unwrap().clone();
        assert_eq!(results.len(), flights.len());
        for (body, result) in flights.iter().zip(&results) {
            match result["status"].as_str().unwrap() {
                "recorded" | "known" => self.keep(body, true),
                "question" => {
                    assert_eq!(result["problem"]["code"], "refused_by_rule", "{result}");
                    self.acknowledged.lock().unwrap().push(result["question"].as_str().unwrap().to_owned());
                }
                // Of two batches at once one process may have been too busy for the rest.
                "try_again" => assert_eq!(result["problem"]["code"], "busy", "{result}"),
                other => panic!("{other}: {result}"),
            }
            self.reach(result);
        }
    }

    /// A token of one process opens every other, and no door at all once it was taken back.
    fn token(&self, chance: &mut Chance) {
        let body = json!({ "id": next().0, "label": "phone", "scopes": ["read"] });
        let made = self.send(chance, "token", "/tokens", &body);
        let token = made.answer["token"].as_str().unwrap().to_owned();
        self.any(chance).caller.with_token(&token).get("/members").expect(200);
        let path = format!("/tokens/{}", body["id"].as_str().unwrap());
        let back = || Reply::of(self.any(&mut Chance::new(7)).caller.request("DELETE", &path)).status;
        while back() == 503 {
            self.busy.fetch_add(1, Ordering::Relaxed);
        }
        self.any(chance).caller.with_token(&token).get("/members").problem(401, "token_revoked");
    }

    fn act(&self, chance: &mut Chance) {
        match chance.below(14) {
            0..=3 => self.fly(chance),
            4 | 5 => self.exchange(chance),
            6 => self.measure(chance),
            7 => self.report(chance),
            8 | 9 => self.correct(chance),
            10 | 11 => self.outbox(chance),
            12 => self.token(chance),
            _ => self.fly_doubled(chance),
        }
    }

    /// Reads while others write: never older than what anybody was told before, and the same as anybody was told at that
    /// revision.
    fn read(&self, chance: &mut Chance) {
        let paths = questions();
        let path = &paths[usize::try_from(chance.below(u64::try_from(paths.len()).unwrap())).unwrap()];
        let before = self.newest.load(Ordering::SeqCst);
        let reply = self.any(chance).caller.get(path).expect(200);
        let revision = reply.json()["revision"].as_i64().unwrap();
        assert!(revision >= before, "{path} at {revision}, after {before} was acknowledged");
        let mut answers = self.answers.lock().unwrap();
        let told = answers.entry((path.clone(), revision)).or_insert_with(|| reply.text.clone());
        assert_eq!(*told, reply.text, "{path} at revision {revision}");
        self.compared.fetch_add(1, Ordering::Relaxed);
    }

    /// With nobody writing all processes answer the same.
    fn compare(&self) {
        let lists = ["/flights?limit=200", "/defects", "/corrections?limit=200", "/components", "/facts"];
        let newest = self.newest.load(Ordering::SeqCst);
        let ask = |path: &str| -> String {
            let mut texts: Vec<String> =
                self.processes.iter().map(|process| process.caller.get(path).expect(200).text).collect();
            for other in &texts[1..] {
                assert_eq!(texts[0], *other, "{path}");
            }
            texts.swap_remove(0)
        };
        for path in lists {
            ask(path);
        }
        for path in questions() {
            let answer: Value = serde_json::from_str(&ask(&path)).unwrap();
            assert!(answer["revision"].as_i64().unwrap() >= newest, "{path}");
        }
    }
}

fn questions() -> Vec<String> {
    let mut list: Vec<String> = ["may-fly", "due", "findings", "where"]
        .iter()
        .map(|question| format!("/{question}?as_of={AS_OF}"))
        .collect();
    list.extend((0..WRITERS).map(|number| format!("/models/SG-0{number}/usage?as_of={AS_OF}")));
    list
}

/// Drives so many processes on one database through some rounds and tells what was done.
pub fn drive(database: Database, processes: usize, rounds: u32, seed: u64) -> String {
    let (place, token) = record::begin(database);
    let running: Vec<Process> = (0..processes).map(|_| crate::start(&place, &token)).collect();
    more_parts(&running[0]);
    let known = Known {
        processes: &running,
        flights: Mutex::default(),
        acknowledged: Mutex::default(),
        refused: Mutex::default(),
        newest: AtomicI64::new(0),
        answers: Mutex::default(),
        counts: Mutex::default(),
        busy: AtomicU64::new(0),
        compared: AtomicU64::new(0),
    };
    for round in 0..rounds {
        std::thread::scope(|scope| {
            for client in 0..CLIENTS {
                let known = &known;
                let mut chance = Chance::new(seed ^ (u64::from(round) << 32) ^ (client << 8));
                scope.spawn(move || {
                    for _ in 0..ACTS {
                        known.act(&mut chance);
                        known.read(&mut chance);
                    }
                });
            }
        });
        known.compare();
    }
    let counts = known.counts.lock().unwrap().clone();
    for needed in
        ["flight refused_by_rule", "exchange recorded", "correction recorded", "doubled flight known"]
    {
        assert!(rounds < 20 || counts.contains_key(needed), "{needed} never happened: {counts:?}");
    }
    let acknowledged = known.acknowledged.lock().unwrap().clone();
    once_on_record(&running[0], &acknowledged, &known.refused.lock().unwrap());
    record::holds(&running[0], &place);
    as_from_nothing(&running, &place, &token);
    let (busy, compared) = (known.busy.into_inner(), known.compared.into_inner());
    drop(running);
    if let (Database::Sqlite, Some(folder)) = (database, std::path::Path::new(&place).parent()) {
        std::fs::remove_dir_all(folder).unwrap();
    }
    format!(
        "{rounds} rounds, {} facts acknowledged, {compared} answers compared under load, {busy} times busy, {counts:?}",
        acknowledged.len(),
    )
}

/// A servo for the second model, and two that lie on the shelf.
fn more_parts(process: &Process) {
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(next().0);
        process.caller.post(&format!("/{noun}"), &body).expect(201);
    };
    let component =
        |tag: &str, part: &str| json!({ "tag": tag, "part": part, "mass_g": 10.4, "state": "serviceable" });
    let mut panel = component("PN-2", "PANEL");
    (panel["seat"], panel["design"]) = (json!("PANEL"), json!("SEDGE"));
    add("components", panel);
    for tag in ["SV-3", "SV-4"] {
        add("components", component(tag, "SV08"));
    }
    let fit = |component: &str, inside: Value, position: &str| {
        json!({ "component": component, "inside": inside, "position": position,
            "occurred_at": "2025-04-05T06:00:00Z" })
    };
    add("installations", fit("PN-2", json!({ "model": "SG-01" }), "W.C"));
    add("installations", fit("SV-3", json!({ "component": "PN-2" }), "FS.L"));
}

/// What was acknowledged stands in the feed once, what was refused not at all.
fn once_on_record(process: &Process, acknowledged: &[String], refused: &[String]) {
    let feed = process.caller.get("/facts").expect(200);
    let mut times: BTreeMap<String, u32> = BTreeMap::new();
    for line in feed.text.lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        *times.entry(line["fact"]["id"].as_str().unwrap().to_owned()).or_default() += 1;
    }
    let acknowledged: BTreeSet<&String> = acknowledged.iter().collect();
    for id in &acknowledged {
        assert_eq!(times.get(*id), Some(&1), "{id} was acknowledged");
    }
    for id in refused.iter().filter(|id| !acknowledged.contains(id)) {
        assert_eq!(times.get(id), None, "{id} was refused");
    }
}

/// What each process answers after all its changes is what one answers that reads the record from nothing. What speaks
/// of the moment at which it was asked is left out.
fn as_from_nothing(running: &[Process], place: &str, token: &str) {
    let timeless = |process: &Process| {
        let mut told = everything(&process.caller, &[AS_OF], &[20]);
        told.retain(|path, (_, body)| {
            let body = String::from_utf8_lossy(body);
            let is_of_now =
                path.contains(".pdf") || ["\"as_of\":", "\"now\":"].iter().any(|one| body.contains(one));
            path.contains("as_of=") || !is_of_now
        });
        told
    };
    let wanted = timeless(&crate::start(place, token));
    assert!(wanted.len() > 60, "{} answers", wanted.len());
    for process in running {
        let differing = unlike(&wanted, &timeless(process));
        assert!(differing.is_empty(), "{} differ: {}", differing.len(), differing.join("\n"));
    }
}
