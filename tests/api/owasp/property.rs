//! API3, single fields: what nobody may set is refused by name wherever it is sent, and no answer shows a secret or what
//! is kept of one.

use std::io::Read as _;

use preen_domain::facts::Noun;
use preen_tests::everything::everything;
use preen_tests::world::{CLUB, flight, lines, new_id};
use preen_tests::{Reply, on_both};
use serde_json::{Value, json};

/// Fields that only the service sets, or that no shape has.
const NOT_THEIRS: [&str; 12] = [
    "revision",
    "recorded_at",
    "recorded_by",
    "act",
    "club_id",
    "club",
    "hash",
    "secret_hash",
    "is_admin",
    "scopes_granted",
    "is_voided",
    "corrected_by",
];

/// Shapes that have a field of such a name of their own.
fn is_of_shape(noun: Noun, field: &str) -> bool {
    let (schema, _) = noun.schema();
    json!(schema)["properties"].get(field).is_some()
}

on_both!(what_only_the_service_sets_is_refused_by_name, |world| {
    let mut tried = 0;
    for noun in Noun::ALL {
        for field in NOT_THEIRS {
            if is_of_shape(*noun, field) {
                continue;
            }
            let reply = world.av.post(&format!("/{noun}"), &json!({ field: 1 }));
            if matches!(reply.status, 404 | 405) {
                // Made by the service alone.
                continue;
            }
            reply.problem(422, "invalid_fields");
            let named = reply.json()["errors"].to_string();
            assert!(named.contains(&format!("/{field}")), "{noun} {field}: {}", reply.text);
            tried += 1;
        }
    }
    assert!(tried > 300, "{tried}");
    // In an outbox, in a new version, in a correction.
    world.small_fleet();
    let mut fact = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    fact["revision"] = json!(1);
    let sent =
        world.av.post("/facts", &json!({ "facts": [{ "noun": "flights", "fact": fact }] })).expect(200);
    assert_ne!(sent.json()["results"][0]["status"], "recorded", "{}", sent.text);
    let mut member = world.av.get("/members/AV").expect(200).json();
    member["roles"] = json!(["keeper", "admin"]);
    world.av.put("/members/AV", Some("*"), &member).expect(422);
});

on_both!(nobody_gives_themselves_more, |world| {
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    let before = pilot.get("/session").expect(200).json();
    let mut own = pilot.get("/members/BK").expect(200).json();
    let seen = Reply::of(pilot.request("GET", "/members/BK"));
    own["roles"] = json!(["keeper"]);
    for field in ["revision", "recorded_at", "recorded_by"] {
        own.as_object_mut().unwrap().remove(field);
    }
    let reply = pilot.put("/members/BK", seen.header("etag"), &own);
    reply.problem(403, "not_allowed");
    // A token for somebody else, or for more than one may.
    let token = |member: &str, scopes: Value| json!({ "id": new_id(), "member": member, "label": "x", "scopes": scopes });
    pilot.post("/tokens", &token("AV", json!(["read"]))).problem(403, "not_allowed");
    let more = pilot.post("/tokens", &token("BK", json!(["read", "history"])));
    assert!(matches!(more.status, 403 | 422), "{}", more.text);
    // What reads makes nothing that writes.
    let reader = world.token_of("BK", &["read"], None);
    let made = reader.post("/tokens", &token("BK", json!(["read", "write"])));
    assert!(matches!(made.status, 403 | 422), "{}", made.text);
    let another = json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper"] });
    pilot.post("/members", &another).problem(403, "not_allowed");
    assert_eq!(pilot.get("/session").expect(200).json(), before);
});

/// An archive unpacked, one file after the other.
fn unpacked(bytes: Vec<u8>) -> Vec<u8> {
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut all = Vec::new();
    for at in 0..zip.len() {
        zip.by_index(at).unwrap().read_to_end(&mut all).unwrap();
    }
    all
}

on_both!(no_answer_shows_a_secret_or_what_is_kept_of_one, |world| {
    world.small_fleet();
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    world.member("BK", &["pilot"], &["read"]);
    world.av.put("/members/AV/password", None, &json!({ "new_password": "three old oars" })).expect(200);
    let one_time = world.av.put("/members/BK/password", None, &json!({ "new_password": "four new rudders" }));
    one_time.expect(200);
    let body = json!({ "club": CLUB, "member": "AV", "password": "three old oars" });
    let session = world.av.with_token("").post("/session", &body).expect(201);
    let mut secrets = vec!["three old oars".to_owned(), "four new rudders".to_owned()];
    secrets.push(world.av.token.rsplit('_').next().unwrap().to_owned());
    secrets.push(session.json()["csrf_token"].as_str().unwrap().to_owned());
    let cookie = session.header("set-cookie").unwrap().split(';').next().unwrap();
    secrets.push(cookie.rsplit('_').next().unwrap().to_owned());
    secrets.extend(lines(&mut world.conn(), "SELECT hash AS line FROM passwords"));
    secrets.extend(lines(&mut world.conn(), "SELECT secret_hash AS line FROM sessions"));
    secrets.extend(lines(&mut world.conn(), "SELECT secret_hash AS line FROM tokens"));
    assert!(secrets.len() >= 9 && secrets.iter().all(|secret| secret.len() > 10), "{secrets:?}");
    let mut answers = everything(&world.av, &["2026-05-20"], &[3]);
    for path in ["/tokens", "/session", "/openapi.json", "/calendar.ics", "/facts?since=0"] {
        let reply = world.av.get(path);
        answers.insert(path.to_owned(), (reply.status, reply.bytes));
    }
    let copier = world.token_of("AV", &["read", "copy"], None);
    secrets.push(copier.token.rsplit('_').next().unwrap().to_owned());
    for path in ["/export", "/members/AV/export", "/models/SG-01/export"] {
        let reply = copier.get(path).expect(200);
        answers.insert(path.to_owned(), (200, unpacked(reply.bytes)));
    }
    assert!(answers.len() > 100, "{}", answers.len());
    for (path, (_, bytes)) in &answers {
        let text = String::from_utf8_lossy(bytes);
        for secret in &secrets {
            assert!(!text.contains(secret.as_str()), "{path} shows {secret}");
        }
        assert!(!text.contains("$argon2") && !text.contains("secret_hash"), "{path}: {text}");
    }
});
