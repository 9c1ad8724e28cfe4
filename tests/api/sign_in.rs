//! Signing in with a password: sessions, what stands between a browser and a change, and guessing.

use preen_tests::http::Caller;
use preen_tests::world::{CLUB, lines, new_id, part};
use preen_tests::{Database, Reply, World, on_both};
use serde_json::{Value, json};

const GOOD: &str = "three old oars";
const BETTER: &str = "four new rudders";

/// A page in a browser: a cookie, the CSRF token it was told, and the origin it came from.
struct Page {
    caller: Caller,
    cookie: String,
    csrf: String,
    origin: String,
}

impl Page {
    fn request(&self, method: &str, path: &str) -> reqwest::blocking::RequestBuilder {
        self.caller.request(method, path).header("cookie", &self.cookie)
    }

    fn get(&self, path: &str) -> Reply {
        Reply::of(self.request("GET", path))
    }

    fn send(&self, method: &str, path: &str, body: &Value) -> Reply {
        let request = self.request(method, path).header("origin", &self.origin);
        Reply::of(request.header("x-csrf-token", &self.csrf).json(body))
    }

    fn post_part(&self, headers: &[(&str, &str)]) -> Reply {
        let mut body = part("SV09", "servo");
        body["id"] = json!(new_id());
        let request = self.request("POST", "/parts").json(&body);
        Reply::of(headers.iter().fold(request, |request, (name, value)| request.header(*name, *value)))
    }
}

/// Where a caller's service is reached, as a page of it names its origin.
fn origin_of(caller: &Caller) -> String {
    let request = caller.request("GET", "/health/live").build().unwrap();
    let url = request.url();
    format!("{}://{}:{}", url.scheme(), url.host_str().unwrap(), url.port().unwrap())
}

fn try_in(caller: &Caller, member: &str, password: &str) -> Reply {
    let body = json!({ "club": CLUB, "member": member, "password": password });
    caller.with_token("").post("/session", &body)
}

fn sign_in(caller: &Caller, member: &str, password: &str) -> Page {
    let caller = caller.with_token("");
    let reply = try_in(&caller, member, password).expect(201);
    let cookie = reply.header("set-cookie").unwrap().split(';').next().unwrap().to_owned();
    let csrf = reply.json()["csrf_token"].as_str().unwrap().to_owned();
    Page { origin: origin_of(&caller), caller, cookie, csrf }
}

fn set_password(caller: &Caller, member: &str, password: &str) -> Reply {
    caller.put(&format!("/members/{member}/password"), None, &json!({ "new_password": password }))
}

/// Another process on the same records: a service of its own, with nothing in common but the database.
fn second_service(world: &World) -> preen_api::server::Running {
    preen_api::server::start(&preen_api::server::Config {
        place: world.place.clone(),
        photos: Some(world.photos.clone()),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: world.clock.clone(),
        workers: Some(1),
        replica: None,
    })
    .unwrap()
}

on_both!(a_member_signs_in_and_out, |world| {
    let revision = world.av.get("/may-fly").json()["revision"].clone();
    set_password(&world.av, "AV", GOOD).expect(200);
    let reply = try_in(&world.av, "AV", GOOD).expect(201);
    let cookie = reply.header("set-cookie").unwrap();
    for part in
        ["preen_session=quillmarsh_", "; Path=/", "; HttpOnly", "; SameSite=Strict", "; Max-Age=2592000"]
    {
        assert!(cookie.contains(part), "{cookie} lacks {part}");
    }
    assert!(!cookie.contains("Secure"), "without encryption the browser would drop it: {cookie}");
    assert_eq!(reply.header("cache-control"), Some("no-store"));
    let page = sign_in(&world.av, "AV", GOOD);
    let known = page.get("/session").expect(200).json();
    assert_eq!(known["tag"], "AV");
    assert_eq!(known["scopes"], json!(["read", "write"]));
    assert_eq!(known["csrf_token"], page.csrf);
    assert_eq!(known["must_change_password"], false);
    page.get("/members").expect(200);
    page.post_part(&[("origin", &page.origin), ("x-csrf-token", &page.csrf)]).expect(201);
    let out = page.send("DELETE", "/session", &json!({})).expect(204);
    assert!(out.header("set-cookie").unwrap().contains("Max-Age=0"));
    page.get("/session").problem(401, "session_ended");
    page.get("/members").problem(401, "session_ended");
    // Only the part was recorded.
    let after = world.av.get("/may-fly").json()["revision"].clone();
    assert_eq!(after.as_i64(), revision.as_i64().map(|before| before + 1));
    // A token may ask who it is, and has no session to end.
    assert!(world.av.get("/session").expect(200).json().get("csrf_token").is_none());
    Reply::of(world.av.request("DELETE", "/session")).problem(404, "not_found");
});

