//! Work without signal: what is logged waits and arrives once, and a copy answers as the service does.

use std::path::{Path, PathBuf};

use preen_api::db::conn::Place;
use preen_tests::http::Caller;
use preen_tests::link::Link;
use preen_tests::world::{items, model, part, scratch};
use preen_tests::{Database, World, cluster};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::Preen;
use crate::responder::Responder;

/// A member's machine, with folders of its own.
struct Machine {
    home: PathBuf,
    preen: Preen,
}

impl Machine {
    fn new(preen: Preen) -> Self {
        let home = scratch("field");
        let preen = preen.env("HOME", home.to_str().unwrap());
        Self { home, preen }
    }

    /// The program while this machine's clock reads this.
    fn at(&self, clock: &str) -> Preen {
        self.preen.clone().clock(clock)
    }

    /// The files of the outbox that wait.
    fn waiting(&self) -> Vec<PathBuf> {
        let mut files = Vec::new();
        for folder in std::fs::read_dir(self.home.join(".local/state/preen/outbox")).into_iter().flatten() {
            let inside = std::fs::read_dir(folder.unwrap().path()).unwrap();
            files.extend(inside.map(|entry| entry.unwrap().path()));
        }
        files.retain(|file| file.extension().is_some_and(|ending| ending == "json"));
        files.sort();
        files
    }
}

impl Drop for Machine {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.home);
    }
}

fn flights_of(demo: &Demo, model: &str) -> Vec<Value> {
    items(Caller::new(&demo.url(), demo.token("FS")).get(&format!("/flights?model={model}&limit=500")))
}

#[test]
fn the_copy_answers_every_command_as_the_service_does() {
    let demo = Demo::shared();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    preen.run("may-fly --offline").code(3).talks("hint: `preen copy` ");
    let copied = preen.json("copy");
    assert!(copied["facts"].as_i64().unwrap() > 3_000, "{copied}");
    for line in [
        "may-fly",
        "may-fly SG-03",
        "due --on 2026-06-20",
        "due --at-revision 400",
        "findings",
        "where --batch SV08/B",
        "stock",
        "exchange SV06 --with SV06M",
        "history SV08-B011",
        "usage SG-05",
        "usage SV08-B011",
        "trend SV08-B011",
        "life SV08",
        "balance SG-05",
        "ballast SG-05 --mass 3300",
        "changes --since 3000 --keep",
        "limits-for SG-03",
        "questions",
        "campaign list",
        "campaign progress CA-2026-1",
        "class-check SG-01",
        "standing DE-008",
        "ready CT-2026-1",
        "spares CT-2026-1",
        "may-fly SG-99",
    ] {
        let asked = format!("{line} --as-of 2026-05-21T07:30:00Z --json");
        let (by_service, by_copy) = (preen.run(&asked), preen.run(&format!("{asked} --offline")));
        assert_eq!(
            (by_copy.code, &by_copy.stdout),
            (by_service.code, &by_service.stdout),
            "{asked}\n{}\n{}",
            by_service.stderr,
            by_copy.stderr
        );
        assert!(
            by_copy.stderr.contains("From the copy of 2026-05-21 09:00 BST"),
            "{asked}: {}",
            by_copy.stderr
        );
    }
    // Nothing is asked of the service.
    let far = machine.preen.clone().env("PREEN_URL", "http://127.0.0.1:9");
    far.run("may-fly --offline").code(3).talks("Nothing is known here of this service");
    preen.run("models list --offline").code(3).talks("This needs the service");
}

#[test]
fn a_copy_says_how_old_it_is_whatever_the_clock_of_the_machine_reads() {
    let demo = Demo::shared();
    let machine = Machine::new(demo.preen("FS"));
    // A clock that is years off is compared, never believed.
    machine
        .at("2031-01-01T00:00:00Z")
        .run("copy")
        .code(0)
        .shows("Copy of Quillmarsh Soaring Club up to date");
    let later = machine.at("2031-01-01T03:00:00Z").run("may-fly SG-01 --offline");
    later.clone().talks("3 h old").shows("as of 2026-05-21 12:00 BST");
    let put_back = machine.at("2001-01-01T00:00:00Z").run("may-fly SG-01 --offline");
    put_back.talks("0 s old").shows("as of 2026-05-21 09:00 BST");
}

