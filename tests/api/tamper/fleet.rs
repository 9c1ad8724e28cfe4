//! A club with something of every noun in its record, so that every table can be tampered with.

use preen_domain::facts::Noun;
use preen_tests::World;
use preen_tests::world::{flight, new_id};
use serde_json::{Value, json};

use crate::access_table::picture;

/// The table of a noun.
pub fn table(noun: Noun) -> String {
    noun.as_str().replace('-', "_")
}

/// Records something of every noun, a correction and a voided fact among it.
pub fn something_of_everything(world: &World) {
    world.small_fleet();
    let bk = world.member("BK", &["builder"], &["read", "write"]);
    let pack = json!({ "tag": "PK", "kind": "pack", "tracking": "serial", "nominal_mass_g": 77.0, "maker": "unknown",
        "rated_capacity_mah": 2600.0, "note": "three cells" });
    world.add("parts", pack);
    for (tag, part) in
        [("PN-1", "PANEL"), ("SV-1", "SV08"), ("SV-2", "SV08"), ("SV-3", "SV08"), ("PK-1", "PK")]
    {
        world.component(tag, part);
    }
    let of_batch =
        json!({ "tag": "SV-B", "part": "SV08", "batch": "B", "mass_g": 10.4, "state": "serviceable" });
    world.add("components", of_batch);
    let at = |time: &str| format!("2026-05-{time}:00Z");
    world.add(
        "conditions",
        json!({ "component": "SV-3", "occurred_at": at("01T08:00"), "state": "held",
        "location": "box 4", "reason": "a strange noise" }),
    );
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", &at("01T08:00"));
    let fitted = world.fit("SV-1", json!({ "component": "PN-1" }), "FS.L", &at("01T09:00"));
    world.add(
        "removals",
        json!({ "component": "SV-1", "installation": fitted, "occurred_at": at("02T08:00"),
        "reason": "suspected", "removed_by": "AV", "note": "runs hot" }),
    );
    flights(world);
    world.add(
        "inspections",
        json!({ "model": "SG-01", "group": "N25", "occurred_at": at("05T08:00"), "result": "pass",
        "is_summary": true, "inspected_by": "AV", "note": "all well" }),
    );
    world.add("measurements", json!({ "subject": { "component": "SV-1" }, "quantity": "servo_free_play",
        "values": [0.25], "unit": "deg", "occurred_at": at("05T09:00"), "temperature_c": 19.5, "measured_by": "AV",
        "instrument": "dial", "method": "by hand", "note": "warm" }));
    world.add(
        "weighings",
        json!({ "model": "SG-01", "mass_g": 1200.0, "x_mm": 95.0, "u_x_mm": 0.4, "y_mm": 0.25,
        "occurred_at": at("05T10:00"), "weighed_by": "AV", "configuration": "empty" }),
    );
    let defect = world.add("defects", json!({ "model": "SG-01", "subject": { "component": "PN-1" }, "severity": "restrict",
        "text": "a dent", "place": "left", "occurred_at": at("06T08:00"), "found_by": "AV", "fix_by_on": "2026-08-01",
        "restriction": { "kind": "max_flights", "value": 8.0 } }));
    let repair = json!({ "id": new_id(), "model": "SG-01", "components": ["PN-1"], "defect": defect, "kind": "R5",
        "text": "pressed out", "occurred_at": at("07T08:00"), "material_mass_g": 0.5, "x_mm": 62.0, "done_by": "BK" });
    bk.post("/repairs", &repair).expect(201);
    let work = json!({ "id": new_id(), "repair": repair["id"], "occurred_at": at("07T09:00"),
        "materials": [{ "text": "filler" }], "resin": "cyanoacrylate", "temperature_c": 21.5,
        "cure_started_at": at("07T09:30"), "note": "thin", "done_by": "BK" });
    bk.post("/repair-steps", &work).expect(201);
    world.add(
        "releases",
        json!({ "repair": repair["id"], "occurred_at": at("08T08:00"), "released_by": "AV" }),
    );
    let other = world.add(
        "defects",
        json!({ "model": "SG-01", "subject": { "model": "SG-01" }, "severity": "watch",
        "text": "a smell", "occurred_at": at("08T09:00") }),
    );
    let gap = world.add(
        "measurements",
        json!({ "subject": { "model": "SG-01" }, "quantity": "gap", "values": [0.0], "unit": "mm",
        "occurred_at": at("08T10:00") }),
    );
    world.add(
        "closures",
        json!({ "defect": other, "occurred_at": at("09T08:00"), "kind": "found_wrong",
        "text": "it was lunch", "closed_by": "AV", "measurement": gap }),
    );
    world.add("campaigns", json!({ "tag": "CA-1", "occurred_at": at("09T09:00"), "part": "SV08", "batch": "B",
        "position_kind": "flap servo", "text": "stripped gears", "opened_by": "AV",
        "actions": [{ "number": 1, "task": "inspect", "text": "look at the gears", "by_on": "2026-07-01" }] }));
    world.add(
        "campaign-works",
        json!({ "campaign": "CA-1", "action": 1, "component": "SV-B", "result": "pass",
        "occurred_at": at("09T10:00"), "done_by": "AV", "note": "no cracks" }),
    );
    world.add(
        "campaign-closures",
        json!({ "campaign": "CA-1", "occurred_at": at("09T11:00"), "text": "all looked at",
        "closed_by": "AV" }),
    );
    let stiff = world.add(
        "defects",
        json!({ "model": "SG-01", "subject": { "model": "SG-01" }, "severity": "restrict",
        "text": "a stiff hinge", "occurred_at": at("09T12:00") }),
    );
    world.add("deferrals", json!({ "defect": stiff, "occurred_at": at("09T13:00"), "fix_by_on": "2026-05-30",
        "restrictions": [{ "kind": "max_flights", "value": 4.0 }], "reason": "hinge ordered", "deferred_by": "AV" }));
    a_photo(world, &stiff, &at("09T12:05"));
    the_shelf(world, &at);
    world.add(
        "events",
        json!({ "model": "SG-01", "kind": "transport", "occurred_at": at("12T08:00"), "note": "by van" }),
    );
    let question = json!({ "facts": [{ "noun": "flights", "fact": { "id": new_id(), "model": "a model", "pilot": "AV" } }] });
    let asked = world.av.post("/facts", &question).expect(200).json();
    world.add(
        "settlements",
        json!({ "question": asked["results"][0]["question"], "occurred_at": at("13T08:00"),
        "text": "it never took place" }),
    );
    contests(world);
    world.add("lots", json!({ "tag": "E-77", "item": "laminating epoxy", "quantity": 240.0, "unit": "g" }));
    let boom = json!({ "id": new_id(), "tag": "RE-K", "model": "SG-01", "kind": "R10", "occurred_at": at("14T08:00"),
        "text": "boom scarfed" });
    bk.post("/repairs", &boom).expect(201);
    let steps: Vec<Value> = (1..=8).map(|number| json!({ "number": number, "result": "done" })).collect();
    let work = json!({ "id": new_id(), "repair": "RE-K", "occurred_at": at("14T09:00"), "steps": steps,
        "materials": [{ "lot": "E-77", "quantity": 12.5 }], "resin": "laminating_epoxy", "temperature_c": 20.5,
        "mass_added_g": 7.5, "x_mm": 360.0, "done_by": "BK", "note": "cold shed" });
    bk.post("/repair-steps", &work).expect(201);
}