on_both!(a_page_elsewhere_cannot_change_anything, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    let page = sign_in(&world.av, "AV", GOOD);
    let other = sign_in(&world.av, "AV", GOOD);
    let (origin, csrf) = (page.origin.as_str(), page.csrf.as_str());
    page.post_part(&[("origin", origin)]).problem(403, "csrf_token_wrong");
    page.post_part(&[("origin", origin), ("x-csrf-token", "")]).problem(403, "csrf_token_wrong");
    page.post_part(&[("origin", origin), ("x-csrf-token", &other.csrf)]).problem(403, "csrf_token_wrong");
    page.post_part(&[("x-csrf-token", csrf)]).problem(403, "origin_foreign");
    for foreign in ["http://evil.example", "null", &origin.replace("http:", "https:"), &format!("{origin}0")]
    {
        page.post_part(&[("origin", foreign), ("x-csrf-token", csrf)]).problem(403, "origin_foreign");
        let body = json!({ "club": CLUB, "member": "AV", "password": GOOD });
        let request = world.av.with_token("").request("POST", "/session").header("origin", foreign);
        Reply::of(request.json(&body)).problem(403, "origin_foreign");
    }
    assert_eq!(world.av.get("/parts").json()["items"], json!([]));
    // What a program sends with its token needs neither, and a wrong token is not saved by a cookie.
    page.post_part(&[("origin", origin), ("authorization", "Bearer sesame")]).problem(401, "token_malformed");
    world.add("parts", part("SV08", "servo"));
    page.post_part(&[("origin", origin), ("x-csrf-token", csrf)]).expect(201);
});

on_both!(a_session_ends_by_itself, |world| {
    let day = |day: &str, time: &str| world.set_clock(&format!("2026-{day}T{time}Z"));
    set_password(&world.av, "AV", GOOD).expect(200);
    let page = sign_in(&world.av, "AV", GOOD);
    day("05-21", "19:59:59");
    page.get("/members").expect(200);
    day("05-22", "07:59:58");
    page.get("/members").expect(200);
    day("05-22", "19:59:58");
    page.get("/members").problem(401, "session_ended");
    // However much it is used, it ends after thirty days.
    day("06-01", "08:00:00");
    let page = sign_in(&world.av, "AV", GOOD);
    let dates = (1..=30).map(|date| format!("06-{date:02}"));
    for date in dates {
        for time in ["08:00:00", "15:00:00", "22:00:00"] {
            day(&date, time);
            page.get("/members").expect(200);
        }
    }
    day("07-01", "07:59:59");
    page.get("/members").expect(200);
    day("07-01", "08:00:00");
    page.get("/members").problem(401, "session_ended");
});

