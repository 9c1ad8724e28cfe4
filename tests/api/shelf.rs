//! Charges, events, matched sets and pairings, limits, lots and slugs: recorded, refused, and heard in the answers.

use preen_tests::on_both;
use preen_tests::world::{World, flight, items, new_id};
use serde_json::{Value, json};

/// Codes of the reasons of SG-01.
fn reasons(world: &World) -> Vec<String> {
    let board = world.av.get("/may-fly?model=SG-01").expect(200).json();
    let reasons = board["models"][0]["reasons"].as_array().unwrap();
    reasons.iter().map(|reason| reason["code"].as_str().unwrap().to_owned()).collect()
}

fn state(world: &World) -> Value {
    world.av.get("/may-fly?model=SG-01").expect(200).json()["models"][0]["state"].clone()
}

/// SG-01 with a centre panel, fuselage, two servos and a receiver.
fn complete(world: &World) {
    world.small_fleet();
    let at = "2025-04-05T06:00:00Z";
    for (tag, part) in
        [("PN-1", "PANEL"), ("FU-1", "FUSE"), ("SV-1", "SV08"), ("SV-2", "SV08"), ("RX-1", "RX7")]
    {
        world.component(tag, part);
    }
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", at);
    world.fit("FU-1", json!({ "model": "SG-01" }), "F", at);
    world.fit("SV-1", json!({ "component": "PN-1" }), "FS.L", at);
    world.fit("SV-2", json!({ "component": "PN-1" }), "FS.R", at);
    world.fit("RX-1", json!({ "component": "FU-1" }), "RX", at);
}

fn event(kind: &str, at: &str) -> Value {
    json!({ "id": new_id(), "model": "SG-01", "kind": kind, "occurred_at": at })
}

fn passed(group: &str, at: &str) -> Value {
    json!({ "model": "SG-01", "group": group, "occurred_at": at, "result": "pass", "is_summary": true })
}

on_both!(laid_up_and_back_in_use, |world| {
    complete(world);
    world.av.post("/events", &event("laid_up", "2026-05-01T10:00:00Z")).expect(201);
    assert_eq!(state(world), "laid_up");
    world.av.post("/events", &event("laid_up", "2026-05-02T10:00:00Z")).problem(409, "refused_by_rule");
    world.add("inspections", passed("N25", "2026-05-02T10:00:00Z"));
    world.av.post("/events", &event("returned_to_flying", "2026-05-03T10:00:00Z")).expect(201);
    assert!(reasons(world).contains(&"return_unchecked".to_owned()), "{:?}", reasons(world));
    world.add("inspections", passed("N25", "2026-05-03T11:00:00Z"));
    assert!(!reasons(world).contains(&"return_unchecked".to_owned()), "{:?}", reasons(world));
    world
        .av
        .post("/events", &event("returned_to_flying", "2026-05-04T10:00:00Z"))
        .problem(409, "refused_by_rule");
});

on_both!(transport_and_radio_change_open_their_checks, |world| {
    complete(world);
    world.av.post("/events", &event("case_fallen", "2026-05-01T10:00:00Z")).expect(201);
    world.av.post("/events", &event("radio_change", "2026-05-01T11:00:00Z")).expect(201);
    let open = reasons(world);
    assert!(open.contains(&"transport_unchecked".to_owned()), "{open:?}");
    assert!(open.contains(&"radio_change_unchecked".to_owned()), "{open:?}");
    world.add("inspections", passed("TR", "2026-05-01T12:00:00Z"));
    world.add("inspections", passed("RF30", "2026-05-01T12:00:00Z"));
    let open = reasons(world);
    assert!(
        !open.iter().any(|code| code == "transport_unchecked" || code == "radio_change_unchecked"),
        "{open:?}"
    );
});

on_both!(a_sold_model_leaves_the_board_and_keeps_its_record, |world| {
    complete(world);
    world.add("flights", flight("SG-01", "AV", "2026-05-01T10:00:00Z"));
    world.av.post("/events", &event("sold", "2026-05-02T10:00:00Z")).expect(201);
    assert_eq!(world.av.get("/may-fly").expect(200).json()["models"], json!([]));
    assert_eq!(world.av.get("/may-fly?as_of=2026-05-01").expect(200).json()["models"][0]["model"], "SG-01");
    assert_eq!(items(world.av.get("/flights?model=SG-01")).len(), 1);
    world.av.post("/events", &event("laid_up", "2026-05-03T10:00:00Z")).problem(409, "refused_by_rule");
});

