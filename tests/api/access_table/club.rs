//! A club with a member for each role, and what each of them owns, has on loan and has entered.
//!
//! Things are made when they are first asked for; what is asked of them stands in `requests.rs`.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

use preen_domain::words::Role;
use preen_tests::http::Caller;
use preen_tests::world::{design, new_id, part};
use preen_tests::{Database, World};
use serde_json::{Value, json};

use super::bodies;

/// The model of somebody else, lent to nobody.
const OTHERS: &str = "OTHERS";

/// The club.
pub struct Club {
    /// The service it is kept by; its keeper `AV` owns what is another's.
    pub world: World,
    members: Vec<(Role, Caller)>,
    /// Ids of things that are only looked at, by noun and whose they are.
    objects: RefCell<BTreeMap<(String, String), String>>,
    /// Ids of what each role entered itself, by noun.
    entered: BTreeMap<(String, Role), String>,
    number: Cell<u32>,
}

impl Club {
    /// The club, with an entry of every noun in `correctable` made by each member while they held every role.
    pub fn begin(database: Database, correctable: &[&str]) -> Self {
        let world = World::begin(database);
        world.small_fleet();
        world.add("parts", part("PACK", "pack"));
        let mut row = design("ROW");
        row["positions"].as_array_mut().unwrap().push(json!({
            "path": "PK", "name": "pack", "kind": "pack", "accepts": "pack", "is_required": true,
            "x_mm": -198.0, "y_mm": 0.0, "z_mm": 0.0
        }));
        world.add("designs", row);
        let slug = json!({ "tag": "12", "mass_g": 12.0, "count": 6, "purpose": "ballast" });
        world.add("slugs", slug);
        // What nothing is built to, so that its versions change no answer.
        world.add("designs", design("SHELVED"));
        let every: Vec<&str> = Role::ALL.iter().map(|role| role.as_str()).collect();
        let members = Role::ALL
            .iter()
            .map(|role| (*role, world.member(role.as_str(), &every, &["read", "write", "copy", "calendar"])))
            .collect();
        let club = Self {
            world,
            members,
            objects: RefCell::default(),
            entered: BTreeMap::new(),
            number: Cell::new(0),
        };
        club.model(OTHERS, "AV");
        for role in Role::ALL {
            club.model(&model_of(*role, "own"), role.as_str());
            let lent = model_of(*role, "lent");
            club.model(&lent, "AV");
            club.lend(json!({ "model": lent }), role.as_str());
        }
        let mut entered = BTreeMap::new();
        for role in Role::ALL {
            for noun in correctable {
                let body = ["lent", "any", "another's"]
                    .into_iter()
                    .find_map(|case| bodies::body(&club, noun, *role, case));
                let body = body.unwrap_or_else(|| panic!("`bodies.rs` has no body for {noun}"));
                club.caller(*role).post(&format!("/{noun}"), &body).expect(201);
                entered.insert(((*noun).to_owned(), *role), body["id"].as_str().unwrap().to_owned());
            }
        }
        for role in Role::ALL {
            let mut member = club.stored("members", role.as_str());
            member["roles"] = json!([role]);
            club.world.av.put(&format!("/members/{role}"), Some("*"), &member).expect(200);
        }
        Self { entered, ..club }
    }

    /// The member who holds a role, and no other.
    pub fn caller(&self, role: Role) -> &Caller {
        &self.members.iter().find(|(known, _)| *known == role).unwrap().1
    }

    /// A number that was not given out before.
    pub fn next(&self) -> u32 {
        self.number.set(self.number.get() + 1);
        self.number.get()
    }

    /// What the keeper reads of an item, as it would be sent.
    pub fn stored(&self, noun: &str, name: &str) -> Value {
        let mut item = self.world.av.get(&format!("/{noun}/{name}")).expect(200).json();
        for stamp in ["recorded_at", "recorded_by", "revision"] {
            item.as_object_mut().unwrap().remove(stamp);
        }
        item
    }

    /// A component with a new tag.
    pub fn component(&self, part: &str) -> String {
        let tag = format!("C{}", self.next());
        self.world.component(&tag, part);
        tag
    }

