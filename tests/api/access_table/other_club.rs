//! Another club on the same service: whatever of this one it names, by id or by tag, it is told that there is
//! nothing, and nothing changes in either.

use preen_domain::facts::Noun;
use preen_domain::words::Role;
use preen_tests::Reply;
use preen_tests::http::Caller;
use preen_tests::world::{design, flight, new_id, part};
use serde_json::{Value, json};

use super::club::Club;
use super::operations;
use super::requests::{CASES, Request, is_unknown_reference, request};

/// The first member of another club on the same service, who may do everything there.
fn begin_other(club: &Club, name: &str) -> Caller {
    let roles = json!(["keeper", "inspector", "builder", "stores", "pilot", "safety_officer"]);
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": roles });
    club.world.av.with_token(&club.world.begin_club(name, &member))
}

fn revision(caller: &Caller) -> Value {
    caller.get("/club").expect(200).json()["revision"].clone()
}

/// The request with ids in place of tags: what the path names, and what the fields of its noun name.
fn by_id(club: &Club, noun: &str, request: &Request) -> Request {
    let id_of = |noun: &str, name: &str| club.stored(noun, name)["id"].clone();
    let mut request = request.clone();
    let mut steps: Vec<String> = request.target.split('/').map(ToOwned::to_owned).collect();
    if steps.len() > 1 && noun != "tokens" {
        let (name, query) = steps[1].split_once('?').unwrap_or((&steps[1], ""));
        let query = if query.is_empty() { String::new() } else { format!("?{query}") };
        steps[1] = format!("{}{query}", id_of(noun, name).as_str().unwrap());
        request.target = steps.join("/");
    }
    if let (Some(body), Ok(noun)) = (&mut request.body, noun.parse::<Noun>()) {
        for (pointer, of) in noun.references().iter().filter(|(pointer, _)| !pointer.contains('*')) {
            if let Some(Value::String(name)) = body.pointer_mut(pointer) {
                *name = id_of(of.as_str(), name).as_str().unwrap().to_owned();
            }
        }
    }
    request
}

/// It was told that there is no such thing, in the path or in the body.
fn is_told_nothing(request: &Request, has_object: bool, reply: &Reply) -> bool {
    if request.target == "facts" {
        let result = reply.clone().expect(200).json()["results"][0].clone();
        return result["status"] == "question" && is_unknown_reference(&result["problem"]);
    }
    if has_object { reply.status == 404 } else { reply.status == 422 && is_unknown_reference(&reply.json()) }
}

/// Asks for everything of the club from another.
pub fn check(club: &Club) {
    let other = begin_other(club, "reedbed");
    let (mut by_path, mut by_body, mut lists) = (0, 0, 0);
    for (_, path) in operations().iter().filter(|(method, path)| *method == "get" && !path.contains("{id}")) {
        let mut cases = CASES.iter().filter_map(|case| request(club, "get", path, Role::Inspector, case));
        check_list(&other, &cases.next_back().unwrap());
        lists += 1;
    }
    for (method, path) in operations() {
        let noun = path.split('/').next().unwrap_or_default();
        let has_object = path.contains("{id}");
        for case in CASES {
            let Some(request) = request(club, method, path, Role::Inspector, case) else { continue };
            if !(has_object || names_something(noun, &request)) {
                continue;
            }
            for request in [by_id(club, noun, &request), request] {
                let before = (revision(&club.world.av), revision(&other));
                let reply = request.send(&other);
                assert!(is_told_nothing(&request, has_object, &reply), "{request:?}: {}", reply.text);
                if noun != "facts" {
                    assert_eq!((revision(&club.world.av), revision(&other)), before, "{request:?}");
                }
            }
            if has_object { by_path += 1 } else { by_body += 1 }
        }
    }
    assert!(by_path > 100 && by_body > 40 && lists > 35, "{by_path} {by_body} {lists}");
}