on_both!(a_new_password_ends_all_sessions, |world| {
    world.member("BK", &["pilot"], &["read", "write"]);
    let bk = world.token_of("BK", &["read", "write"], None);
    set_password(&bk, "BK", GOOD).expect(200);
    set_password(&world.av, "AV", GOOD).expect(200);
    let (first, second) = (sign_in(&world.av, "BK", GOOD), sign_in(&world.av, "BK", GOOD));
    let av = sign_in(&world.av, "AV", GOOD);
    // In a session the password so far is asked for.
    let change = |old: Option<&str>| {
        let mut body = json!({ "new_password": BETTER });
        if let Some(old) = old {
            body["old_password"] = json!(old);
        }
        first.send("PUT", "/members/BK/password", &body)
    };
    assert_eq!(change(None).expect(422).wrong_field().0, "/old_password");
    assert_eq!(change(Some("a guess of it")).expect(422).wrong_field().1, "wrong_password");
    first.get("/members").expect(200);
    let done = change(Some(GOOD)).expect(200);
    assert!(done.header("set-cookie").unwrap().contains("Max-Age=0"));
    assert_eq!(done.json()["sessions_ended"], 2);
    for page in [&first, &second] {
        page.get("/members").problem(401, "session_ended");
    }
    av.get("/members").expect(200);
    bk.get("/members").expect(200);
    try_in(&world.av, "BK", GOOD).problem(401, "sign_in_wrong");
    sign_in(&world.av, "BK", BETTER).get("/members").expect(200);
    // Others' passwords are the keeper's matter, and a token without the right scopes sets none.
    set_password(&bk, "AV", BETTER).problem(403, "not_allowed");
    set_password(&world.token_of("BK", &["write"], None), "BK", GOOD).problem(403, "scope_missing");
    set_password(&world.token_of("BK", &["read"], None), "BK", GOOD).problem(403, "scope_missing");
    set_password(&world.av, "NOBODY", GOOD).problem(404, "not_found");
});

on_both!(a_one_time_password_lets_in_once_and_only_to_choose_another, |world| {
    world.member("BK", &["pilot"], &["read"]);
    let set = set_password(&world.av, "BK", GOOD).expect(200).json();
    assert_eq!(set["is_one_time"], true);
    let page = sign_in(&world.av, "BK", GOOD);
    try_in(&world.av, "BK", GOOD).problem(401, "sign_in_wrong");
    assert_eq!(page.get("/session").expect(200).json()["must_change_password"], true);
    page.get("/members").problem(403, "password_must_change");
    page.post_part(&[("origin", &page.origin), ("x-csrf-token", &page.csrf)])
        .problem(403, "password_must_change");
    page.send("PUT", "/members/AV/password", &json!({ "new_password": BETTER }))
        .problem(403, "password_must_change");
    page.send("PUT", "/members/BK/password", &json!({ "new_password": BETTER })).expect(200);
    sign_in(&world.av, "BK", BETTER).get("/members").expect(200);
    // It ends by itself after seven days.
    set_password(&world.av, "BK", GOOD).expect(200);
    world.set_clock("2026-05-28T08:00:00Z");
    try_in(&world.av, "BK", GOOD).problem(401, "sign_in_wrong");
});

on_both!(passwords_are_long_and_otherwise_free, |world| {
    for bad in ["nine char", "password123", "Quillmarsh", "aaaaaaaaaaaaa", &"x".repeat(257)] {
        let refused = set_password(&world.av, "AV", bad).expect(422);
        assert_eq!(refused.wrong_field().0, "/new_password");
        assert!(!refused.text.contains(bad), "the answer repeats the password");
    }
    for good in ["long ".repeat(51), "åäöåäöåäöå".to_owned(), GOOD.to_owned()] {
        set_password(&world.av, "AV", &good).expect(200);
        sign_in(&world.av, "AV", &good);
    }
    let too_long = try_in(&world.av, "AV", &"x".repeat(257)).expect(422);
    assert_eq!(too_long.wrong_field().0, "/password");
    try_in(&world.av, "AV", "three\u{0}old oars").problem(401, "sign_in_wrong");
    try_in(&world.av, "A\u{0}V", GOOD).problem(401, "sign_in_wrong");
    let unknown_field = json!({ "club": CLUB, "member": "AV", "password": GOOD, "remember": true });
    assert_eq!(world.av.post("/session", &unknown_field).expect(422).wrong_field().0, "/remember");
});

