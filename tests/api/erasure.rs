//! Erasing a member's personal data: gone everywhere, and nothing else changed.

use diesel::connection::SimpleConnection as _;
use preen_api::audit::verify::verify;
use preen_api::resources::nouns;
use preen_tests::on_both;
use preen_tests::world::{CLUB, flight, new_id};
use serde_json::json;

on_both!(the_name_is_gone_and_the_trail_holds, |world| {
    world.small_fleet();
    let id = new_id();
    let member = json!({ "id": id, "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] });
    world.av.post("/members", &member).expect(201);
    let etag = world.av.get("/members/XY").expect(200).header("etag").unwrap().to_owned();
    let mut renamed = member.clone();
    renamed["name"] = json!("Xaver Zett");
    world.av.put("/members/XY", Some(&etag), &renamed).expect(200);
    world.add("flights", flight("SG-01", "XY", "2026-05-20T10:00:00Z"));
    let since = world.av.get("/may-fly").expect(200).json()["revision"].clone();

    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    pilot.post("/members/XY/erasure", &json!({})).problem(403, "not_allowed");
    let bare = world.av.post("/members/XY/erasure", &json!({})).expect(200).json();
    assert_eq!((&bare["tag"], &bare["name"]), (&json!("XY"), &json!(null)));
    let again = world.av.post("/members/XY/erasure", &json!({})).expect(200).json();
    assert_eq!(again["revision"], bare["revision"], "once is enough");

    for path in ["/members", "/members/XY", "/facts", "/flights", "/may-fly?at_revision=1"] {
        assert!(!world.av.get(path).expect(200).text.contains("Xaver"), "{path}");
    }
    let mut conn = world.conn();
    let verdict = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!((verdict.broken, verdict.erased), (None, 2));
    let changed = world.av.get(&format!("/changes?since={since}")).expect(200).json();
    assert_eq!(changed["models"], json!([]), "no answer changed");
    // What is wiped cannot be put back unseen.
    conn.batch_execute(&format!("UPDATE members SET tag = 'XZ' WHERE id = '{id}' AND superseded IS NULL"))
        .unwrap();
    assert!(verify(&mut conn, nouns::TABLES, CLUB).unwrap().broken.is_some());
    conn.batch_execute(&format!("UPDATE members SET tag = 'XY' WHERE id = '{id}' AND superseded IS NULL"))
        .unwrap();
});
