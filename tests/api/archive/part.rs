//! One model for a buyer, in which nobody can be found; and what is on record about one member.

use std::path::PathBuf;

use preen_tests::http::Caller;
use preen_tests::world::{flight, new_id, scratch};
use preen_tests::{World, on_both};
use serde_json::{Value, json};

use super::{names, text_of};

fn export(caller: &Caller, path: &str) -> (PathBuf, PathBuf) {
    let reply = caller.get(path).expect(200);
    assert_eq!(reply.header("content-type"), Some("application/zip"));
    let folder = scratch("preen-part");
    let file = folder.join("part.zip");
    std::fs::write(&file, reply.bytes).unwrap();
    (folder, file)
}

/// Two models, one with parts in it; two members besides the keeper, one with a name.
fn club(world: &World) {
    world.small_fleet();
    for tag in ["XY", "BK"] {
        let name = if tag == "XY" { json!("Xaver Ypsilon") } else { json!(null) };
        world.add("members", json!({ "tag": tag, "name": name, "roles": ["pilot"] }));
    }
    world.add("models", preen_tests::world::model("SG-02", "XY"));
    let at = "2026-05-01T08:00:00Z";
    world.component("PN-1", "PANEL");
    world.component("SV-1", "SV08");
    world.component("SV-2", "SV08");
    // The servo has a life of its own: it sat in the other model before.
    world.component("PN-2", "PANEL");
    world.fit("PN-2", json!({ "model": "SG-02" }), "W.C", at);
    let old = world.fit("SV-1", json!({ "component": "PN-2" }), "FS.L", at);
    world.add("flights", flight("SG-02", "XY", "2026-05-02T08:00:00Z"));
    let out = json!({ "installation": old, "component": "SV-1", "reason": "preventive", "occurred_at": "2026-05-03T08:00:00Z" });
    world.add("removals", out);
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-04T08:00:00Z");
    world.fit("SV-1", json!({ "component": "PN-1" }), "FS.L", "2026-05-04T08:00:00Z");
    let mut flown = flight("SG-01", "BK", "2026-05-20T10:00:00Z");
    flown["note"] = json!("Xaver Ypsilon and XY saw it land; BK flew");
    let flown = world.add("flights", flown);
    let void = json!({ "id": new_id(), "reason": "XY never flew it", "is_void": true });
    world.av.post(&format!("/flights/{flown}/correction"), &void).expect(201);
    world.add("flights", flight("SG-02", "XY", "2026-05-20T10:00:00Z"));
}

on_both!(a_model_goes_to_its_buyer_with_its_parts_and_without_people, |world| {
    club(world);
    let (folder, file) = export(&world.av, "/models/SG-01/export");
    let lines: Vec<Value> =
        text_of(&file, "facts.ndjson").lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let of = |noun: &str| lines.iter().filter(|line| line["noun"] == noun).count();
    assert_eq!(
        (of("models"), of("designs"), of("parts")),
        (1, 1, 2),
        "the model, its design, the types of its parts"
    );
    assert_eq!(
        (of("components"), of("installations"), of("removals")),
        (2, 3, 1),
        "the servo with its earlier place"
    );
    assert_eq!((of("flights"), of("corrections")), (1, 1));
    assert_eq!((of("members"), of("loans"), of("photos")), (0, 0, 0));
    let pilots: Vec<&Value> =
        lines.iter().map(|line| &line["fact"]["pilot"]).filter(|one| !one.is_null()).collect();
    assert!(pilots.iter().all(|pilot| pilot.as_str().unwrap().starts_with("member-")), "{pilots:?}");
    let usage = text_of(&file, "usage.ndjson");
    assert!(usage.contains("\"component\":\"SV-1\"") && usage.contains("SG-02"), "{usage}");
    let members = world.av.get("/members").expect(200).json();
    let ids: Vec<String> = members["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["id"].as_str().unwrap().to_owned())
        .collect();
    for name in names(&file) {
        let text = text_of(&file, &name);
        for word in ids.iter().map(String::as_str).chain(["Xaver", "Ypsilon", "XY", "BK"]) {
            assert!(!text.contains(word), "{name} tells {word}: {text}");
        }
    }
    assert!(text_of(&file, "facts.ndjson").contains("saw it land; member-"), "{lines:?}");
    assert!(text_of(&file, "csv/flights.csv").contains("member-"));
    std::fs::remove_dir_all(folder).unwrap();
    let helper = world.member("HP", &["helper"], &["read", "write", "copy"]);
    helper.get("/models/SG-01/export").problem(403, "not_allowed");
    world.av.get("/models/SG-77/export").problem(404, "not_found");
});

on_both!(a_member_gets_what_is_on_record_about_them_and_nobody_else_does, |world| {
    club(world);
    let xy = world.token_of("XY", &["read", "write"], None);
    let bk = world.token_of("BK", &["read", "write", "copy"], None);
    bk.get("/members/XY/export").problem(403, "not_allowed");
    for caller in [&xy, &world.av] {
        let (folder, file) = export(caller, "/members/XY/export");
        let whole: Value = serde_json::from_str(&text_of(&file, "member.json")).unwrap();
        assert_eq!(whole["member"]["name"], "Xaver Ypsilon");
        assert_eq!(whole["access"]["tokens"][0]["label"], "test");
        assert_eq!(whole["removal"], "POST /api/v1/members/XY/erasure");
        let facts = text_of(&file, "facts.ndjson");
        assert_eq!(facts.matches("\"noun\":\"flights\"").count(), 2, "{facts}");
        assert!(
            facts.contains("\"noun\":\"models\"")
                && text_of(&file, "csv/members.csv").contains("Xaver Ypsilon")
        );
        let secret = xy.token.rsplit('_').next().unwrap();
        for name in names(&file) {
            let text = text_of(&file, &name);
            assert!(
                !text.contains(secret) && !text.contains("secret_hash") && !text.contains("argon2"),
                "{name}"
            );
        }
        std::fs::remove_dir_all(folder).unwrap();
    }
    world.av.post("/members/XY/erasure", &json!({})).expect(200);
    let (folder, file) = export(&world.av, "/members/XY/export");
    for name in names(&file).iter().filter(|name| *name == "member.json" || name.starts_with("csv/members")) {
        assert!(!text_of(&file, name).contains("Xaver"), "{name}");
    }
    std::fs::remove_dir_all(folder).unwrap();
});
