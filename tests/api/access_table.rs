//! Who gets through, operation by operation: each role on what is their own, another's and lent to them, as one
//! table; and another club, which finds nothing anywhere.
//!
//! Kinds of facts whose acts are told apart inside the domain are held by the table in `tests/rules/may.rs`.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicI64, Ordering};

use preen_domain::time::Instant;
use preen_domain::words::Role;
use preen_tests::description::description;
use preen_tests::http::Caller;
use preen_tests::world::{design, flight, model, new_id, part};
use preen_tests::{Database, Reply, World};
use serde_json::{Value, json};

/// Reviewed by hand. `yes` came past the door, `no` was told that it may not, `-` was told that there is nothing.
const TABLE: &str = "api/access_table.txt";

/// Operations that the table leaves to `tests/rules/may.rs` and to the tests of their nouns.
const LEFT_OUT: &[&str] = &[
    "get campaigns/{id}",
    "get charges/{id}",
    "get closures/{id}",
    "get conditions/{id}",
    "get corrections/{id}",
    "get inspections/{id}",
    "get limits/{id}",
    "get loan-returns/{id}",
    "get lots/{id}",
    "get matched-sets/{id}",
    "get pairings/{id}",
    "get questions/{id}",
    "get releases/{id}",
    "get removals/{id}",
    "get repairs/{id}",
    "get settlements/{id}",
    "get slugs/{id}",
    "post campaigns",
    "post charges",
    "post closures",
    "post conditions",
    "post facts",
    "post inspections",
    "post installations",
    "post limits",
    "post loan-returns",
    "post lots",
    "post matched-sets",
    "post pairings",
    "post programmes",
    "post releases",
    "post removals",
    "post settlements",
    "post slugs",
    "post components/{id}/fit",
    "post components/{id}/remove",
    "post models/{id}/swap",
    "post members/{id}/erasure",
    "put designs/{id}",
    "put limits/{id}",
    "put lots/{id}",
    "put matched-sets/{id}",
    "put members/{id}",
    "put models/{id}",
    "put parts/{id}",
    "put programmes/{id}",
    "put slugs/{id}",
    "delete session",
    "post compute/balance",
    "post compute/ballast",
    "post compute/interval",
    "post compute/planform",
    "post compute/cover",
    "post compute/linkage",
    "post compute/weighing",
    "post compute/wire",
    "post compute/joiner",
    "post compute/pack",
    "post compute/survival",
];

const WHOSE: [&str; 3] = ["own", "another's", "lent"];