on_both!(a_part_outside_its_set_waits_for_its_pairing, |world| {
    complete(world);
    world.component("SV-3", "SV08");
    let set = json!({ "id": new_id(), "tag": "MS-1", "component": "SV-1", "mates": ["SV-3"] });
    world.av.post("/matched-sets", &set).expect(201);
    assert!(reasons(world).contains(&"pairing_not_accepted".to_owned()), "{:?}", reasons(world));
    let pairing = |mates: Value| json!({ "id": new_id(), "component": "SV-1", "mates": mates, "occurred_at": "2026-05-20T10:00:00Z", "clearance_mm": 0.09 });
    world.av.post("/pairings", &pairing(json!(["SV-3"]))).problem(409, "refused_by_rule");
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    pilot.post("/pairings", &pairing(json!(["SV-2"]))).problem(403, "not_allowed");
    world.av.post("/pairings", &pairing(json!(["SV-2"]))).expect(201);
    let now = reasons(world);
    assert!(
        now.contains(&"pairing_accepted".to_owned()) && !now.contains(&"pairing_not_accepted".to_owned()),
        "{now:?}"
    );
    // One of the two comes off and goes back on: the acceptance has ended.
    let sv_2 = items(world.av.get("/installations?component=SV-2"))[0]["id"].clone();
    let off = json!({ "component": "SV-2", "installation": sv_2, "occurred_at": "2026-05-20T11:00:00Z", "reason": "suspected" });
    world.add("removals", off);
    world.fit("SV-2", json!({ "component": "PN-1" }), "FS.R", "2026-05-20T12:00:00Z");
    assert!(reasons(world).contains(&"pairing_not_accepted".to_owned()), "{:?}", reasons(world));
});

on_both!(a_pilot_may_tighten_a_limit_and_not_relax_it, |world| {
    complete(world);
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    let limit = |ground: f64| {
        json!({
            "id": "01970a3c-5d00-7000-8000-00000000aaaa", "tag": "FLAP-PLAY", "reason": "stripped gears last year",
            "limit": {
                "quantity": "servo_free_play", "position_kinds": ["flap servo"], "unit": "deg",
                "direction": "at_or_above", "watch": 0.6, "restrict": 0.8, "ground": ground,
            },
        })
    };
    pilot.post("/limits", &limit(1.5)).problem(403, "not_allowed");
    pilot.post("/limits", &limit(1.0)).expect(201);
    let reading = json!({
        "subject": { "component": "SV-1" }, "quantity": "servo_free_play", "values": [1.1], "unit": "deg",
        "occurred_at": "2026-05-20T10:00:00Z",
    });
    world.add("measurements", reading);
    let board = world.av.get("/may-fly?model=SG-01").expect(200).json();
    let reading = board["models"][0]["reasons"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["code"] == "reading_beyond_limit");
    assert_eq!(
        reading.unwrap()["severity"],
        "ground",
        "1.1 is restrict by the programme and ground by the club"
    );
    let etag = world.av.get("/limits/FLAP-PLAY").expect(200).header("etag").unwrap().to_owned();
    pilot.put("/limits/FLAP-PLAY", Some(&etag), &limit(1.2)).problem(403, "not_allowed");
    world.av.put("/limits/FLAP-PLAY", Some(&etag), &limit(1.2)).expect(200);
});

on_both!(charges_count_once_they_are_logged, |world| {
    complete(world);
    world.av.post("/parts", &json!({ "id": new_id(), "tag": "PK", "kind": "pack", "tracking": "serial", "nominal_mass_g": 77.0 })).expect(201);
    world.component("PK-1", "PK");
    let charge = |component: &str| json!({ "id": new_id(), "component": component, "occurred_at": "2026-05-20T10:00:00Z" });
    world.av.post("/charges", &charge("PK-1")).expect(201);
    let wrong = world.av.post("/charges", &charge("SV-1"));
    wrong.problem(422, "invalid_fields");
    assert_eq!(wrong.wrong_field().1, "not_a_pack");
    assert_eq!(items(world.av.get("/charges?component=PK-1")).len(), 1);
});

on_both!(lots_and_slugs_are_counted_by_stores, |world| {
    world.small_fleet();
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    let lot = json!({ "id": new_id(), "tag": "H-03", "item": "hinge tape 19 mm", "opened_on": "2025-05-01", "use_by_on": "2026-05-01", "quantity": 12.0, "unit": "m" });
    pilot.post("/lots", &lot).problem(403, "not_allowed");
    world.av.post("/lots", &lot).expect(201);
    let mut less = lot.clone();
    less["quantity"] = json!(8.0);
    let etag = world.av.get("/lots/H-03").expect(200).header("etag").unwrap().to_owned();
    world.av.put("/lots/H-03", None, &less).problem(428, "if_match_missing");
    world.av.put("/lots/H-03", Some(&etag), &less).expect(200);
    assert_eq!(world.av.get("/lots/H-03").json()["quantity"], 8.0);
    let slug = |count: i64| json!({ "id": new_id(), "tag": "S50", "mass_g": 50.0, "count": count, "purpose": "ballast", "design": "SEDGE" });
    world.av.post("/slugs", &slug(-1)).problem(422, "invalid_fields");
    world.av.post("/slugs", &slug(6)).expect(201);
});