#[test]
fn a_copy_is_brought_up_to_date_and_thrown_away() {
    let demo = Demo::own();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    let first = preen.json("copy");
    preen.run("log SG-01 4 normal").code(0);
    let second = preen.json("copy");
    assert_eq!(
        (&second["new"], second["facts"].as_i64()),
        (&json!(1), first["facts"].as_i64().map(|n| n + 1))
    );
    // Junk behind what counts, as a power cut may leave it, is not taken for facts.
    let facts = Path::new(second["folder"].as_str().unwrap()).join("facts.ndjson");
    let mut bytes = std::fs::read(&facts).unwrap();
    let whole = bytes.clone();
    bytes.extend_from_slice(b"{\"revision\": 99");
    std::fs::write(&facts, &bytes).unwrap();
    preen.run("usage SG-01 --offline").code(0);
    assert_eq!(preen.json("copy")["new"], json!(0));
    assert_eq!(std::fs::read(&facts).unwrap(), whole);
    // A copy that lost its end is told, not answered from.
    std::fs::write(&facts, &whole[..whole.len() - 200]).unwrap();
    preen.run("may-fly --offline").code(3).talks("cannot be used").talks("hint: `preen copy --anew`");
    assert_eq!(preen.json("copy --anew")["facts"], second["facts"]);
    // A name taken out of the record does not live on in a copy.
    let keeper = Caller::new(&demo.url(), demo.token("KD"));
    let named = "Willa Wander";
    let member =
        json!({ "id": preen_tests::world::new_id(), "tag": "WW", "name": named, "roles": ["pilot"] });
    keeper.post("/members", &member).expect(201);
    preen.run("copy").code(0);
    assert!(std::fs::read_to_string(&facts).unwrap().contains(named));
    keeper.post("/members/WW/erasure", &json!({})).expect(200);
    preen.run("copy").code(0);
    assert!(!std::fs::read_to_string(&facts).unwrap().contains(named));
    let snapshot = std::fs::read(facts.with_file_name("fleet.snapshot")).unwrap();
    assert!(!snapshot.windows(named.len()).any(|bytes| bytes == named.as_bytes()));
    preen.run("copy --remove").code(0);
    assert!(std::fs::read_dir(facts.parent().unwrap()).unwrap().next().is_none(), "nothing is left of it");
    preen.run("may-fly --offline").code(3);
}

