//! Rooms and doors: which room of the code may reach for what.

use crate::{
    files::{File, expect_none, read, rust, top},
    paths::reaches,
};

/// A room, which files lie in it, and what none of them may reach for.
struct Room {
    name: &'static str,
    holds: fn(&str) -> bool,
    never: &'static [&'static str],
}

const ROOMS: &[Room] = &[
    Room {
        name: "the domain is pure",
        holds: |path| path.starts_with("api/domain/src/"),
        never: &[
            "actix_web",
            "tokio",
            "reqwest",
            "diesel",
            "rand",
            "getrandom",
            "std::fs",
            "std::env",
            "std::net",
            "std::io",
            "std::process",
            "std::thread",
            "std::time",
            "SystemTime::now",
            "Utc::now",
            "Local::now",
            "chrono::Local",
            "Uuid::now_v7",
            "Uuid::new_v4",
        ],
    },
    Room {
        name: "facts know no one who uses them",
        holds: |path| path.starts_with("api/domain/src/facts/"),
        never: &["crate::fleet", "crate::rules", "crate::answers"],
    },
    Room {
        name: "formulas know nothing of a fleet",
        holds: |path| path.starts_with("api/domain/src/formulas/"),
        never: &["crate::fleet", "crate::facts", "crate::rules", "crate::answers", "crate::ids"],
    },
    Room {
        name: "the Fleet gives no verdicts",
        holds: |path| path.starts_with("api/domain/src/fleet/"),
        never: &["crate::rules", "crate::answers"],
    },
    Room {
        name: "rules ask no answers",
        holds: |path| path.starts_with("api/domain/src/rules/"),
        never: &["crate::answers"],
    },
    Room {
        name: "storage and the trail know neither nouns nor HTTP",
        holds: |path| path.starts_with("api/src/db/") || path.starts_with("api/src/audit/"),
        never: &[
            "actix_web",
            "crate::resources",
            "crate::answers",
            "crate::exchange",
            "crate::demo",
            "reqwest",
        ],
    },
    Room {
        name: "access knows no slice",
        holds: |path| path.starts_with("api/src/access/"),
        never: &["crate::resources", "crate::answers", "crate::exchange", "crate::demo"],
    },
    Room {
        name: "a store speaks to the database only",
        holds: |path| path.starts_with("api/src/resources/") && path.ends_with("/store.rs"),
        never: &["actix_web", "crate::problem", "crate::answers", "reqwest"],
    },
    Room {
        name: "HTTP only translates",
        holds: |path| {
            (path.starts_with("api/src/resources/") && path.ends_with("/http.rs"))
                || path.starts_with("api/src/answers/")
        },
        never: &["diesel", "reqwest"],
    },
    Room {
        name: "pages, sheets and file formats have no SQL of their own",
        holds: |path| {
            ["api/src/web/", "api/src/sheets/", "api/src/exchange/"].iter().any(|room| path.starts_with(room))
        },
        never: &["diesel", "crate::db", "reqwest"],
    },
    Room {
        name: "the demonstration takes no short cut past REST",
        holds: |path| path.starts_with("api/src/demo/"),
        never: &[
            "diesel",
            "crate::db::door::Door",
            "crate::db::door::Change",
            "crate::answers",
            "preen_domain::fleet",
            "preen_domain::answers",
        ],
    },
    Room {
        name: "the command line knows the service by REST only",
        holds: |path| path.starts_with("cli/src/"),
        never: &["preen_api", "diesel", "actix_web"],
    },
    Room {
        name: "one file of the command line speaks HTTP",
        holds: |path| path.starts_with("cli/src/") && !path.starts_with("cli/src/client/"),
        never: &["reqwest"],
    },
    Room {
        name: "the slow evaluator shares nothing with what it judges",
        holds: |path| path.starts_with("tests/laws/slow/"),
        never: &[
            "preen_domain::fleet",
            "preen_domain::answers",
            "preen_domain::rules",
            "preen_domain::formulas",
            "preen_api",
        ],
    },
];