/// A club with a member for each role, who owns a model and has another on loan.
struct Club {
    world: World,
    members: Vec<(Role, Caller)>,
    /// Ids of facts, by noun and model.
    facts: BTreeMap<(&'static str, String), String>,
    /// Answers that say neither yes nor no.
    faults: RefCell<Vec<String>>,
}

fn model_of(role: Role, whose: &str) -> String {
    match whose {
        "own" => format!("OWN-{role}"),
        "lent" => format!("LENT-{role}"),
        _ => "SG-01".to_owned(),
    }
}

/// The body of a fact about a model, by the member who signs it.
fn about(noun: &str, model: &str, by: &str) -> Option<Value> {
    // No two at the same time: flights of one model must not overlap.
    static MINUTES: AtomicI64 = AtomicI64::new(0);
    let minutes = MINUTES.fetch_add(10, Ordering::Relaxed);
    let at = "2026-05-01T00:00:00Z".parse::<Instant>().unwrap().plus_seconds(60 * minutes).to_string();
    let mut body = match noun {
        "flights" => flight(model, by, &at),
        "riggings" => json!({ "model": model, "cycles": 1 }),
        "weighings" => json!({ "model": model, "mass_g": 1200.0, "x_mm": 95.0, "u_x_mm": 0.4 }),
        "defects" => {
            json!({ "model": model, "subject": { "model": model }, "severity": "watch", "text": "a dent" })
        }
        "measurements" => {
            json!({ "subject": { "model": model }, "quantity": "mass", "values": [1200.0], "unit": "g" })
        }
        "repairs" => json!({ "model": model, "kind": "R5", "text": "work" }),
        "events" => json!({ "model": model, "kind": "transport" }),
        _ => return None,
    };
    body["id"] = json!(new_id());
    body["occurred_at"] = json!(at);
    Some(body)
}

/// The body of something that is about no model.
fn of_the_club(noun: &str, role: Role) -> Option<Value> {
    let tag = format!("NEW-{role}");
    let mut body = match noun {
        "members" => json!({ "tag": tag, "roles": ["pilot"] }),
        "designs" => design(&tag),
        "parts" => part(&tag, "servo"),
        "components" => json!({ "tag": tag, "part": "SV08", "mass_g": 10.4, "state": "serviceable" }),
        "models" => model(&tag, &role.to_string()),
        "loans" => json!({
            "item": { "component": "SPARE" }, "lent_to": "AV", "occurred_at": "2026-05-20T10:00:00Z",
            "from_on": "2026-05-20", "due_back_on": "2026-05-31"
        }),
        "tokens" => json!({ "label": "phone", "scopes": ["read"] }),
        _ => return None,
    };
    body["id"] = json!(new_id());
    Some(body)
}

impl Club {
    fn begin() -> Self {
        let world = World::begin(Database::Sqlite);
        world.small_fleet();
        world.component("SPARE", "SV08");
        world.token_of("AV", &["read"], None);
        let mut members = Vec::new();
        for role in Role::ALL {
            members.push((*role, world.member(role.as_str(), &[role.as_str()], &["read", "write"])));
            world.add("models", model(&model_of(*role, "own"), role.as_str()));
            let lent = model_of(*role, "lent");
            world.add("models", model(&lent, "AV"));
            world.add(
                "loans",
                json!({
                    "item": { "model": lent }, "lent_to": role.as_str(), "occurred_at": "2026-05-19T10:00:00Z",
                    "from_on": "2026-05-19", "due_back_on": "2026-05-31"
                }),
            );
        }
        let mut club = Self { world, members, facts: BTreeMap::new(), faults: RefCell::default() };
        let all: BTreeSet<String> =
            Role::ALL.iter().flat_map(|role| WHOSE.map(|whose| model_of(*role, whose))).collect();
        for model in all {
            let panel = format!("P-{model}");
            club.world.component(&panel, "PANEL");
            let fitted = club.world.fit(&panel, json!({ "model": model }), "W.C", "2026-05-19T10:00:00Z");
            club.facts.insert(("installations", model.clone()), fitted);
            for noun in ["flights", "riggings", "weighings", "defects", "measurements", "events"] {
                let id = club.world.add(noun, about(noun, &model, "AV").unwrap());
                club.facts.insert((noun, model.clone()), id);
            }
        }
        club
    }

    /// What stands in the path, for a member and whose thing it is.
    fn object(&self, noun: &str, role: Role, whose: &str) -> Option<String> {
        let model = model_of(role, whose);
        match (noun, whose) {
            ("models", _) => Some(model),
            ("components", _) => Some(format!("P-{model}")),
            ("members", "own") => Some(role.to_string()),
            ("members", "another's") => Some("AV".to_owned()),
            ("designs", "another's") => Some("SEDGE".to_owned()),
            ("parts", "another's") => Some("SV08".to_owned()),
            ("programmes" | "loans" | "tokens", "another's") => {
                let list = self.world.av.get(&format!("/{noun}")).json();
                // Not the token that this test itself uses.
                let mut items = list["items"].as_array()?.iter();
                items.find(|item| item["label"] != "first token")?["id"].as_str().map(ToOwned::to_owned)
            }
            _ => self
                .facts
                .iter()
                .find(|((known, of), _)| *known == noun && *of == model)
                .map(|(_, id)| id.clone()),
        }
    }

    /// What a member is answered, or nothing if the operation cannot be asked that way.
    fn ask(&self, method: &str, path: &str, role: Role, whose: &str) -> Option<&'static str> {
        let caller = &self.members.iter().find(|(known, _)| *known == role).unwrap().1;
        let noun = path.split('/').next().unwrap();
        let has_object = path.contains("{id}");
        let mut target = format!("/{path}");
        let mut body = None;
        match method {
            _ if path.ends_with("/correction") => {
                // A fresh one each time: nothing is corrected twice. It was entered by another in any case.
                let fact = about(noun, &model_of(role, whose), "AV")?;
                target = target.replace("{id}", &self.world.add(noun, fact));
                body = Some(json!({ "id": new_id(), "reason": "a slip", "is_void": true }));
            }
            "put" if path.ends_with("/password") => {
                target = target.replace("{id}", &self.object(noun, role, whose)?);
                body = Some(json!({ "new_password": "three old oars" }));
            }
            "get" | "delete" if has_object => {
                target = target.replace("{id}", &self.object(noun, role, whose)?);
            }
            "get" if whose != "another's" => return None,
            "get" if path == "changes" => target.push_str("?since=0"),
            "get" if path == "life" => target.push_str("?part=SV08"),
            "post" if !has_object => {
                body = about(noun, &model_of(role, whose), role.as_str());
                if body.is_none() {
                    body = of_the_club(noun, role).filter(|_| whose == "another's");
                }
                if noun == "tokens" {
                    body.as_mut()?["member"] = json!("AV");
                }
                body.as_ref()?;
            }
            "get" => {}
            _ => return None,
        }
        let request = caller.request(&method.to_uppercase(), &target);
        let reply = Reply::of(match &body {
            Some(body) => request.json(body),
            None => request,
        });
        match reply.status {
            200 | 201 | 409 => Some("yes"),
            // Past the door: it was told what its question lacks.
            400 if path.ends_with("/ballast") => Some("yes"),
            403 => Some("no"),
            404 => Some("-"),
            other => {
                self.faults.borrow_mut().push(format!("{method} {target} by {role}: {other} {}", reply.text));
                Some("?")
            }
        }
    }
}

