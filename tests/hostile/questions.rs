//! Questions without end: parameters by the million, names that lead elsewhere, headers that ask for pieces or claim to
//! come from somebody else.

use std::time::Instant;

use preen_tests::Reply;
use serde_json::json;

use crate::target::{AT_ONCE, SLACK, Target};
use crate::wire::Wire;

fn asked(token: &str, target: &str, more: &str) -> Vec<u8> {
    format!("GET {target} HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\n{more}\r\n").into_bytes()
}

/// All of them.
pub fn odd() -> String {
    let target = Target::begin();
    parameters(&target);
    names(&target);
    pieces(&target);
    claims(&target);
    target.end()
}

fn parameters(target: &Target) {
    let token = &target.caller.token;
    let million = format!("/api/v1/parts?{}", "a=1&".repeat(1_000_000));
    let heard = Wire::ask(target.address, &asked(token, &million, ""), AT_ONCE + SLACK);
    assert!(
        heard.is_closed && heard.status().is_none_or(|status| matches!(status, 400 | 431)),
        "{}",
        heard.text()
    );
    let ids = (0..10_000).map(|number| format!("S{number:x}")).collect::<Vec<_>>().join(",");
    for path in [
        format!("/api/v1/parts?{}", "limit=5&".repeat(7_000)),
        format!("/api/v1/parts?cursor={}", "z".repeat(50_000)),
        format!("/api/v1/may-fly?{}", "as_of=2026-05-21&".repeat(3_000)),
        format!("/api/v1/campaigns/CA-1/progress?models={ids}"),
        format!("/api/v1/models?tag={ids}"),
        format!("/api/v1/members?x={}", "%00".repeat(10_000)),
        format!("/api/v1/members?{}", "%ff=%c0%80&".repeat(4_000)),
        format!("/api/v1/models/SG-01/ballast?target_mass_g=1200&cells={}", "62:5,".repeat(10_000)),
        "/api/v1/models/SG-01/ballast?target_mass_g=1e308&mass_tolerance_g=1e308&cells=62:4000000000"
            .to_owned(),
        "/api/v1/facts?since=99999999999999999999".to_owned(),
        "/api/v1/may-fly?at_revision=-9223372036854775808".to_owned(),
        "/api/v1/may-fly?as_of=+999999-12-31T23:59:59Z".to_owned(),
    ] {
        let began = Instant::now();
        let heard = Wire::ask(target.address, &asked(token, &path, "Connection: close\r\n"), AT_ONCE + SLACK);
        let start: String = path.chars().take(60).collect();
        let status = heard.status().unwrap_or_default();
        assert!((200..500).contains(&status), "{start}: {}", heard.text());
        assert!(began.elapsed() < AT_ONCE, "{start}: {:?}", began.elapsed());
        assert!(status < 400 || heard.code().is_some(), "{start}: {}", heard.text());
        target.is_well();
    }
}

/// Names that would lead out of a folder, and what else no tag is.
fn names(target: &Target) {
    let token = &target.caller.token;
    let ways = [
        "../../../../etc/passwd",
        "..%2f..%2f..%2fetc%2fpasswd",
        "%2e%2e/%2e%2e/etc/passwd",
        "..%5c..%5cboot.ini",
        "....//....//etc/passwd",
        "%00",
        "preen.db%00.png",
        "/etc/passwd",
        "%252e%252e%252f",
        "..;/",
        "~root",
        "a%0d%0aSet-Cookie:x=1",
        "'%20OR%20'1'='1",
        "$%7Bjndi:ldap://example.invalid%7D",
        "%c0%ae%c0%ae/",
        "con",
        "{id}",
        "*",
    ];
    for start in
        ["/api/v1/models/", "/api/v1/photos/", "/api/v1/photos/x/", "/docs/", "/assets/", "/models/", "/"]
    {
        for way in ways {
            let path = format!("{start}{way}");
            let heard = Wire::ask(target.address, &asked(token, &path, "Connection: close\r\n"), AT_ONCE);
            let status = heard.status().unwrap_or_default();
            assert!(matches!(status, 301..=308 | 400 | 401 | 404 | 405), "{path}: {status} {}", heard.text());
            let text = heard.text();
            assert!(!text.contains("root:") && !text.contains("SQLite format"), "{path}: {text}");
            assert!(!text.to_lowercase().contains("\nset-cookie: x=1"), "{path}: {text}");
            assert!(
                !text.contains("\nlocation: http://") && !text.contains("\nlocation: //"),
                "{path}: {text}"
            );
        }
    }
    // The same as tags of new items.
    for tag in ["../x", "a/b", "a\\b", "..", ".", "a\u{0}b", "a\u{202e}b", "<script>", "=1+1"] {
        let body =
            json!({ "id": preen_tests::world::new_id(), "tag": tag, "kind": "servo", "tracking": "serial" });
        let reply = target.caller.post("/parts", &body);
        assert_eq!(reply.status, 422, "{tag:?}: {}", reply.text);
    }
    target.is_well();
}

