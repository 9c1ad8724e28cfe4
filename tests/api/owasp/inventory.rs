//! API9, what there is: every route in the code is in the interface description or a page for people, nothing older or
//! hidden is served beside them, and what is described is there.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use preen_tests::description::description;
use preen_tests::{Database, World};

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

/// Paths of the routes that stand in the code, as `(file, method, path)`; those of nouns are made by one macro and are
/// held by the table of access.
fn routes() -> Vec<(String, String, String)> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("../api/src");
    let mut files = Vec::new();
    sources(&top, &mut files);
    let mut found = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let name = file.strip_prefix(&top).unwrap().display().to_string();
        for method in ["get", "post", "put", "delete", "patch", "head"] {
            for (at, start) in text.match_indices(&format!("#[{method}(\"")) {
                let path = text[at + start.len()..].split('"').next().unwrap();
                found.push((name.clone(), method.to_owned(), path.to_owned()));
            }
        }
    }
    found
}

#[test]
fn every_route_in_the_code_is_described_or_a_page() {
    let paths = description()["paths"].as_object().unwrap();
    let (mut described, mut pages) = (0, 0);
    let shape = |path: &str| -> String {
        path.split('/')
            .map(|part| if part.starts_with('{') { "{}" } else { part })
            .collect::<Vec<_>>()
            .join("/")
    };
    let known: BTreeSet<(String, String)> = paths
        .iter()
        .flat_map(|(path, item)| {
            item.as_object().unwrap().keys().map(move |method| (method.clone(), shape(path)))
        })
        .collect();
    for (file, method, path) in routes() {
        if file.starts_with("web/") {
            assert!(!path.starts_with("/api"), "{file}: {path} is a page in the place of the interface");
            pages += 1;
            continue;
        }
        let is_known = [format!("/api/v1{path}"), path.clone()]
            .iter()
            .any(|path| known.contains(&(method.clone(), shape(path))));
        assert!(is_known, "{file}: {method} {path} is served and not described");
        described += 1;
    }
    assert!(described > 60 && pages > 30, "{described} {pages}");
}

#[test]
fn nothing_else_is_served() {
    let world = World::begin(Database::Sqlite);
    for path in [
        "/api",
        "/api/",
        "/api/v0/members",
        "/api/v2/members",
        "/api/members",
        "/api/v1",
        "/api/v1/",
        "/api/v1/admin",
        "/api/v1/debug",
        "/api/v1/members/",
        "/api/v1//members",
        "/API/V1/members",
        "/admin",
        "/.env",
        "/.git/config",
        "/graphql",
        "/actuator/env",
        "/server-status",
        "/debug/pprof/",
        "/swagger.json",
        "/v1/members",
        "/internal",
        "/backup",
        "/preen.db",
        "/phpinfo.php",
        "/robots.txt.bak",
        "/wp-login.php",
        "/console",
        "/trace",
        "/dump",
        "/env",
        "/config",
    ] {
        let reply = world.av.get(path);
        assert!(matches!(reply.status, 404 | 405), "{path}: {} {}", reply.status, reply.text);
        world
            .av
            .with_token("")
            .get(path)
            .problem(reply.status, if reply.status == 404 { "no_such_path" } else { "method_not_allowed" });
    }
    // What is described is there: nobody is told that it is not.
    for (path, item) in description()["paths"].as_object().unwrap() {
        for method in item.as_object().unwrap().keys() {
            let request = world.av.with_token("").request(&method.to_uppercase(), &path.replace("{id}", "x"));
            let reply = preen_tests::Reply::of(request);
            assert!(
                !reply.text.contains("no_such_path") && reply.status != 405,
                "{method} {path}: {}",
                reply.text
            );
        }
    }
}
