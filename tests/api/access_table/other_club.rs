//! Another club on the same service: whatever of this one it names, by id or by tag, it is told that there is
//! nothing, and nothing changes in either.

use preen_domain::facts::Noun;
use preen_domain::words::Role;
use preen_tests::Reply;
use preen_tests::http::Caller;
use preen_tests::world::new_id;
use serde_json::{Value, json};

use super::club::Club;
use super::operations;
use super::requests::{CASES, Request, is_unknown_reference, request};

/// The first member of another club on the same service, who may do everything there.
fn begin_other(club: &Club) -> Caller {
    let roles = json!(["keeper", "inspector", "builder", "stores", "pilot", "safety_officer"]);
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": roles });
    club.world.av.with_token(&club.world.begin_club("reedbed", &member))
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
    let other = begin_other(club);
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
    let text = reply.expect(200).text;
    for known in ["OTHERS", "SG-01", "quillmarsh", "SV08", "\"AV\""] {
        assert!(!text.contains(known), "{request:?}: {known}: {text}");
    }
}
