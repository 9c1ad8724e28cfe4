//! API8, how it is set up: what every answer tells browsers, which methods there are, that pages elsewhere read nothing,
//! and that no fault tells how the service is made.

use preen_api::server::{Config, start_shielded};
use preen_api::state::Clock;
use preen_api::tls::Shield;
use preen_tests::description::description;
use preen_tests::http::Caller;
use preen_tests::{Reply, on_both};
use serde_json::json;

fn check_headers(at: &str, reply: &Reply) {
    assert_eq!(reply.header("x-content-type-options"), Some("nosniff"), "{at}");
    assert!(reply.header("x-request-id").is_some(), "{at}");
    assert!(reply.header("referrer-policy").is_some(), "{at}");
    let policy = reply.header("content-security-policy").unwrap_or_else(|| panic!("{at}"));
    assert!(policy.contains("default-src 'none'") || policy.contains("default-src 'self'"), "{at}: {policy}");
    assert!(!policy.contains("unsafe-eval") && !policy.contains('*'), "{at}: {policy}");
    let kept = reply.header("cache-control").unwrap_or_else(|| panic!("{at}"));
    assert!(kept.contains("no-store") || kept.contains("no-cache"), "{at}: {kept}");
    for (name, value) in &reply.headers {
        assert!(
            !name.starts_with("access-control-") && name != "server" && name != "x-powered-by",
            "{at}: {name}: {value}"
        );
    }
}

on_both!(every_answer_says_what_browsers_may_do_with_it, |world| {
    world.small_fleet();
    let nobody = world.av.with_token("");
    for (path, item) in description()["paths"].as_object().unwrap() {
        for method in item.as_object().unwrap().keys() {
            if method == "delete" {
                continue;
            }
            let path = path.replace("{id}", "SG-01");
            for caller in [&world.av, &nobody] {
                let request =
                    caller.request(&method.to_uppercase(), &path).header("origin", "http://evil.example");
                check_headers(&format!("{method} {path}"), &Reply::of(request));
            }
        }
    }
    for path in ["/docs/", "/api/nothing", "/health/live"] {
        check_headers(path, &world.av.get(path));
    }
});

on_both!(pages_elsewhere_are_not_let_in_and_odd_methods_are_not_known, |world| {
    for path in ["/parts", "/session", "/members/AV", "/facts"] {
        let asked = world.av.request("OPTIONS", path).header("origin", "http://evil.example");
        let asked = asked
            .header("access-control-request-method", "POST")
            .header("access-control-request-headers", "authorization");
        let reply = Reply::of(asked);
        assert_eq!(reply.status, 405, "{path}: {}", reply.text);
        check_headers(path, &reply);
        for method in ["TRACE", "PATCH", "PROPFIND", "DEBUG", "TRACK", "LINK"] {
            let reply = Reply::of(world.av.request(method, path).header("x-secret", "come back"));
            reply.problem(405, "method_not_allowed");
            assert!(!reply.text.contains("come back"), "{method} {path}");
        }
    }
    // Asked for its head alone, an answer has no body and says no more.
    let head = world.av.request("HEAD", "/parts").send().unwrap();
    assert!(matches!(head.status().as_u16(), 200 | 405), "{}", head.status());
    assert!(head.bytes().unwrap().is_empty());
});

on_both!(no_fault_tells_how_the_service_is_made, |world| {
    world.small_fleet();
    let inside = [
        "panicked",
        ".rs:",
        "src/",
        "diesel",
        "sqlite",
        "SELECT ",
        "INSERT ",
        "postgres",
        "stack backtrace",
        "serde",
        "actix",
        "/home/",
        "/root/",
        "/dev/shm",
        "RUST_",
    ];
    let bodies = [
        "",
        "{",
        "[1,2",
        "{\"id\":1e999}",
        "{\"a\":{\"b\":[{}]}}",
        "\u{feff}{}",
        "{\"id\":\"'; DROP TABLE members; --\"}",
    ];
    for (path, item) in description()["paths"].as_object().unwrap() {
        for method in item.as_object().unwrap().keys() {
            for (name, body) in
                ["'", "%27%20OR%201=1--", "a'b\"c", "%00"].iter().zip(bodies.iter().cycle().skip(path.len()))
            {
                let path = format!("{}?as_of={name}&limit={name}", path.replace("{id}", name));
                let request = world.av.request(&method.to_uppercase(), &path);
                let reply =
                    Reply::of(request.header("content-type", "application/json").body((*body).to_owned()));
                assert!(reply.status < 500, "{method} {path}: {}", reply.text);
                if reply.status >= 400 {
                    let told = inside.iter().find(|word| reply.text.contains(**word));
                    assert!(told.is_none(), "{method} {path} tells {told:?}: {}", reply.text);
                }
            }
        }
    }
});

#[test]
fn whoever_came_by_https_stays_there() {
    let folder = preen_tests::world::scratch("preen-hsts");
    let config = Config {
        place: preen_api::db::conn::Place::File(folder.join("preen.db")),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::System,
        photos: Some(preen_api::photos::place::PhotoPlace::Folder(folder.join("photos"))),
        workers: Some(1),
        replica: None,
    };
    for is_behind_proxy in [false, true] {
        let running = start_shielded(&config, &Shield { tls: None, is_behind_proxy }).unwrap();
        let caller = Caller::new(&running.url(), "");
        for reply in [caller.get("/health/live"), caller.get("/members"), caller.post("/session", &json!({}))]
        {
            let said = reply.header("strict-transport-security");
            assert_eq!(said, is_behind_proxy.then_some("max-age=31536000"), "{}", reply.text);
        }
        drop(running);
    }
    std::fs::remove_dir_all(folder).unwrap();
}