on_both!(what_is_kept_opens_nothing, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    let page = sign_in(&world.av, "AV", GOOD);
    try_in(&world.av, GOOD, "typed into the wrong field").problem(401, "sign_in_wrong");
    let secret = page.cookie.rsplit('_').next().unwrap().to_owned();
    let mut kept = lines(&mut world.conn(), "SELECT hash AS line FROM passwords");
    assert!(kept[0].starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{kept:?}");
    kept.extend(lines(&mut world.conn(), "SELECT secret_hash AS line FROM sessions"));
    kept.extend(lines(&mut world.conn(), "SELECT club_id || subject AS line FROM sign_in_attempts"));
    assert!(kept.len() >= 3);
    for line in &kept {
        assert!(!line.contains(&secret) && !line.contains(GOOD) && !line.contains(&page.csrf), "{line}");
    }
    // A stored hash in place of the secret is no cookie either.
    let stored = &lines(&mut world.conn(), "SELECT secret_hash AS line FROM sessions")[0];
    let thief =
        Page { cookie: format!("preen_session=quillmarsh_{stored}"), ..sign_in(&world.av, "AV", GOOD) };
    thief.get("/members").problem(401, "session_ended");
    for cookie in ["preen_session=", "preen_session=x", "preen_session=_", "preen_session=reedbed_00"] {
        let page = Page { cookie: cookie.to_owned(), ..sign_in(&world.av, "AV", GOOD) };
        page.get("/members").problem(401, "session_ended");
    }
});

/// Five wrong passwords: the fifth locks for thirty seconds.
fn guess_five_times(caller: &Caller, member: &str) {
    for number in 0..5 {
        try_in(caller, member, &format!("wrong guess {number}")).problem(401, "sign_in_wrong");
    }
}

fn wait_s(reply: &Reply) -> i64 {
    reply.problem(429, "too_many_attempts");
    reply.header("retry-after").unwrap().parse().unwrap()
}

on_both!(guessing_has_to_wait_longer_and_longer, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    let page = sign_in(&world.av, "AV", GOOD);
    guess_five_times(&world.av, "AV");
    assert_eq!(wait_s(&try_in(&world.av, "AV", "wrong again")), 30);
    // The right one has to wait too; the session and the token go on.
    assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 30);
    page.get("/members").expect(200);
    world.set_clock("2026-05-21T08:00:29Z");
    assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 1);
    world.set_clock("2026-05-21T08:00:30Z");
    try_in(&world.av, "AV", "the sixth guess").problem(401, "sign_in_wrong");
    assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 60);
    world.set_clock("2026-05-21T08:01:30Z");
    sign_in(&world.av, "AV", GOOD);
    // Signing in has cleared the count.
    guess_five_times(&world.av, "AV");
    assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 30);
    // So does a password that the keeper sets, or the member by a token.
    set_password(&world.av, "AV", BETTER).expect(200);
    sign_in(&world.av, "AV", BETTER);
    // The old password of a session is guarded by the same count.
    let body = json!({ "old_password": "a guess of it", "new_password": GOOD });
    let page = sign_in(&world.av, "AV", BETTER);
    for _ in 0..5 {
        page.send("PUT", "/members/AV/password", &body).expect(422);
    }
    assert_eq!(wait_s(&page.send("PUT", "/members/AV/password", &body)), 30);
});

on_both!(many_guesses_at_once_are_counted_one_by_one, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..16)
            .map(|number| {
                scope.spawn(move || {
                    // A machine with too much to do says so before it looks at the guess; it is then made again.
                    std::iter::repeat_with(|| {
                        try_in(&world.av, "AV", &format!("wrong guess {number}")).status
                    })
                    .find(|status| *status != 503)
                    .unwrap()
                })
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 401).count(), 5, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|status| **status == 429).count(), 11, "{statuses:?}");
});

on_both!(an_address_cannot_go_through_the_members, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    for number in 0..30 {
        try_in(&world.av, &format!("M{number}"), "a common password").problem(401, "sign_in_wrong");
    }
    assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 30);
    world.set_clock("2026-05-21T08:00:30Z");
    sign_in(&world.av, "AV", GOOD);
});

