//! API2, who one is: tokens in the wrong place, sessions chosen by somebody else, and how long a refusal takes.

use std::time::{Duration, Instant};

use preen_tests::http::Caller;
use preen_tests::world::{CLUB, new_id};
use preen_tests::{Reply, on_both};
use serde_json::json;

const GOOD: &str = "three old oars";

fn try_in(caller: &Caller, member: &str, password: &str) -> Reply {
    let body = json!({ "club": CLUB, "member": member, "password": password });
    caller.with_token("").post("/session", &body)
}

fn cookie_of(reply: &Reply) -> String {
    reply.header("set-cookie").unwrap().split(';').next().unwrap().to_owned()
}

on_both!(a_token_counts_in_its_header_alone, |world| {
    let nobody = world.av.with_token("");
    let token = &world.av.token;
    // Links are kept, passed on and logged.
    for place in ["token", "access_token", "api_key", "authorization", "bearer"] {
        let reply = nobody.get(&format!("/members?{place}={token}"));
        assert!(matches!(reply.status, 400 | 401), "{place}: {}", reply.text);
    }
    for (name, value) in [
        ("x-api-key", token.clone()),
        ("x-auth-token", token.clone()),
        ("authorization", format!("Token {token}")),
        ("authorization", format!("Basic {token}")),
        ("authorization", token.clone()),
        ("proxy-authorization", format!("Bearer {token}")),
        ("cookie", format!("preen_session={token}")),
        ("cookie", format!("token={token}")),
    ] {
        let reply = Reply::of(nobody.request("GET", "/members").header(name, value));
        assert_eq!(reply.status, 401, "{name}: {}", reply.text);
    }
    // A body says nothing of who one is.
    let body =
        json!({ "id": new_id(), "label": "phone", "scopes": ["read"], "token": token, "member": "AV" });
    nobody.post("/tokens", &body).problem(401, "token_missing");
});

on_both!(a_session_is_never_one_that_somebody_else_chose, |world| {
    world.av.put("/members/AV/password", None, &json!({ "new_password": GOOD })).expect(200);
    let chosen = format!("preen_session={CLUB}_{}", "0123456789abcdef".repeat(4));
    let body = json!({ "club": CLUB, "member": "AV", "password": GOOD });
    let sign_in = |cookie: &str| {
        let request = world.av.with_token("").request("POST", "/session").header("cookie", cookie);
        cookie_of(&Reply::of(request.json(&body)).expect(201))
    };
    let ask =
        |cookie: &str| Reply::of(world.av.with_token("").request("GET", "/members").header("cookie", cookie));
    let first = sign_in(&chosen);
    assert_ne!(first, chosen);
    ask(&chosen).problem(401, "session_ended");
    // Signing in again is another session; the secret of the one is no part of the other.
    let second = sign_in(&first);
    assert_ne!(first, second);
    ask(&first).expect(200);
    ask(&second).expect(200);
});

on_both!(what_has_ended_opens_nothing_however_often_it_is_shown, |world| {
    let expired = world.token_of("AV", &["read", "write"], Some("2026-05-21T09:00:00Z"));
    let made = json!({ "id": new_id(), "label": "phone", "scopes": ["read", "write"] });
    let record = world.av.post("/tokens", &made).expect(201).json();
    let revoked = world.av.with_token(record["token"].as_str().unwrap());
    revoked.get("/members").expect(200);
    Reply::of(world.av.request("DELETE", &format!("/tokens/{}", record["id"].as_str().unwrap()))).expect(200);
    world.set_clock("2026-05-21T09:00:00Z");
    let part = json!({ "id": new_id(), "tag": "SV09", "kind": "servo", "tracking": "serial" });
    for _ in 0..3 {
        expired.get("/members").problem(401, "token_expired");
        expired.post("/parts", &part).problem(401, "token_expired");
        revoked.get("/members").problem(401, "token_revoked");
        revoked.post("/parts", &part).problem(401, "token_revoked");
    }
    assert_eq!(world.av.get("/parts").json()["items"], json!([]));
});

on_both!(nobody_learns_by_the_clock_who_is_a_member, |world| {
    world.av.put("/members/AV/password", None, &json!({ "new_password": GOOD })).expect(200);
    world.member("BK", &["pilot"], &["read"]);
    let mut quickest = [("AV", Duration::MAX), ("NOBODY", Duration::MAX), ("BK", Duration::MAX)];
    // By turns, and the quickest of each: what else runs on the machine only ever makes one slower.
    for _ in 0..8 {
        for (member, time) in &mut quickest {
            // Beyond the reach of the count of guesses.
            world.clock.set(world.clock.now().plus_seconds(86_400));
            let began = Instant::now();
            try_in(&world.av, member, "a wrong password of theirs").problem(401, "sign_in_wrong");
            *time = began.elapsed().min(*time);
        }
    }
    let known = quickest[0].1;
    for (other, unknown) in &quickest[1..] {
        // A hash is made for either; without one it would be a fiftieth.
        assert!(*unknown * 6 > known && known * 6 > *unknown, "{known:?} for AV, {unknown:?} for {other}");
    }
});
