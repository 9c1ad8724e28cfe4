//! Files that must be there and files that must not: the top folder, tool settings, migrations, what the
//! documents point at.

use std::collections::BTreeSet;
use std::os::unix::fs::PermissionsExt;

use crate::files::{NOT_OURS, all_paths, expect_none, top};

/// Everything that lies in the top folder, and nothing else does.
const TOP: &[&str] = &[
    ".cargo",
    ".ci",
    ".clippy.toml",
    ".deny.toml",
    ".gitattributes",
    ".gitignore",
    ".rustfmt.toml",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "api",
    "cli",
    "migrations",
    "openapi",
    "tests",
];

fn forgotten(found: &BTreeSet<String>) -> Vec<String> {
    let known: BTreeSet<String> = TOP.iter().map(|name| (*name).to_owned()).collect();
    let too_many = found.difference(&known).map(|name| format!("`{name}` does not belong in the top folder"));
    let missing = known.difference(found).map(|name| format!("`{name}` is missing in the top folder"));
    too_many.chain(missing).collect()
}

#[test]
fn nothing_lies_about_in_the_top_folder() {
    let found =
        std::fs::read_dir(top()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let is_ours = |name: &String| !NOT_OURS.contains(&name.as_str()) && !name.contains(".db");
    expect_none(&forgotten(&found.filter(is_ours).collect()));
}

#[test]
fn a_forgotten_file_is_seen() {
    let mut found: BTreeSet<String> = TOP.iter().map(|name| (*name).to_owned()).collect();
    assert!(forgotten(&found).is_empty());
    found.insert("notes.txt".to_owned());
    found.remove("LICENSE");
    assert_eq!(forgotten(&found).len(), 2);
}

#[test]
fn no_scrap_lies_anywhere() {
    let ends = [".orig", ".rej", ".bak", ".tmp", ".swp", ".log", "~", ".snap.new", ".proptest-regressions"];
    let scrap: Vec<String> =
        all_paths().into_iter().filter(|path| ends.iter().any(|end| path.ends_with(end))).collect();
    expect_none(&scrap);
}

/// Every Rust file is named by a `mod` or a manifest; one that is not would never be compiled.
fn uncompiled(paths: &[String], read: impl Fn(&str) -> String) -> Vec<String> {
    let mut list = Vec::new();
    for path in paths.iter().filter(|path| path.ends_with(".rs")) {
        let (folder, name) = path.rsplit_once('/').unwrap();
        let stem = name.trim_end_matches(".rs");
        if ["main", "lib", "build"].contains(&stem) {
            continue;
        }
        let (home, module) = if stem == "mod" { folder.rsplit_once('/').unwrap() } else { (folder, stem) };
        let parents = [
            format!("{home}/mod.rs"),
            format!("{home}/lib.rs"),
            format!("{home}/main.rs"),
            format!("{home}.rs"),
        ];
        let names_it = |parent: &&String| {
            paths.contains(parent) && read(parent).split_whitespace().any(|word| word == format!("{module};"))
        };
        if !parents.iter().any(|parent| names_it(&parent)) {
            list.push(format!("{path} is compiled by nobody"));
        }
    }
    list
}

#[test]
fn every_rust_file_is_compiled() {
    let read = |path: &str| std::fs::read_to_string(top().join(path)).unwrap();
    expect_none(&uncompiled(&all_paths(), read));
}

#[test]
fn a_file_that_nobody_compiles_is_seen() {
    let paths =
        ["a/src/lib.rs", "a/src/used.rs", "a/src/left.rs", "a/src/deep/mod.rs"].map(ToOwned::to_owned);
    let read = |_: &str| "mod deep;\npub mod used;\n// mod left".to_owned();
    assert_eq!(uncompiled(&paths, read), ["a/src/left.rs is compiled by nobody"]);
}

/// Names of the migrations of one database; each folder holds `up.sql` and `down.sql`.
fn migrations(paths: &[String], database: &str) -> BTreeSet<String> {
    let prefix = format!("migrations/{database}/");
    paths.iter().filter_map(|path| path.strip_prefix(&prefix)).map(ToOwned::to_owned).collect()
}

#[test]
fn both_databases_have_the_same_migrations() {
    let paths = all_paths();
    let (sqlite, postgres) = (migrations(&paths, "sqlite"), migrations(&paths, "postgres"));
    assert!(!sqlite.is_empty());
    assert_eq!(sqlite, postgres);
    let names: BTreeSet<&str> = sqlite.iter().map(|path| path.split('/').next().unwrap()).collect();
    for name in names {
        for half in ["up.sql", "down.sql"] {
            assert!(sqlite.contains(&format!("{name}/{half}")), "{name} has no {half}");
        }
    }
}

/// What a document points at: links to files, and paths in backticks that begin with a folder of ours.
fn pointers(document: &str) -> Vec<String> {
    let links = document.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let quoted = document.split('`').skip(1).step_by(2);
    let ours = |path: &&str| {
        ["api/", "cli/", "migrations/", "openapi/", "tests/", ".ci/"].iter().any(|top| path.starts_with(top))
    };
    links
        .filter(|link| !link.contains("://") && !link.starts_with('#'))
        .chain(quoted.filter(ours))
        .filter(|path| !path.contains(['<', '{', '*', ' ', '…']))
        .map(|path| path.trim_end_matches('/').to_owned())
        .collect()
}

/// Commands in the `sh` blocks of a document, without comments.
fn commands(document: &str) -> Vec<String> {
    let blocks = document.split("```sh\n").skip(1).filter_map(|rest| rest.split("```").next());
    blocks
        .flat_map(str::lines)
        .map(|line| line.split('#').next().unwrap().trim().to_owned())
        .filter(|line| !line.is_empty())
        .collect()
}

/// Why a command of a document cannot be right.
fn wrong_command(command: &str, exists: &impl Fn(&str) -> bool) -> Option<String> {
    let words: Vec<&str> = command.split_whitespace().collect();
    let program = *words.first()?;
    let binaries = ["preen", "preen-server"];
    let is_right = match program {
        "cargo" => match words.iter().position(|word| *word == "--bin") {
            Some(at) => words.get(at + 1).is_some_and(|name| binaries.contains(name)),
            None => words.get(1).is_some_and(|verb| ["build", "test", "doc", "fmt", "clippy"].contains(verb)),
        },
        "curl" | "." | "export" | "cd" | "git" => true,
        _ => match program.rsplit_once('/') {
            Some((folder, name)) if folder.starts_with("target/") => binaries.contains(&name),
            _ => exists(program) || binaries.contains(&program),
        },
    };
    (!is_right).then(|| format!("`{command}`: there is no such program"))
}

#[test]
fn documents_point_at_what_is_there() {
    let mut broken = Vec::new();
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = std::fs::read_to_string(top().join(name)).unwrap();
        let missing = pointers(&text).into_iter().filter(|path| !top().join(path).exists());
        broken.extend(missing.map(|path| format!("{name} points at {path}, which is not there")));
        let exists = |program: &str| {
            std::fs::metadata(top().join(program)).is_ok_and(|file| file.permissions().mode() & 0o111 != 0)
        };
        broken.extend(commands(&text).iter().filter_map(|command| wrong_command(command, &exists)));
    }
    expect_none(&broken);
}

