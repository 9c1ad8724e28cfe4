//! Access: whose token it is, what it is for, and what roles may do.

use preen_tests::on_both;
use preen_tests::world::{flight, items, model, new_id, part};
use serde_json::{Value, json};

on_both!(without_a_valid_token_nothing_is_said, |world| {
    world.small_fleet();
    let path = "/models/SG-01";
    world.av.with_token("").get(path).problem(401, "token_missing");
    world.av.with_token("sesame").get(path).problem(401, "token_malformed");
    let wrong_secret = format!("preen_quillmarsh_{}", "0".repeat(64));
    world.av.with_token(&wrong_secret).get(path).problem(401, "token_unknown");
    let secret = world.av.token.rsplit('_').next().unwrap();
    world.av.with_token(&format!("preen_reedbed_{secret}")).get(path).problem(401, "token_unknown");
    let reply = world.av.with_token("").get(path);
    assert_eq!(reply.header("www-authenticate"), Some("Bearer"));
});

on_both!(a_token_ends, |world| {
    let short = world.token_of("AV", &["read"], Some("2026-05-21T09:00:00Z"));
    short.get("/members").expect(200);
    world.set_clock("2026-05-21T09:00:00Z");
    short.get("/members").problem(401, "token_expired");
});

on_both!(a_token_is_taken_back, |world| {
    let made = json!({ "id": new_id(), "label": "phone", "scopes": ["read", "write"] });
    let record = world.av.post("/tokens", &made).expect(201).json();
    let phone = world.av.with_token(record["token"].as_str().unwrap());
    phone.get("/members").expect(200);
    let path = format!("/tokens/{}", record["id"].as_str().unwrap());
    preen_tests::Reply::of(world.av.request("DELETE", &path)).expect(200);
    phone.get("/members").problem(401, "token_revoked");
    // Again changes nothing.
    preen_tests::Reply::of(world.av.request("DELETE", &path)).expect(200);
});

on_both!(a_secret_is_shown_once_and_stored_nowhere, |world| {
    let wanted = json!({ "id": new_id(), "label": "phone", "scopes": ["read"] });
    let first = world.av.post("/tokens", &wanted).expect(201).json();
    let token = first["token"].as_str().unwrap();
    let again = world.av.post("/tokens", &wanted).expect(200);
    assert!(again.json().get("token").is_none());
    let listed = world.av.get("/tokens").expect(200);
    assert!(!listed.text.contains(token) && listed.text.contains("phone"));
    let mut other = wanted;
    other["scopes"] = json!(["read", "write"]);
    world.av.post("/tokens", &other).problem(409, "id_taken");
});

on_both!(scopes_bound_what_a_token_may_do, |world| {
    world.small_fleet();
    let reader = world.member("BK", &["pilot"], &["read"]);
    reader.get("/models").expect(200);
    reader.post("/flights", &flight("SG-01", "BK", "2026-05-20T10:00:00Z")).problem(403, "scope_missing");
    let writer = world.token_of("BK", &["write"], None);
    writer.post("/flights", &flight("SG-01", "BK", "2026-05-20T10:00:00Z")).expect(201);
    writer.get("/models").problem(403, "scope_missing");
    // A token cannot make one that may do more than itself.
    let more = json!({ "id": new_id(), "label": "more", "scopes": ["read"] });
    assert_eq!(writer.post("/tokens", &more).expect(422).wrong_field().0, "/scopes");
});

on_both!(nobody_speaks_for_another, |world| {
    world.small_fleet();
    let bk = world.member("BK", &["inspector"], &["read", "write"]);
    let weighing = |by: &str| {
        json!({
            "id": new_id(), "model": "SG-01", "occurred_at": "2026-05-20T10:00:00Z", "mass_g": 1202.5,
            "x_mm": 96.5, "u_x_mm": 0.43, "weighed_by": by
        })
    };
    bk.post("/weighings", &weighing("AV")).problem(403, "scope_missing");
    bk.post("/weighings", &weighing("BK")).expect(201);
    let historian = world.token_of("BK", &["write", "history"], None);
    let entered = historian.post("/weighings", &weighing("AV")).expect(201).json();
    assert_ne!(entered["recorded_by"], entered["weighed_by"]);
});