/// Something of their own in the path, and in body or query something of the club: told as any name that is nowhere.
pub fn check_mixed(club: &Club) {
    let other = begin_other(club, "fenbank");
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(new_id());
        other.post(&format!("/{noun}"), &body).expect(201);
        body
    };
    let design = add("designs", design("REED"));
    add("parts", part("RV1", "panel"));
    let model = add(
        "models",
        json!({ "tag": "REED-1", "design": "REED", "ownership": "club", "first_flight_on": "2025-04-05" }),
    );
    for tag in ["RP-1", "RP-2"] {
        let panel = json!({
            "tag": tag, "part": "RV1", "design": "REED", "seat": "PANEL", "mass_g": 300.0, "state": "serviceable"
        });
        add("components", panel);
    }
    let at = "2026-01-10T10:00:00Z";
    add(
        "installations",
        json!({ "component": "RP-1", "inside": { "model": "REED-1" }, "position": "W.C", "occurred_at": at }),
    );
    let flown = add("flights", flight("REED-1", "ZZ", "2026-05-20T10:00:00Z"));
    let flight_path = format!("/flights/{}/correction", flown["id"].as_str().unwrap());

    // Each names NAME, which stands for an item of the club by tag, by id, or for one that is nowhere.
    let with = |base: &Value, pointer: &str| {
        let mut body = base.clone();
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        body.pointer_mut(parent).unwrap()[key] = json!("NAME");
        body
    };
    let correction = json!({ "id": new_id(), "reason": "a slip", "fact": flown });
    let swap = json!({
        "occurred_at": "2026-05-20T10:00:00Z",
        "exchanges": [{ "path": "W.C", "on": "NAME", "installation": new_id(), "removal": new_id(), "reason": "upgrade" }]
    });
    let fit = json!({
        "id": new_id(), "inside": { "model": "NAME" }, "position": "W.C", "occurred_at": "2026-05-20T10:00:00Z"
    });
    let cases = [
        ("PUT", "/models/REED-1".to_owned(), with(&model, "/design"), Noun::Designs, "ROW"),
        ("PUT", "/models/REED-1".to_owned(), with(&model, "/owner"), Noun::Members, "AV"),
        ("POST", flight_path.clone(), with(&correction, "/fact/model"), Noun::Models, "OTHERS"),
        ("POST", flight_path, with(&correction, "/fact/pilot"), Noun::Members, "AV"),
        ("POST", "/models/REED-1/swap".to_owned(), swap, Noun::Components, "P-OTHERS"),
        ("POST", "/components/RP-2/fit".to_owned(), fit, Noun::Models, "OTHERS"),
        ("GET", "/flights?model=NAME".to_owned(), Value::Null, Noun::Models, "OTHERS"),
        ("GET", "/components?part=NAME".to_owned(), Value::Null, Noun::Parts, "SV08"),
        ("GET", "/may-fly?model=NAME".to_owned(), Value::Null, Noun::Models, "OTHERS"),
        ("GET", "/may-fly?pilot=NAME".to_owned(), Value::Null, Noun::Members, "AV"),
        ("GET", "/due?model=NAME".to_owned(), Value::Null, Noun::Models, "OTHERS"),
        ("GET", "/where?component=NAME".to_owned(), Value::Null, Noun::Components, "P-OTHERS"),
        ("GET", "/where?part=NAME".to_owned(), Value::Null, Noun::Parts, "SV08"),
        ("GET", "/life?part=NAME".to_owned(), Value::Null, Noun::Parts, "SV08"),
        ("GET", "/exchange?part=NAME".to_owned(), Value::Null, Noun::Parts, "SV08"),
        ("GET", "/tokens?member=NAME".to_owned(), Value::Null, Noun::Members, "AV"),
    ];
    let before = (revision(&club.world.av), revision(&other));
    for (method, path, body, noun, tag) in cases {
        let ask = |name: &str| {
            let request = other.request(method, &path.replace("NAME", name)).header("if-match", "*");
            let text = body.to_string().replace("NAME", name);
            let reply = Reply::of(match body {
                Value::Null => request,
                _ => request.header("content-type", "application/json").body(text),
            });
            (reply.status, reply.text.replace(name, "NAME"))
        };
        let id = club.stored(noun.as_str(), tag)["id"].as_str().unwrap().to_owned();
        let (by_tag, by_id) = (ask(tag), ask(&id));
        assert!(matches!(by_tag.0, 400 | 404 | 422), "{method} {path}: {by_tag:?}");
        assert_eq!(by_tag, ask("NOWHERE"), "{method} {path}");
        assert_eq!(by_id, ask(&new_id()), "{method} {path}");
    }
    assert_eq!((revision(&club.world.av), revision(&other)), before);
    assert_eq!(other.get("/models/REED-1").expect(200).json()["design"], design["id"]);
}

/// Whether the body names items of its club.
fn names_something(noun: &str, request: &Request) -> bool {
    let Some(body) = request.body.as_ref().filter(|_| request.method == "post") else { return false };
    match noun.parse::<Noun>() {
        Ok(noun) => noun.references().iter().any(|(pointer, _)| body.pointer(pointer).is_some()),
        Err(_no_noun) => noun == "facts",
    }
}

/// What it lists holds nothing of the club.
fn check_list(other: &Caller, request: &Request) {
    let reply = request.send(other);
    if request.target.contains('=') && reply.status != 200 {
        // It names something, and that is not there.
        let (status, code) = if reply.status == 404 { (404, "not_found") } else { (400, "bad_parameter") };
        reply.problem(status, code);
        return;
    }
    if request.target.contains(".pdf") {
        // Not printed at all, and what would be is what the other answers say.
        assert_eq!(reply.status, 304, "{request:?}: {}", reply.text);
        return;
    }
    let text = reply.expect(200).text;
    for known in ["OTHERS", "SG-01", "quillmarsh", "SV08", "\"AV\""] {
        assert!(!text.contains(known), "{request:?}: {known}: {text}");
    }
}
