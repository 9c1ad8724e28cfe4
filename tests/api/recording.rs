//! How facts get into the record: once, in versions, corrected.

use preen_tests::on_both;
use preen_tests::world::{flight, items, model, new_id, part};
use serde_json::json;

on_both!(the_same_twice_counts_once, |world| {
    world.small_fleet();
    let body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let first = world.av.post("/flights", &body).expect(201).json();
    let again = world.av.post("/flights", &body).expect(200).json();
    assert_eq!(first, again);
    assert_eq!(items(world.av.get("/flights")).len(), 1);
});

on_both!(the_same_id_with_other_content_is_refused, |world| {
    world.small_fleet();
    let mut body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    world.av.post("/flights", &body).expect(201);
    body["airtime_min"] = json!(7.0);
    world.av.post("/flights", &body).problem(409, "id_taken");
});

on_both!(an_id_belongs_to_one_noun, |world| {
    world.small_fleet();
    let mut body = part("SV09", "servo");
    body["id"] = world.av.get("/models/SG-01").expect(200).json()["id"].clone();
    world.av.post("/parts", &body).problem(409, "id_taken");
});

on_both!(a_tag_belongs_to_one_item_of_a_noun, |world| {
    world.small_fleet();
    let mut body = part("SV08", "servo");
    body["id"] = json!(new_id());
    world.av.post("/parts", &body).problem(409, "tag_taken");
    // Another noun may use the same word.
    world.component("SV08", "SV08");
});

on_both!(a_refused_change_takes_no_revision, |world| {
    world.small_fleet();
    let before = world.av.get("/may-fly").expect(200).json()["revision"].clone();
    world.av.post("/models", &model("SG-01", "AV")).expect(422);
    let mut body = model("SG-01", "AV");
    body["id"] = json!(new_id());
    world.av.post("/models", &body).expect(409);
    assert_eq!(world.av.get("/may-fly").expect(200).json()["revision"], before);
});

on_both!(master_data_changes_by_versions, |world| {
    world.small_fleet();
    let seen = world.av.get("/parts/SV08").expect(200);
    let etag = seen.header("etag").unwrap().to_owned();
    let mut body = part("SV08", "servo");
    body["nominal_mass_g"] = json!(10.9);
    world.av.put("/parts/SV08", None, &body).problem(428, "if_match_missing");
    let changed = world.av.put("/parts/SV08", Some(&etag), &body).expect(200);
    assert_ne!(changed.header("etag"), Some(etag.as_str()));
    assert_eq!(world.av.get("/parts/SV08").json()["nominal_mass_g"], 10.9);
    assert_eq!(items(world.av.get("/parts?tag=SV08")).len(), 1);
    // Somebody else who has seen the first version only.
    body["nominal_mass_g"] = json!(11.0);
    world.av.put("/parts/SV08", Some(&etag), &body).problem(412, "stale");
    // The same change again, by a client that did not hear the answer.
    body["nominal_mass_g"] = json!(10.9);
    let again = world.av.put("/parts/SV08", Some(&etag), &body).expect(200);
    assert_eq!(again.json(), changed.json());
});

on_both!(another_items_change_leaves_the_validator, |world| {
    world.small_fleet();
    let etag = world.av.get("/parts/SV08").header("etag").unwrap().to_owned();
    world.add("parts", part("SV06", "servo"));
    let mut body = part("SV08", "servo");
    body["note"] = json!("thin");
    world.av.put("/parts/SV08", Some(&etag), &body).expect(200);
});

on_both!(a_tag_can_be_changed_and_is_free_then, |world| {
    world.small_fleet();
    let etag = world.av.get("/parts/SV08").header("etag").unwrap().to_owned();
    world.av.put("/parts/SV08", Some(&etag), &part("SV88", "servo")).expect(200);
    world.av.get("/parts/SV08").problem(404, "not_found");
    world.av.get("/parts/SV88").expect(200);
    world.add("parts", part("SV08", "servo"));
});

on_both!(a_correction_takes_the_place_of_its_original, |world| {
    world.small_fleet();
    let body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let id = body["id"].as_str().unwrap().to_owned();
    world.av.post("/flights", &body).expect(201);
    let mut right = body.clone();
    right["airtime_min"] = json!(66.0);
    let correction = json!({ "id": new_id(), "reason": "a digit was lost", "fact": right });
    let path = format!("/flights/{id}/correction");
    let first = world.av.post(&path, &correction).expect(201).json();
    assert_eq!(first["original"], id.as_str());
    assert_eq!(world.av.post(&path, &correction).expect(200).json(), first);
    assert_eq!(world.av.get(&format!("/flights/{id}")).json()["airtime_min"], 66.0);
    assert_eq!(items(world.av.get("/flights")).len(), 1);
    assert_eq!(items(world.av.get(&format!("/corrections?original={id}"))).len(), 1);
    let usage = world.av.get("/models/SG-01/usage").expect(200).json();
    assert_eq!(usage["airtime_h"], 1.1);
    // What was known before the correction can still be asked.
    let before = first["revision"].as_i64().unwrap() - 1;
    let then = world.av.get(&format!("/models/SG-01/usage?at_revision={before}")).expect(200).json();
    assert_eq!(then["airtime_h"], 0.1);
});