on_both!(another_clubs_items_do_not_exist, |world| {
    world.small_fleet();
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper", "builder"] });
    let other = world.av.with_token(&world.begin_club("reedbed", &member));
    let id = world.av.get("/models/SG-01").json()["id"].as_str().unwrap().to_owned();
    other.get("/models/SG-01").problem(404, "not_found");
    other.get(&format!("/models/{id}")).problem(404, "not_found");
    other.get("/models/SG-01/balance").problem(404, "not_found");
    assert_eq!(items(other.get("/models")).len(), 0);
    // Both clubs may use the same tags and even the same ids.
    let mut body = part("SV08", "servo");
    body["id"] = world.av.get("/parts/SV08").json()["id"].clone();
    other.post("/parts", &body).expect(201);
});

on_both!(the_set_up_code_is_good_for_one_use, |world| {
    let zone = "Europe/London".parse().unwrap();
    let code = preen_api::resources::setup::store::create_club(
        &mut world.conn(),
        "reedbed",
        "Reedbed",
        zone,
        world.clock.now(),
    )
    .unwrap()
    .unwrap();
    let nobody = world.av.with_token("");
    let ask = |code: &str, club: &str, roles: &[&str]| {
        let member = json!({ "id": new_id(), "tag": "ZZ", "roles": roles });
        nobody.post("/setup", &json!({ "club": club, "code": code, "member": member }))
    };
    ask("guess", "reedbed", &["keeper"]).problem(401, "token_unknown");
    ask(&code, "nowhere", &["keeper"]).problem(401, "token_unknown");
    assert_eq!(ask(&code, "reedbed", &["pilot"]).expect(422).wrong_field().0, "/member/roles");
    ask(&code, "reedbed", &["keeper"]).expect(201);
    ask(&code, "reedbed", &["keeper"]).problem(401, "token_unknown");
});

on_both!(roles_bound_what_a_member_may_do, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    let all = &["read", "write"];
    let pilot = world.member("BK", &["pilot"], all);
    let helper = world.member("HE", &["helper"], all);
    let member = json!({ "id": new_id(), "tag": "NN", "roles": ["pilot"] });
    pilot.post("/members", &member).problem(403, "not_allowed");
    let mut body = part("SV09", "servo");
    body["id"] = json!(new_id());
    pilot.post("/parts", &body).problem(403, "not_allowed");
    // A pilot enters models of their own, and fits parts to those only.
    let mut own = model("BK-1", "BK");
    own["id"] = json!(new_id());
    pilot.post("/models", &own).expect(201);
    let fit = |model: &str| {
        json!({
            "id": new_id(), "component": "PN-1", "inside": { "model": model }, "position": "W.C",
            "occurred_at": "2026-05-20T10:00:00Z"
        })
    };
    pilot.post("/installations", &fit("SG-01")).problem(403, "not_allowed");
    pilot.post("/installations", &fit("BK-1")).expect(201);
    helper.post("/flights", &flight("SG-01", "AV", "2026-05-20T10:00:00Z")).expect(201);
    helper.post("/parts", &body).problem(403, "not_allowed");
    helper.get("/tokens?member=AV").problem(403, "not_allowed");
});

on_both!(names_are_for_members_who_need_them, |world| {
    let mut body = json!({ "id": new_id(), "tag": "CM", "roles": ["pilot"] });
    body["name"] = json!("A name");
    world.av.post("/members", &body).expect(201);
    let helper = world.member("HE", &["helper"], &["read"]);
    assert_eq!(world.av.get("/members/CM").json()["name"], "A name");
    assert!(helper.get("/members/CM").expect(200).json().get("name").is_none());
    assert!(!helper.get("/members").text.contains("A name"));
});