#[test]
fn a_copy_of_what_the_record_lost_is_fetched_anew_on_postgres() {
    let world = World::begin(Database::Postgres);
    let Place::Server(url) = &world.place else { panic!("it is on a server") };
    world.small_fleet();
    let machine = Machine::new(Preen::at(&world.url(), &world.av.token));
    let preen = machine.at("2026-05-21T08:00:00Z");
    let facts_of = |said: &Value| {
        std::fs::read_to_string(Path::new(said["folder"].as_str().unwrap()).join("facts.ndjson")).unwrap()
    };
    preen.json("copy");
    // Others write nothing, as many changes as were lost, more.
    for (round, others) in [0, 2, 3].into_iter().enumerate() {
        let kept = cluster::keep(url);
        world.add("models", model(&format!("SG-L{others}"), "AV"));
        world.add("parts", part(&format!("L{others}"), "servo"));
        preen.json("copy");
        kept.set_back();
        for number in 0..others {
            world.add("parts", part(&format!("P{others}{number}"), "servo"));
        }
        let said = preen.run("copy").code(0).talks("The record no longer had what this copy ended with");
        // What was lost is kept here, as it was.
        said.talks("2 facts of it are on no record any more");
        let folder = preen.json("copy")["folder"].as_str().unwrap().to_owned();
        let kept_here = std::fs::read_to_string(Path::new(&folder).join("lost.ndjson")).unwrap();
        let last: Vec<&str> = kept_here.lines().rev().take(2).collect();
        assert!(last[0].contains(&format!("\"L{others}\"")) && last[1].contains(&format!("SG-L{others}")));
        assert_eq!(kept_here.lines().count(), 2 * (round + 1), "{kept_here}");
        let fresh = Machine::new(machine.preen.clone());
        let (here, there) = (preen.json("copy"), fresh.at("2026-05-21T08:00:00Z").json("copy"));
        assert_eq!((&here["new"], facts_of(&here)), (&json!(0), facts_of(&there)), "{others} others");
        preen.run(&format!("usage SG-L{others} --offline")).code(3);
        preen.run("usage SG-01 --offline").code(0);
    }
    // A copy that does not say what it ends with goes on by its revision, and says it from then on.
    let label = Path::new(preen.json("copy")["folder"].as_str().unwrap()).join("copy.json");
    let mut said: Value = serde_json::from_slice(&std::fs::read(&label).unwrap()).unwrap();
    let last = said.as_object_mut().unwrap().remove("last").unwrap();
    std::fs::write(&label, said.to_string()).unwrap();
    world.add("parts", part("SV09", "servo"));
    assert_eq!(preen.json("copy")["new"], json!(1));
    let now: Value = serde_json::from_slice(&std::fs::read(&label).unwrap()).unwrap();
    assert_eq!(now["last"]["revision"].as_i64(), last["revision"].as_i64().map(|revision| revision + 1));
    preen.run("copy --remove").code(0);
    assert!(std::fs::read_dir(label.parent().unwrap()).unwrap().next().is_none(), "nothing is left of it");
}

#[test]
fn a_snapshot_that_does_not_fit_its_copy_is_passed_over() {
    let demo = Demo::own();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    let folder = preen.json("copy")["folder"].as_str().unwrap().to_owned();
    let file = Path::new(&folder).join("fleet.snapshot");
    let asked = || preen.run("due --offline --json").code(2).stdout;
    let (right, first) = (asked(), std::fs::read(&file).unwrap());
    assert!(right.contains("SG-01") && first.len() > 100_000);
    // Torn, of nothing, of another version of this program: the copy is arranged from its facts.
    let version = env!("CARGO_PKG_VERSION").as_bytes();
    let at = first.windows(version.len()).position(|bytes| bytes == version).unwrap();
    let mut other = first.clone();
    other[at] = b'9';
    for bytes in [&first[..first.len() / 2], &[], &other] {
        std::fs::write(&file, bytes).unwrap();
        assert_eq!(asked(), right);
    }
    std::fs::remove_file(&file).unwrap();
    assert_eq!(asked(), right);
    // The next copy makes it anew, and one that is older than the copy is not believed.
    preen.run("log SG-01 4 normal").code(0);
    preen.run("copy").code(0);
    let newest = asked();
    assert_ne!(newest, right);
    assert_ne!(std::fs::read(&file).unwrap(), first);
    std::fs::write(&file, &first).unwrap();
    assert_eq!(asked(), newest);
}