fn complaints(room: &Room, files: &[File]) -> Vec<String> {
    let inside = files.iter().filter(|file| (room.holds)(&file.path));
    inside
        .flat_map(|file| {
            let reached = room.never.iter().filter(|path| reaches(&file.text, path));
            reached.map(|path| format!("{} reaches for {path}: {}", file.path, room.name))
        })
        .collect()
}

#[test]
fn every_room_keeps_its_doors() {
    let files = rust();
    let broken: Vec<String> = ROOMS.iter().flat_map(|room| complaints(room, &files)).collect();
    expect_none(&broken);
}

#[test]
fn no_room_is_empty() {
    let files = rust();
    for room in ROOMS {
        assert!(files.iter().any(|file| (room.holds)(&file.path)), "no file in: {}", room.name);
    }
}

#[test]
fn a_wrong_door_is_seen() {
    let wrong = |path: &str, text: &str| {
        let file = File { path: path.to_owned(), text: text.to_owned() };
        ROOMS.iter().flat_map(|room| complaints(room, std::slice::from_ref(&file))).count()
    };
    assert_eq!(wrong("api/domain/src/answers/due.rs", "use std::{fs, time::SystemTime};"), 2);
    assert_eq!(wrong("api/domain/src/answers/due.rs", "let now = Utc::now();"), 1);
    assert_eq!(wrong("api/domain/src/formulas/balance.rs", "use crate::{fleet::Fleet, words::State};"), 1);
    assert_eq!(wrong("api/src/resources/flights/http.rs", "use diesel::prelude::*;"), 1);
    assert_eq!(wrong("api/src/resources/flights/store.rs", "use diesel::prelude::*;"), 0);
    assert_eq!(wrong("cli/src/commands/due.rs", "reqwest::Client::new()"), 1);
    assert_eq!(wrong("cli/src/client/mod.rs", "reqwest::Client::new()"), 0);
}

/// Names of the dependencies in one section of a manifest.
fn dependencies(manifest: &str, section: &str) -> Vec<String> {
    let mut inside = false;
    let mut list = Vec::new();
    for line in manifest.lines().map(str::trim) {
        if line.starts_with('[') {
            inside = line == section;
        } else if inside && let Some((name, _)) = line.split_once(['=', '.']) {
            list.push(name.trim().to_owned());
        }
    }
    list
}

#[test]
fn manifests_name_no_forbidden_neighbour() {
    let manifest = |path: &str| std::fs::read_to_string(top().join(path)).unwrap();
    let domain = dependencies(&manifest("api/domain/Cargo.toml"), "[dependencies]");
    let pure = [
        "chrono",
        "chrono-tz",
        "ecow",
        "either",
        "nalgebra",
        "immutable-chunkmap",
        "serde",
        "serde_bytes",
        "serde_json",
        "statrs",
        "thiserror",
        "utoipa",
        "uuid",
    ];
    let foreign: Vec<&String> = domain.iter().filter(|name| !pure.contains(&name.as_str())).collect();
    assert!(
        foreign.is_empty(),
        "the domain depends on {foreign:?}: is it pure, without clock, files, network?"
    );
    let cli = dependencies(&manifest("cli/Cargo.toml"), "[dependencies]");
    let foreign: Vec<&String> =
        cli.iter().filter(|name| ["preen-api", "diesel", "actix-web"].contains(&name.as_str())).collect();
    assert!(foreign.is_empty(), "the command line depends on {foreign:?}");
}

#[test]
fn a_manifest_is_read_by_section() {
    let text = "[dependencies]\nserde.workspace = true\nrand = \"1\"\n[dev-dependencies]\ntokio = \"1\"\n";
    assert_eq!(dependencies(text, "[dependencies]"), ["serde", "rand"]);
}

#[test]
fn clocks_and_settings_have_one_home() {
    let homes = [
        ("SystemTime::now", "api/src/state.rs"),
        ("Utc::now", "api/src/state.rs"),
        ("std::env::var", "api/src/config.rs"),
    ];
    for (what, home) in homes {
        let users = read(|path| path.starts_with("api/src/") && path.ends_with(".rs") && path != home);
        let broken: Vec<String> = users
            .iter()
            .filter(|file| reaches(&file.text, what))
            .map(|file| format!("{} reaches for {what}, whose home is {home}", file.path))
            .collect();
        expect_none(&broken);
    }
}