on_both!(a_visitor_sees_what_is_on_loan_to_them, |world| {
    world.small_fleet();
    world.add("models", model("SG-02", "AV"));
    let visitor = world.member("VW", &["visitor"], &["read", "write"]);
    visitor.get("/models/SG-01").problem(404, "not_found");
    assert_eq!(visitor.get("/may-fly").expect(200).json()["models"], json!([]));
    visitor.post("/flights", &flight("SG-01", "VW", "2026-05-21T07:00:00Z")).problem(422, "invalid_fields");
    world.add(
        "loans",
        json!({
            "item": { "model": "SG-01" }, "lent_to": "VW", "occurred_at": "2026-05-20T10:00:00Z",
            "from_on": "2026-05-20", "due_back_on": "2026-05-31"
        }),
    );
    visitor.get("/models/SG-01").expect(200);
    visitor.get("/models/SG-02").problem(404, "not_found");
    let board = visitor.get("/may-fly").expect(200).json();
    assert_eq!(board["models"].as_array().unwrap().len(), 1);
    visitor.post("/flights", &flight("SG-01", "VW", "2026-05-21T07:00:00Z")).expect(201);
    assert_eq!(items(visitor.get("/models")).len(), 1);
    assert_eq!(items(visitor.get("/members")).len(), 1);
});

on_both!(ones_own_entries_may_be_corrected_for_a_week, |world| {
    world.small_fleet();
    let bk = world.member("BK", &["pilot"], &["read", "write"]);
    let cm = world.member("CM", &["pilot"], &["read", "write"]);
    let entered = flight("SG-01", "BK", "2026-05-20T10:00:00Z");
    bk.post("/flights", &entered).expect(201);
    let later = flight("SG-01", "BK", "2026-05-20T11:00:00Z");
    bk.post("/flights", &later).expect(201);
    let path = |flight: &Value| format!("/flights/{}/correction", flight["id"].as_str().unwrap());
    let void = || json!({ "id": new_id(), "reason": "not flown", "is_void": true });
    cm.post(&path(&entered), &void()).problem(403, "not_allowed");
    world.set_clock("2026-05-28T07:59:59Z");
    bk.post(&path(&entered), &void()).expect(201);
    world.set_clock("2026-05-28T08:00:00Z");
    bk.post(&path(&later), &void()).problem(403, "not_allowed");
});

/// What stands for `{id}` in a path.
fn some_path(template: &str) -> String {
    template.replace("{id}", "01970a3c-5d00-7000-8000-ffffffffffff")
}

on_both!(every_operation_asks_who_it_is_and_what_the_token_is_for, |world| {
    world.small_fleet();
    let reader = world.member("BK", &["pilot"], &["read"]);
    let writer = world.token_of("BK", &["write"], None);
    let paths = preen_tests::description::description()["paths"].as_object().unwrap();
    let mut asked = 0;
    for (template, item) in paths {
        for (method, operation) in item.as_object().unwrap() {
            if operation["security"] == json!([{}]) {
                continue;
            }
            asked += 1;
            // Needed or not, it must not matter before it is known who asks.
            let method = method.to_uppercase();
            let send = |caller: &preen_tests::http::Caller| {
                preen_tests::Reply::of(caller.request(&method, &some_path(template)))
            };
            send(&world.av.with_token("")).problem(401, "token_missing");
            let is_question = method == "GET" || template.contains("/compute/");
            let wrong = if is_question { &writer } else { &reader };
            send(wrong).problem(403, "scope_missing");
            // The right scope comes past this door, whatever the next one says.
            let right = if is_question { &reader } else { &writer };
            assert_ne!(send(right).status, 401, "{method} {template}");
        }
    }
    assert!(asked > 80, "{asked}");
});