#[test]
fn what_is_logged_without_signal_waits_and_arrives_once() {
    let demo = Demo::own();
    let link = Link::to(&demo.url());
    let machine = Machine::new(Preen::at(&link.url(), demo.token("FS")));
    let before = flights_of(&demo, "SG-02").len();
    let morning = machine.at("2026-05-21T08:00:00Z");
    morning.run("copy").code(0);
    link.cut();
    // Nothing is typed otherwise than with signal; the clock of the machine is an hour ahead by now.
    let field = machine.at("2026-05-21T09:10:00Z");
    field
        .run("log SG-02 6:30 normal --checked --at 2026-05-21T08:30:00Z")
        .code(0)
        .shows("Kept here, not sent yet")
        .talks("1 entry waits");
    field.run("log SG-02 7 hard").code(0).talks("2 entries wait");
    field.run("measure SV08-B002 servo_free_play 0.4 deg").code(0);
    field.run("defect SG-02 watch 'small crack in the fillet'").code(0);
    field.run("rig SG-02").code(0).talks("5 entries wait");
    field.run("sync").code(5).talks("5 entries still wait here; nothing is lost");
    field.run("may-fly SG-02 --offline").talks("5 entries are not sent yet and not counted");
    let listed = field.run("sync --list").code(0);
    assert!(
        listed.stdout.find("6.5 min").unwrap() < listed.stdout.find("7.0 min").unwrap(),
        "{}",
        listed.stdout
    );
    assert_eq!(flights_of(&demo, "SG-02").len(), before);
    // As if the answer got lost after the service had taken all in: the outbox is as it was.
    let files: Vec<(PathBuf, Vec<u8>)> =
        machine.waiting().into_iter().map(|file| (file.clone(), std::fs::read(&file).unwrap())).collect();
    link.mend();
    demo.clock.set("2026-05-21T09:12:00Z".parse().unwrap());
    let sent = field.json("sync");
    let statuses: Vec<&str> =
        sent["results"].as_array().unwrap().iter().map(|one| one["status"].as_str().unwrap()).collect();
    assert_eq!(statuses, ["recorded"; 5], "{sent}");
    assert!(machine.waiting().is_empty());
    for (file, bytes) in files {
        std::fs::write(file, bytes).unwrap();
    }
    let again = field.json("sync");
    assert!(again["results"].as_array().unwrap().iter().all(|one| one["status"] == "known"), "{again}");
    let flown = flights_of(&demo, "SG-02");
    assert_eq!(flown.len(), before + 2);
    // The time is the service's, as far as it was known, not that of the machine's clock.
    let at = flown.iter().filter(|flight| flight["occurred_at"] == "2026-05-21T09:10:00Z").count();
    assert_eq!(at, 1, "{flown:?}");
    field.run("may-fly SG-02").code(2).shows("hard landing");
}

#[test]
fn what_waited_goes_before_what_is_logged_next() {
    let demo = Demo::own();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    preen.run("copy").code(0);
    preen.run("log SG-02 6 normal --at 2026-05-21T07:00:00Z --offline").code(0);
    let next = preen.run("log SG-02 5 normal --at 2026-05-21T07:30:00Z").code(0);
    next.shows("Recorded: flight of SG-02, 5.0 min").talks("1 entry that waited was sent.");
    assert!(machine.waiting().is_empty());
}

#[test]
fn what_the_service_will_not_have_is_put_aside_and_what_a_rule_refuses_becomes_a_question() {
    let demo = Demo::own();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    preen.run("copy").code(0);
    preen.run("log SG-77 6 normal --offline").code(0);
    preen.run("log SG-02 6 normal --at 2026-05-24T10:00:00Z --offline").code(0);
    let said = preen.run("sync").code(1);
    said.shows("Became a question: flight of SG-77").shows("Put aside: flight of SG-02");
    preen.run("sync").code(0).shows("Nothing waits");
    preen.run("sync --list").code(1).shows("put aside");
    demo.clock.set("2026-05-24T11:00:00Z".parse().unwrap());
    let again = preen.json("sync --retry");
    assert_eq!(again["results"][0]["status"], "recorded", "{again}");
    preen.run("sync --list").code(0).shows("Nothing waits");
    // With the service there, whoever types hears it at once and nothing is left behind.
    preen.run("log SG-77 6 normal").code(3).talks("There is no `SG-77`");
    assert!(machine.waiting().is_empty());
}

