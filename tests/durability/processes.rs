//! Two processes that serve one PostgreSQL database: what ends at one has ended at the other by the very next request,
//! and guesses are counted together.

use preen_tests::Database;
use preen_tests::Reply;
use preen_tests::http::Caller;
use preen_tests::world::{CLUB, new_id};
use reqwest::blocking::RequestBuilder;
use serde_json::json;

use crate::{Process, record};

const GOOD: &str = "three old oars";
const BETTER: &str = "four new rudders";

/// Attempts that are let through before a member has to wait.
const FREE: usize = 5;
/// Attempts sent at the same moment, half of them to each process.
const AT_ONCE: usize = 12;

fn try_in(process: &Process, password: &str) -> Reply {
    let body = json!({ "club": CLUB, "member": "AV", "password": password });
    process.caller.with_token("").post("/session", &body)
}

/// Signs in and returns the cookie.
fn sign_in(process: &Process, password: &str) -> String {
    let reply = try_in(process, password).expect(201);
    reply.header("set-cookie").unwrap().split(';').next().unwrap().to_owned()
}

fn with_cookie(process: &Process, method: &str, path: &str, cookie: &str) -> RequestBuilder {
    process.caller.with_token("").request(method, path).header("cookie", cookie)
}

fn set_password(process: &Process, password: &str) {
    let body = json!({ "new_password": password });
    process.caller.put("/members/AV/password", None, &body).expect(200);
}

/// What one process ends, the other refuses; each in both directions.
pub fn know_the_same() {
    let (place, token) = record::begin(Database::Postgres);
    let (a, b) = (crate::start(&place, &token), crate::start(&place, &token));
    set_password(&a, GOOD);
    for (here, there) in [(&a, &b), (&b, &a)] {
        taken_back(here, there);
        signed_out(here, there);
        password_changed(here, there);
    }
    guessed(&a, &b);
}

fn taken_back(here: &Process, there: &Process) {
    let wanted = json!({ "id": new_id(), "label": "phone", "scopes": ["read"] });
    let made = here.caller.post("/tokens", &wanted).expect(201).json();
    let token = made["token"].as_str().unwrap();
    let callers: Vec<Caller> = [here, there].iter().map(|process| process.caller.with_token(token)).collect();
    for caller in &callers {
        caller.get("/members").expect(200);
    }
    let id = made["id"].as_str().unwrap();
    Reply::of(here.caller.request("DELETE", &format!("/tokens/{id}"))).expect(200);
    for caller in callers.iter().rev() {
        caller.get("/members").problem(401, "token_revoked");
    }
}

fn signed_out(here: &Process, there: &Process) {
    let cookie = sign_in(here, GOOD);
    let whoami = Reply::of(with_cookie(there, "GET", "/session", &cookie)).expect(200).json();
    // The origin is that of the process that is asked; the CSRF token holds at both.
    let address = here.caller.request("GET", "/health/live").build().unwrap().url().clone();
    let origin = address.origin().ascii_serialization();
    let out = with_cookie(here, "DELETE", "/session", &cookie).header("origin", origin);
    Reply::of(out.header("x-csrf-token", whoami["csrf_token"].as_str().unwrap())).expect(204);
    Reply::of(with_cookie(there, "GET", "/session", &cookie)).problem(401, "session_ended");
}

fn password_changed(here: &Process, there: &Process) {
    let cookies = [sign_in(here, GOOD), sign_in(there, GOOD)];
    for cookie in &cookies {
        Reply::of(with_cookie(there, "GET", "/members", cookie)).expect(200);
    }
    set_password(here, BETTER);
    for cookie in &cookies {
        Reply::of(with_cookie(there, "GET", "/members", cookie)).problem(401, "session_ended");
        Reply::of(with_cookie(here, "GET", "/members", cookie)).problem(401, "session_ended");
    }
    try_in(there, GOOD).problem(401, "sign_in_wrong");
    sign_in(there, BETTER);
    set_password(here, GOOD);
}

fn guessed(a: &Process, b: &Process) {
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let tries: Vec<_> = (0..AT_ONCE)
            .map(|number| {
                let process = if number % 2 == 0 { a } else { b };
                scope.spawn(move || try_in(process, &format!("a wrong guess {number}")).status)
            })
            .collect();
        tries.into_iter().map(|one| one.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 401).count(), FREE, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|status| **status == 429).count(), AT_ONCE - FREE, "{statuses:?}");
    for process in [a, b] {
        let wait = try_in(process, GOOD);
        wait.problem(429, "too_many_attempts");
        assert!(wait.header("retry-after").is_some());
    }
}