/// A class of the club's own, a contest and an entry with all that can stand there, and a paper of a member.
fn contests(world: &World) {
    let limit = json!({ "quantity": "span_mm", "max": 4000.0, "source": "read aloud" });
    world.add("classes", json!({ "tag": "F5J", "title": "Thermal", "edition": "2026", "source": "a text",
        "in_force_on": "2026-01-01", "area": "wing_and_tail", "limits": [limit], "measuring_tolerance_pct": 0.5,
        "confirmed_by": "AV", "confirmed_on": "2026-04-01", "note": "compared" }));
    world.add("contests", json!({ "tag": "CT-1", "title": "Open", "place": "Reedbed", "class": "F5J",
        "check_in_at": "2026-05-29T20:00:00Z", "first_on": "2026-05-30", "last_on": "2026-05-31", "rounds_min": 4,
        "prelim_rounds_max": 8, "flyoff_rounds_max": 4, "flights_per_round": 1, "training_flights": 8,
        "permissions": ["insurance"], "note": "bring lamps" }));
    world.add(
        "entries",
        json!({ "tag": "EN-1", "contest": "CT-1", "pilot": "AV", "model": "SG-01", "parts": ["SV-3"],
        "state": "entered", "marks": "AB 12", "mark_height_mm": 25.5, "note": "first" }),
    );
    world.add(
        "members",
        json!({ "tag": "PI", "roles": ["pilot"],
        "permissions": [{ "kind": "insurance", "until_on": "2026-12-31" }] }),
    );
    world.add(
        "parts",
        json!({ "tag": "AL", "kind": "altimeter", "tracking": "serial", "nominal_mass_g": 5.6, "cells": 1,
        "accepted_in": ["F5J"] }),
    );
}