#[test]
fn a_token_that_ended_meanwhile_loses_nothing() {
    let demo = Demo::own();
    let keeper = Caller::new(&demo.url(), demo.token("KD"));
    let token = |label: &str| {
        let asked = json!({ "id": preen_tests::world::new_id(), "member": "FS", "label": label, "scopes": ["read", "write", "copy"] });
        keeper.post("/tokens", &asked).expect(201).json()
    };
    let (first, second) = (token("old phone"), token("new phone"));
    let machine = Machine::new(Preen::at(&demo.url(), first["token"].as_str().unwrap()));
    machine.at("2026-05-21T08:00:00Z").run("may-fly SG-02");
    let id = first["id"].as_str().unwrap();
    let ended = Caller::new(&demo.url(), demo.token("KD")).request("DELETE", &format!("/tokens/{id}"));
    assert!(preen_tests::Reply::of(ended).status < 300);
    let said = machine.at("2026-05-21T08:05:00Z").run("log SG-02 6 normal --at 2026-05-21T07:00:00Z").code(0);
    said.shows("Kept here, not sent yet");
    machine.at("2026-05-21T08:06:00Z").run("sync").code(4).talks("hint: 1 entry still waits here");
    // The same member by another token has the same outbox.
    let anew = machine.at("2026-05-21T08:07:00Z").env("PREEN_TOKEN", second["token"].as_str().unwrap());
    assert_eq!(anew.json("sync")["results"][0]["status"], "recorded");
    // Another member has another one.
    machine
        .at("2026-05-21T08:08:00Z")
        .env("PREEN_TOKEN", demo.token("AV"))
        .run("sync")
        .code(0)
        .shows("Nothing waits");
}

/// What a service says that answers everything alike: which club it is, and what became of an outbox.
fn odd_service(results: &Value) -> Responder {
    let said = json!({
        "club": "quillmarsh", "club_id": "01970a3c-5d00-7000-8000-00000000c1ab", "title": "Quillmarsh Soaring Club",
        "time_zone": "Europe/London", "now": "2026-05-21T08:00:00Z", "revision": 3, "member": "FS",
        "member_id": "01970a3c-5d00-7000-8000-000000000001", "roles": ["pilot"], "scopes": ["read", "write"],
        "received_at": "2026-05-21T08:00:00Z", "clock_ahead_s": 0, "results": results,
    });
    Responder::http("200 OK", "Content-Type: application/json\r\n", &said.to_string())
}

#[test]
fn half_an_answer_settles_half_an_outbox() {
    let one = json!({ "id": null, "status": "recorded", "revision": 4, "question": null, "problem": null });
    let about_another =
        json!({ "id": "01970a3c-5d00-7000-8000-00000000dead", "status": "recorded", "revision": 4 });
    let try_again = json!({ "id": null, "status": "try_again" });
    for (results, left) in [
        (json!([one]), 2),
        (json!([]), 3),
        (json!([one, about_another, one]), 1),
        (json!([one, try_again, try_again]), 2),
        (json!([one, one, one, one]), 0),
    ] {
        let service = odd_service(&results);
        let machine = Machine::new(Preen::at(&service.url(), "t"));
        let preen = machine.at("2026-05-21T08:00:00Z");
        preen.run("sync --list").code(0);
        for model in ["SG-01", "SG-02", "SG-03"] {
            preen.run(&format!("log {model} 6 normal --offline")).code(0);
        }
        preen.run("sync").code(5);
        assert_eq!(machine.waiting().len(), left, "{results}");
    }
}

#[test]
fn a_disk_that_refuses_is_told_and_the_service_keeps_it() {
    let demo = Demo::own();
    let machine = Machine::new(demo.preen("FS"));
    let preen = machine.at("2026-05-21T08:00:00Z");
    preen.run("copy").code(0);
    let folder = machine.home.join(".local/state/preen/outbox");
    std::fs::create_dir_all(folder.parent().unwrap()).unwrap();
    std::fs::write(&folder, "a file where the folder should be").unwrap();
    preen.run("log SG-02 6 normal").code(0).shows("Recorded").talks("cannot be used");
    preen.run("log SG-02 6 normal --offline").code(3).talks("hint: Nothing was kept.");
}