    /// Lends something to a member.
    pub fn lend(&self, item: Value, to: &str) -> String {
        self.world.add(
            "loans",
            json!({
                "item": item, "lent_to": to, "occurred_at": "2026-01-11T10:00:00Z",
                "from_on": "2026-01-11", "due_back_on": "2026-08-31"
            }),
        )
    }

    /// A model with a panel `P-…` and a pack `K-…`.
    fn model(&self, tag: &str, owner: &str) {
        let body = json!({
            "tag": tag, "design": "ROW", "owner": owner, "ownership": "member",
            "first_flight_on": "2025-04-05"
        });
        self.world.add("models", body);
        for (part, prefix, position) in [("PANEL", "P", "W.C"), ("PACK", "K", "PK")] {
            let component = format!("{prefix}-{tag}");
            self.world.component(&component, part);
            self.world.fit(&component, json!({ "model": tag }), position, "2026-01-10T10:00:00Z");
        }
    }

    /// One more model that is a member's own, another's or lent to them; nothing was done to it yet.
    pub fn fresh_model(&self, role: Role, case: &str) -> String {
        let tag = format!("M{}", self.next());
        self.model(&tag, if case == "own" { role.as_str() } else { "AV" });
        if case == "lent" {
            self.lend(json!({ "model": tag }), role.as_str());
        }
        tag
    }

    /// A loose component; lent to the member if it is to be used on a model that is.
    pub fn loose(&self, part: &str, role: Role, case: &str) -> String {
        let tag = self.component(part);
        if case == "lent" {
            self.lend(json!({ "component": tag }), role.as_str());
        }
        tag
    }

    /// What the member entered themselves.
    pub fn entered(&self, noun: &str, role: Role) -> Option<String> {
        self.entered.get(&(noun.to_owned(), role)).cloned()
    }

    /// An item of a noun that is only looked at, or gets new versions.
    pub fn object(&self, noun: &str, role: Role, case: &str) -> Option<String> {
        if !matches!(case, "own" | "another's" | "lent" | "any") {
            return None;
        }
        let model = model_of(role, case);
        match (noun, case) {
            ("models", "own" | "another's" | "lent") => return Some(model),
            ("components", "own" | "another's" | "lent") => return Some(format!("P-{model}")),
            ("members", "own") => return Some(role.to_string()),
            ("members", "another's") => return Some("AV".to_owned()),
            ("components" | "members", _) => return None,
            ("designs", "any") => return Some("SHELVED".to_owned()),
            ("parts", "any") => return Some("SV08".to_owned()),
            _ => {}
        }
        let key = (noun.to_owned(), if case == "any" { String::new() } else { model });
        if let Some(known) = self.objects.borrow().get(&key) {
            return Some(known.clone());
        }
        let made = match (noun, case) {
            ("questions", "any") => self.question("AV"),
            ("corrections", "own" | "another's" | "lent") => {
                let flight = self.world.add("flights", bodies::body(self, "flights", role, case)?);
                let id = new_id();
                let body = json!({ "id": id, "reason": "a slip", "is_void": true });
                self.world.av.post(&format!("/flights/{flight}/correction"), &body).expect(201);
                id
            }
            _ => self.world.add(noun, bodies::body(self, noun, role, case)?),
        };
        self.objects.borrow_mut().insert(key, made.clone());
        Some(made)
    }

    /// A question that came of what a member sent.
    pub fn question(&self, member: &str) -> String {
        let caller = self.members.iter().find(|(role, _)| role.as_str() == member);
        let caller = caller.map_or(&self.world.av, |(_, caller)| caller);
        let fact = json!({ "id": new_id(), "model": format!("NONE-{}", self.next()), "cycles": 1 });
        let sent = json!({ "facts": [{ "noun": "riggings", "fact": fact }] });
        let result = caller.post("/facts", &sent).expect(200).json()["results"][0].clone();
        result["question"].as_str().unwrap_or_else(|| panic!("{result}")).to_owned()
    }
}

/// The tag of a model that is a member's own, another's or lent to them.
pub fn model_of(role: Role, case: &str) -> String {
    match case {
        "own" => format!("OWN-{role}"),
        "lent" => format!("LENT-{role}"),
        _ => OTHERS.to_owned(),
    }
}