on_both!(what_never_was_is_taken_back, |world| {
    world.small_fleet();
    let body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let path = format!("/flights/{}", body["id"].as_str().unwrap());
    world.av.post("/flights", &body).expect(201);
    let void = json!({ "id": new_id(), "reason": "it was SG-02", "is_void": true });
    world.av.post(&format!("{path}/correction"), &void).expect(201);
    world.av.get(&path).problem(404, "not_found");
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    assert_eq!(world.av.get("/models/SG-01/usage").json()["flights"], 0);
    // The original's id stays taken, by its own content.
    world.av.post("/flights", &body).expect(200);
    assert_eq!(items(world.av.get("/flights")).len(), 0);
});

on_both!(a_correction_names_fact_or_void, |world| {
    world.small_fleet();
    let body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    let path = format!("/flights/{}/correction", body["id"].as_str().unwrap());
    world.av.post("/flights", &body).expect(201);
    let neither = json!({ "id": new_id(), "reason": "none" });
    assert_eq!(world.av.post(&path, &neither).expect(422).wrong_field().0, "/fact");
    let both = json!({ "id": new_id(), "reason": "none", "is_void": true, "fact": body });
    assert_eq!(world.av.post(&path, &both).expect(422).wrong_field().0, "/fact");
    let wrong = json!({ "id": new_id(), "reason": "none", "fact": { "colour": "red" } });
    assert!(world.av.post(&path, &wrong).expect(422).wrong_field().0.starts_with("/fact/"));
});

on_both!(a_swap_is_previewed_then_recorded_once, |world| {
    world.small_fleet();
    for (tag, part) in [("PN-1", "PANEL"), ("B001", "SV08"), ("B002", "SV08")] {
        world.component(tag, part);
    }
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    world.fit("B001", json!({ "component": "PN-1" }), "FS.L", "2026-05-01T09:00:00Z");
    let swap = json!({
        "occurred_at": "2026-05-20T18:00:00Z",
        "exchanges": [{
            "path": "W.C/FS.L", "on": "B002", "installation": new_id(), "removal": new_id(), "reason": "preventive"
        }]
    });
    let preview = world.av.post("/models/SG-01/swap?preview=true", &swap).expect(200).json();
    assert_eq!(preview["is_preview"], true);
    assert_eq!(items(world.av.get("/removals")).len(), 0);
    let done = world.av.post("/models/SG-01/swap", &swap).expect(201).json();
    assert_eq!(done["is_preview"], false);
    assert_eq!(done["delta"], preview["delta"]);
    // Again, by a client that did not hear the answer.
    assert_eq!(world.av.post("/models/SG-01/swap", &swap).expect(200).json(), done);
    assert_eq!(items(world.av.get("/removals?component=B001")).len(), 1);
    let rows = world.av.get("/where?component=B002").expect(200).json();
    assert_eq!(rows["components"][0]["path"], "W.C/FS.L");
    // The same ids for another exchange.
    let mut other = swap;
    other["exchanges"][0]["on"] = json!("B001");
    world.av.post("/models/SG-01/swap", &other).problem(409, "id_taken");
});

on_both!(a_component_is_fitted_and_taken_out_by_command, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    let fit = json!({
        "id": new_id(), "inside": { "model": "SG-01" }, "position": "W.C", "occurred_at": "2026-05-01T08:00:00Z"
    });
    world.av.post("/components/PN-1/fit", &fit).expect(201);
    world.av.post("/components/PN-1/fit", &fit).expect(200);
    let out = json!({ "id": new_id(), "occurred_at": "2026-05-02T08:00:00Z", "reason": "upgrade" });
    world.av.post("/components/PN-1/remove?preview=true", &out).expect(200);
    world.av.post("/components/PN-1/remove", &out).expect(201);
    world.av.post("/components/PN-1/remove", &out).expect(200);
    let mut later = out;
    later["id"] = json!(new_id());
    let broken = world.av.post("/components/PN-1/remove", &later);
    broken.problem(409, "refused_by_rule");
    assert_eq!(broken.wrong_field().1, "not_fitted");
});