on_both!(a_guess_is_answered_alike_whether_the_member_is_there_or_not, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    world.member("BK", &["pilot"], &["read"]);
    let without_instance = |reply: &Reply| (reply.status, reply.json());
    let wrong = try_in(&world.av, "AV", "a wrong password");
    let others = [
        try_in(&world.av, "BK", "has no password yet"),
        try_in(&world.av, "NOBODY", "is no member here"),
        try_in(&world.av, "not even a tag!", "is no member here"),
        world
            .av
            .with_token("")
            .post("/session", &json!({ "club": "nowhere", "member": "AV", "password": GOOD })),
        world
            .av
            .with_token("")
            .post("/session", &json!({ "club": "No Club", "member": "AV", "password": GOOD })),
    ];
    for other in &others {
        assert_eq!(without_instance(other), without_instance(&wrong));
        let names = |reply: &Reply| -> Vec<String> {
            let mut names: Vec<String> = reply.headers.iter().map(|(name, _)| name.clone()).collect();
            names.sort();
            names
        };
        assert_eq!(names(other), names(&wrong));
    }
    // The lock comes at the same count too.
    for _ in 0..4 {
        try_in(&world.av, "NOBODY", "a wrong password").problem(401, "sign_in_wrong");
    }
    assert_eq!(wait_s(&try_in(&world.av, "nobody", "a wrong password")), 30);
});

#[test]
fn a_restart_forgets_no_guess() {
    for database in [Database::Sqlite, Database::Postgres] {
        let mut world = World::begin(database);
        set_password(&world.av, "AV", GOOD).expect(200);
        let cookie = sign_in(&world.av, "AV", GOOD).cookie;
        guess_five_times(&world.av, "AV");
        world.restart();
        assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 30);
        // The session goes on as well.
        Reply::of(world.av.with_token("").request("GET", "/members").header("cookie", cookie)).expect(200);
    }
}

#[test]
fn two_processes_count_the_same_guesses_and_know_the_same_sessions() {
    for database in [Database::Sqlite, Database::Postgres] {
        let world = World::begin(database);
        set_password(&world.av, "AV", GOOD).expect(200);
        let second = second_service(&world);
        let there = Caller::new(&second.url(), "");
        let page = sign_in(&world.av, "AV", GOOD);
        let session =
            |caller: &Caller| Reply::of(caller.request("GET", "/session").header("cookie", &page.cookie));
        session(&there).expect(200);
        page.send("DELETE", "/session", &json!({})).expect(204);
        session(&there).problem(401, "session_ended");
        for number in 0..5 {
            let caller = if number % 2 == 0 { &world.av } else { &there };
            try_in(caller, "AV", &format!("wrong guess {number}")).problem(401, "sign_in_wrong");
        }
        assert_eq!(wait_s(&try_in(&there, "AV", GOOD)), 30);
        assert_eq!(wait_s(&try_in(&world.av, "AV", GOOD)), 30);
    }
}

#[test]
fn a_token_taken_back_is_refused_by_the_very_next_request_of_every_process() {
    let world = World::begin(Database::Postgres);
    let second = second_service(&world);
    let made = json!({ "id": new_id(), "label": "phone", "scopes": ["read"] });
    let record = world.av.post("/tokens", &made).expect(201).json();
    let token = record["token"].as_str().unwrap();
    let (here, there) = (world.av.with_token(token), Caller::new(&second.url(), token));
    here.get("/members").expect(200);
    there.get("/members").expect(200);
    Reply::of(world.av.request("DELETE", &format!("/tokens/{}", record["id"].as_str().unwrap()))).expect(200);
    here.get("/members").problem(401, "token_revoked");
    there.get("/members").problem(401, "token_revoked");
}

on_both!(a_session_makes_tokens_but_none_for_what_others_did, |world| {
    set_password(&world.av, "AV", GOOD).expect(200);
    let page = sign_in(&world.av, "AV", GOOD);
    let wanted = |scopes: Value| json!({ "id": new_id(), "label": "phone", "scopes": scopes });
    let made =
        page.send("POST", "/tokens", &wanted(json!(["read", "write", "copy", "calendar"]))).expect(201);
    world.av.with_token(made.json()["token"].as_str().unwrap()).get("/members").expect(200);
    let refused = page.send("POST", "/tokens", &wanted(json!(["read", "history"]))).expect(422);
    assert_eq!(refused.wrong_field().0, "/scopes");
});