#[test]
fn the_readme_shows_commands() {
    let text = std::fs::read_to_string(top().join("README.md")).unwrap();
    let commands = commands(&text);
    assert!(commands.iter().any(|command| command == "cargo run --bin preen-server -- demo"), "{commands:?}");
    assert!(commands.iter().any(|command| command == "tests/run"), "{commands:?}");
}

#[test]
fn a_document_that_points_nowhere_is_seen() {
    let text = "See [x](api/src/none.rs), `tests/none` and `api/<noun>`.\n```sh\ncargo run --bin prune # no\n./gone\n```\n";
    assert_eq!(pointers(text), ["api/src/none.rs", "tests/none"]);
    assert_eq!(commands(text), ["cargo run --bin prune", "./gone"]);
    assert_eq!(commands(text).iter().filter_map(|c| wrong_command(c, &|_| false)).count(), 2);
    assert_eq!(wrong_command("cargo run --bin preen -- due", &|_| false), None);
    assert_eq!(wrong_command("tests/run", &|path| path == "tests/run"), None);
}

#[test]
fn scripts_are_strict_and_executable() {
    let scripts = all_paths().into_iter().filter(|path| path.starts_with(".ci/") || path == "tests/run");
    let mut count = 0;
    for path in scripts {
        count += 1;
        let file = top().join(&path);
        assert!(
            std::fs::metadata(&file).unwrap().permissions().mode() & 0o111 != 0,
            "{path} is not executable"
        );
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.starts_with("#!/usr/bin/env bash\n# "), "{path} does not say what it does");
        assert!(text.contains("\nset -euo pipefail\n"), "{path} goes on after a failure");
    }
    assert!(count >= 2, "no scripts found");
}