/// Pieces of an answer, many and over each other: no answer is made of pieces, the whole comes once.
fn pieces(target: &Target) {
    let whole = target.caller.get("/openapi.json").expect(200).bytes.len();
    let many = (0..1300).map(|_| "0-").collect::<Vec<_>>().join(",");
    for range in [
        "bytes=0-",
        "bytes=5-1",
        "bytes=-1",
        "bytes=0-0,0-0",
        "bytes=99999999999999999999-",
        &format!("bytes={many}"),
        "lines=1",
    ] {
        for path in ["/openapi.json", "/api/v1/parts", "/docs/swagger-ui.css"] {
            let reply = target.caller.request("GET", path).header("range", range).send().unwrap();
            assert!(
                matches!(reply.status().as_u16(), 200 | 206 | 416),
                "{range} of {path}: {}",
                reply.status()
            );
            assert!(reply.bytes().unwrap().len() <= whole.max(2 << 20), "{range} of {path}");
        }
    }
    for name in [
        "if-match",
        "if-none-match",
        "if-modified-since",
        "accept",
        "accept-language",
        "accept-encoding",
        "origin",
        "cookie",
    ] {
        let value = "\"x\", *;q=0.0000001, ".repeat(3_000);
        let reply = target.caller.request("GET", "/parts").header(name, value).send().unwrap();
        assert!(reply.status().as_u16() < 500, "{name}: {}", reply.status());
    }
    target.is_well();
}

/// Who says to be somebody else, or to have asked another host.
fn claims(target: &Target) {
    let nobody = target.caller.with_token("");
    let wrong = json!({ "club": "quillmarsh", "member": "AV", "password": "a guess of it" });
    // Every guess from another address, so it says: they are counted together all the same.
    let told: Vec<u16> = (0..12)
        .map(|number| {
            let request = nobody.request("POST", "/session").json(&wrong);
            let request = request.header("x-forwarded-for", format!("203.0.113.{number}"));
            let request = request
                .header("forwarded", format!("for=203.0.113.{number}"))
                .header("x-real-ip", "203.0.113.9");
            Reply::of(request).status
        })
        .collect();
    assert!(told.contains(&429), "guesses were not counted together: {told:?}");
    for (name, value) in [
        ("host", "evil.example"),
        ("x-forwarded-host", "evil.example"),
        ("x-original-url", "/api/v1/members"),
        ("x-rewrite-url", "/api/v1/members"),
        ("forwarded", "host=evil.example;proto=https"),
        ("x-forwarded-proto", "https"),
        ("x-forwarded-prefix", "//evil.example"),
        ("x-custom-ip-authorization", "127.0.0.1"),
        ("x-forwarded-user", "AV"),
    ] {
        let reply = Reply::of(nobody.request("GET", "/members").header(name, value));
        reply.problem(401, "token_missing");
        assert!(
            reply.headers.iter().all(|(_, value)| !value.contains("evil.example")),
            "{name}: {:?}",
            reply.headers
        );
        assert!(reply.header("access-control-allow-origin").is_none());
    }
    target.is_well();
}