/// Flights and riggings, some of them corrected.
fn flights(world: &World) {
    let ids = ["10", "11", "12"].map(|hour| {
        let mut body = flight("SG-01", "AV", &format!("2026-05-04T{hour}:00:00Z"));
        body["tag"] = json!(format!("FL-{hour}"));
        body["note"] = json!("calm");
        world.add("flights", body)
    });
    let mut longer = flight("SG-01", "AV", "2026-05-04T10:00:00Z");
    longer.as_object_mut().unwrap().remove("id");
    longer["airtime_min"] = json!(9.5);
    let correction = json!({ "id": new_id(), "reason": "read wrongly", "fact": longer });
    world.av.post(&format!("/flights/{}/correction", ids[0]), &correction).expect(201);
    let rigging = |hour: u32| json!({ "model": "SG-01", "cycles": 1, "occurred_at": format!("2026-05-04T0{hour}:00:00Z") });
    let never = world.add("riggings", rigging(8));
    world.add("riggings", rigging(9));
    let void = json!({ "id": new_id(), "reason": "it rained", "is_void": true });
    world.av.post(&format!("/riggings/{never}/correction"), &void).expect(201);
}

/// A photo of a defect.
fn a_photo(world: &World, defect: &str, at: &str) {
    let mut photo = world.av.post_file("/photos/files", "image/png", &picture()).expect(201).json();
    photo["subject"] = json!({ "model": "SG-01" });
    photo["occurred_at"] = json!(at);
    photo["defect"] = json!(defect);
    photo["text"] = json!("the hinge");
    photo["taken_by"] = json!("AV");
    world.add("photos", photo);
}

/// What stores keep.
fn the_shelf(world: &World, at: &dyn Fn(&str) -> String) {
    let loan = world.add("loans", json!({ "item": { "component": "SV-3" }, "lent_to": "AV", "for_model": "SG-01",
        "occurred_at": at("10T08:00"), "from_on": "2026-05-10", "due_back_on": "2026-05-31", "note": "for a day" }));
    world.add("loan-returns", json!({ "loan": loan, "occurred_at": at("11T08:00"), "note": "cleaned" }));
    let limit = json!({ "quantity": "servo_free_play", "position_kinds": ["flap servo"], "unit": "deg",
        "direction": "at_or_above", "watch": 0.6, "restrict": 0.8, "ground": 1.0 });
    world.add("limits", json!({ "tag": "FLAP-PLAY", "reason": "stripped gears", "limit": limit }));
    let mut lot = json!({ "id": new_id(), "tag": "H-03", "item": "hinge tape", "opened_on": "2025-05-01", "use_by_on": "2027-05-01",
        "quantity": 12.5, "unit": "m" });
    world.add("lots", lot.clone());
    lot["quantity"] = json!(8.25);
    world.av.put("/lots/H-03", Some("*"), &lot).expect(200);
    world.add(
        "slugs",
        json!({ "tag": "S50", "mass_g": 50.5, "count": 4, "purpose": "ballast", "design": "SEDGE" }),
    );
    world.add(
        "matched-sets",
        json!({ "tag": "MS-1", "component": "SV-2", "mates": ["SV-3"], "marks": "two dots",
        "orientation": "dots up" }),
    );
    world.add(
        "charges",
        json!({ "component": "PK-1", "occurred_at": at("11T09:00"), "charged_mah": 1800.5, "note": "slow" }),
    );
    let at_model = json!({ "component": "PN-1" });
    world.fit("SV-2", at_model.clone(), "FS.L", &at("11T10:00"));
    world.fit("SV-1", at_model, "FS.R", &at("11T10:30"));
    world.add(
        "pairings",
        json!({ "component": "SV-2", "mates": ["SV-1"], "occurred_at": at("11T11:00"),
        "clearance_mm": 0.09, "accepted_by": "AV", "note": "fits" }),
    );
}

/// An answer's entry of the trail, as it is named.
pub type Named = (String, String, i64);

/// What a break is named by.
pub fn named(found: &preen_api::audit::verify::Break) -> Named {
    (found.noun.clone(), found.fact_id.clone(), found.revision)
}
