//! What is sent to add an item of each noun: about a model that is the member's own, another's or lent to them,
//! or about none (`any`).

use std::sync::atomic::{AtomicI64, Ordering};

use preen_domain::time::Instant;
use preen_domain::words::Role;
use preen_tests::world::{design, flight, new_id, part};
use serde_json::{Value, json};

use super::club::{Club, model_of};

/// A moment later than any given before, and past: flights of one model must not overlap.
fn next_moment() -> String {
    static MINUTES: AtomicI64 = AtomicI64::new(0);
    let minutes = MINUTES.fetch_add(10, Ordering::Relaxed);
    "2026-01-15T00:00:00Z".parse::<Instant>().unwrap().plus_seconds(60 * minutes).to_string()
}

/// A body for `POST /<noun>`, whose id is new; nothing if the noun has no such case.
pub fn body(club: &Club, noun: &str, role: Role, case: &str) -> Option<Value> {
    let (mut body, has_moment) = match case {
        "own" | "another's" | "lent" => about_a_model(club, noun, role, case)?,
        "any" | "milder" => of_the_club(club, noun, case)?,
        _ => return None,
    };
    body["id"] = json!(new_id());
    if has_moment {
        body["occurred_at"] = json!(next_moment());
    }
    Some(body)
}

/// The body, and whether the noun says when it happened.
fn about_a_model(club: &Club, noun: &str, role: Role, case: &str) -> Option<(Value, bool)> {
    let model = model_of(role, case);
    let panel = format!("P-{model}");
    let body = match noun {
        "flights" => flight(&model, role.as_str(), ""),
        "riggings" => json!({ "model": model, "cycles": 1 }),
        "weighings" => json!({ "model": model, "mass_g": 1200.0, "x_mm": 95.0, "u_x_mm": 0.4 }),
        "defects" => defect(&model),
        "closures" => {
            let mut found = defect(&model);
            found["occurred_at"] = json!(next_moment());
            let found = club.world.add("defects", found);
            // A check since, which the closing rests on.
            let check = json!({
                "model": model, "group": "N25", "result": "pass", "is_summary": true,
                "occurred_at": next_moment()
            });
            club.world.add("inspections", check);
            json!({ "defect": found, "kind": "check_passed", "text": "looked at" })
        }
        "deferrals" => {
            let mut found = defect(&model);
            found["occurred_at"] = json!(next_moment());
            json!({
                "defect": club.world.add("defects", found), "fix_by_on": "2026-12-31", "reason": "tape ordered"
            })
        }
        "measurements" => {
            json!({ "subject": { "model": model }, "quantity": "mass", "values": [1200.0], "unit": "g" })
        }
        "inspections" => {
            json!({ "model": model, "group": "N25", "result": "pass", "is_summary": true })
        }
        "repairs" => repair(&model),
        "releases" => {
            // Of a kind that its worker may release.
            let mut work = repair(&model);
            work["kind"] = json!("R4");
            work["occurred_at"] = json!(next_moment());
            json!({ "repair": club.world.add("repairs", work) })
        }
        "repair-steps" => {
            let mut work = repair(&model);
            work["occurred_at"] = json!(next_moment());
            let ticks = json!([{ "number": 1, "result": "done" }]);
            json!({ "repair": club.world.add("repairs", work), "steps": ticks })
        }
        "events" => json!({ "model": model, "kind": "transport" }),
        "campaign-works" => {
            let campaign = open_campaign(club, "PACK");
            json!({
                "campaign": campaign, "action": 1, "component": format!("K-{model}"), "result": "pass"
            })
        }
        "photos" => {
            let mut photo = club.world.av.post_file("/photos/files", "image/png", &picture()).json();
            photo["subject"] = json!({ "model": model });
            photo
        }
        "charges" => json!({ "component": format!("K-{model}") }),
        "conditions" => json!({ "component": panel, "state": "held", "reason": "looked at" }),
        "pairings" => json!({ "component": panel, "mates": [format!("K-{model}")] }),
        "installations" => {
            let model = club.fresh_model(role, case);
            let part = club.loose("FUSE", role, case);
            json!({ "component": part, "inside": { "model": model }, "position": "F" })
        }
        "removals" => {
            let model = club.fresh_model(role, case);
            let panel = format!("P-{model}");
            json!({ "installation": fitted(club, &panel), "component": panel, "reason": "upgrade" })
        }
        "matched-sets" => {
            let model = club.fresh_model(role, case);
            let body = json!({
                "tag": format!("SET-{model}"), "component": format!("P-{model}"),
                "mates": [format!("K-{model}")]
            });
            return Some((body, false));
        }
        // Who sent what became the question.
        "settlements" => {
            let sender = if case == "own" { role.as_str() } else { "AV" };
            let body = json!({ "question": club.question(sender), "text": "settled" });
            return (case != "lent").then_some((body, true));
        }
        "models" => {
            let owner = if case == "own" { role.as_str() } else { "AV" };
            let body = json!({
                "tag": format!("N{}", club.next()), "design": "SEDGE", "owner": owner, "ownership": "member",
                "first_flight_on": "2025-04-05"
            });
            return (case != "lent").then_some((body, false));
        }
        "tokens" => {
            let member = if case == "own" { role.as_str() } else { "AV" };
            let body = json!({ "member": member, "label": "phone", "scopes": ["read"] });
            return (case != "lent").then_some((body, false));
        }
        _ => return None,
    };
    Some((body, true))
}