/// Method and path (without its beginning) of everything that asks who it is.
fn operations() -> Vec<(String, String)> {
    let paths = description()["paths"].as_object().unwrap();
    let mut list = Vec::new();
    for (path, item) in paths {
        for (method, operation) in item.as_object().unwrap() {
            if operation["security"] != json!([{}]) {
                list.push((method.clone(), path.strip_prefix("/api/v1/").unwrap().to_owned()));
            }
        }
    }
    list
}

#[test]
fn every_operation_lets_through_whom_the_table_says() {
    let club = Club::begin();
    let left_out: BTreeSet<&str> = LEFT_OUT.iter().copied().collect();
    let mut not_asked = BTreeSet::new();
    let mut table = format!("{:<34} {:<9}", "operation", "whose");
    for role in Role::ALL {
        table += &format!(" {role}");
    }
    table.push('\n');
    for (method, path) in operations() {
        let name = format!("{method} {path}");
        let is_known_gap = left_out.contains(name.as_str());
        let mut rows = 0;
        for whose in WHOSE {
            let cells: Vec<Option<&str>> = if is_known_gap {
                vec![None]
            } else {
                Role::ALL.iter().map(|role| club.ask(&method, &path, *role, whose)).collect()
            };
            let Some(cells) = cells.into_iter().collect::<Option<Vec<&str>>>() else { continue };
            table += &format!("{name:<34} {whose:<9}");
            for (cell, role) in cells.iter().zip(Role::ALL) {
                table += &format!(" {cell:<width$}", width = role.as_str().len());
            }
            while table.ends_with(' ') {
                table.pop();
            }
            table.push('\n');
            rows += 1;
        }
        if rows == 0 && !path.ends_with("/correction") {
            not_asked.insert(name);
        }
    }
    let not_asked: BTreeSet<&str> = not_asked.iter().map(String::as_str).collect();
    assert_eq!(not_asked, left_out, "an operation is neither in the table nor named as left out");
    assert_eq!(*club.faults.borrow(), Vec::<String>::new(), "\n{table}");
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(TABLE);
    let reviewed = std::fs::read_to_string(path).unwrap();
    assert!(table == reviewed, "the table of access has changed; review it:\n{table}");
}

#[test]
fn another_club_finds_nothing_anywhere() {
    let club = Club::begin();
    let member =
        json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper", "inspector", "builder", "stores"] });
    let other = club.world.av.with_token(&club.world.begin_club("reedbed", &member));
    let ids: Vec<String> = club.facts.values().cloned().collect();
    let mut asked = 0;
    for (method, path) in operations().into_iter().filter(|(method, _)| method == "get") {
        let noun = path.split('/').next().unwrap();
        if path.contains("{id}") {
            // The default programme has the same id in every club.
            let known = club.object(noun, Role::Pilot, "another's").filter(|_| noun != "programmes");
            let object = known.unwrap_or_else(|| ids[0].clone());
            other.get(&format!("/{}", path.replace("{id}", &object))).problem(404, "not_found");
        } else if path == "life" {
            other.get("/life?part=SV08").problem(400, "bad_parameter");
        } else {
            let query = if path == "changes" { "?since=0" } else { "" };
            let text = other.get(&format!("/{path}{query}")).expect(200).text;
            assert!(!text.contains("SG-01") && !text.contains("quillmarsh"), "{method} {path}: {text}");
            assert!(!ids.iter().any(|id| text.contains(id)), "{method} {path}: {text}");
        }
        asked += 1;
    }
    assert!(asked > 60, "{asked}");
}