fn of_the_club(club: &Club, noun: &str, case: &str) -> Option<(Value, bool)> {
    let tag = format!("T{}", club.next());
    let body = match (noun, case) {
        ("members", "any") => (json!({ "tag": tag, "roles": ["pilot"] }), false),
        ("designs", "any") => (design(&tag), false),
        ("parts", "any") => (part(&tag, "servo"), false),
        ("programmes", "any") => {
            let group = json!({ "code": "G1", "name": "A look", "every_days": 30 });
            let body = json!({
                "tag": tag, "title": "Looks", "design": "SHELVED", "groups": [group], "items": []
            });
            (body, false)
        }
        ("components", "any") => {
            (json!({ "tag": tag, "part": "SV08", "mass_g": 10.4, "state": "serviceable" }), false)
        }
        ("campaigns", "any") => {
            let action = json!({ "number": 1, "task": "inspect", "text": "look at it" });
            (json!({ "tag": tag, "part": "RX7", "actions": [action] }), true)
        }
        ("campaign-closures", "any") => {
            let part = club.world.add("parts", part(&tag, "servo"));
            (json!({ "campaign": open_campaign(club, &part) }), true)
        }
        ("loans", "any") => {
            let body = json!({
                "item": { "component": club.component("SV08") }, "lent_to": "AV",
                "from_on": "2026-05-20", "due_back_on": "2026-05-31"
            });
            (body, true)
        }
        ("loan-returns", "any") => {
            let item = json!({ "component": club.component("SV08") });
            (json!({ "loan": club.lend(item, "AV") }), true)
        }
        // The programme judges free play, and long before that; nothing else judges the other quantity.
        ("limits", _) => {
            let rattle = format!("case_rattle_{}", tag.to_lowercase());
            let quantity = if case == "milder" { "servo_free_play" } else { rattle.as_str() };
            let limit = json!({
                "quantity": quantity, "unit": "deg", "direction": "at_or_above", "watch": 900.0
            });
            (json!({ "tag": tag, "limit": limit, "reason": "seen so" }), false)
        }
        ("lots", "any") => (json!({ "tag": tag, "item": "epoxy", "quantity": 100.0, "unit": "g" }), false),
        ("classes", "any") => {
            let limit = json!({ "quantity": "span_mm", "max": 4000.0 });
            let body = json!({ "tag": tag, "title": "Club class", "edition": "2026", "source": "the club's own rules",
                "area": "wing_and_tail", "limits": [limit] });
            (body, false)
        }
        ("contests", "any") => (contest(&tag), false),
        ("entries", "any") => {
            let contest = club.world.add("contests", contest(&tag));
            (
                json!({ "contest": contest, "pilot": "AV", "model": model_of(Role::Pilot, "own"), "state": "entered" }),
                false,
            )
        }
        ("slugs", "any") => (json!({ "tag": tag, "mass_g": 12.0, "count": 6, "purpose": "ballast" }), false),
        _ => return None,
    };
    Some(body)
}

/// A contest over a weekend.
fn contest(tag: &str) -> Value {
    json!({ "id": new_id(), "tag": tag, "title": "Open", "class": "F5J", "check_in_at": "2026-06-05T18:00:00Z",
        "first_on": "2026-06-06", "last_on": "2026-06-07", "prelim_rounds_max": 8 })
}

/// A small picture.
pub fn picture() -> Vec<u8> {
    let mut file = std::io::Cursor::new(Vec::new());
    image::RgbImage::new(4, 3).write_to(&mut file, image::ImageFormat::Png).unwrap();
    file.into_inner()
}

/// Opens a campaign over a part type and returns its id.
pub fn open_campaign(club: &Club, part: &str) -> String {
    let action = json!({ "number": 1, "task": "inspect", "text": "look at it" });
    club.world.add(
        "campaigns",
        json!({
            "tag": format!("C{}", club.next()), "part": part, "actions": [action], "occurred_at": next_moment()
        }),
    )
}

fn defect(model: &str) -> Value {
    json!({
        "id": new_id(), "model": model, "subject": { "model": model }, "severity": "watch", "text": "a dent"
    })
}

fn repair(model: &str) -> Value {
    json!({ "id": new_id(), "model": model, "kind": "R5", "text": "work" })
}

/// The installation by which a component sits where it sits.
fn fitted(club: &Club, component: &str) -> Value {
    let list = club.world.av.get(&format!("/installations?component={component}")).expect(200).json();
    list["items"][0]["id"].clone()
}
