//! Every key of every table begins with the club, so that tables can be split by club and every row found in one part.

use std::path::{Path, PathBuf};

/// What is unique among all clubs; a table in parts only looks for it.
const AMONG_ALL: [(&str, &str); 1] = [("clubs", "uuid TEXT NOT NULL UNIQUE")];

fn migrations() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    let of =
        |database: &str| std::fs::read_dir(root.join(database)).unwrap().map(|entry| entry.unwrap().path());
    of("sqlite").chain(of("postgres")).map(|folder| folder.join("up.sql")).collect()
}

/// What a migration says that is a key without a club at its head.
fn keys_without_club(sql: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut table = String::new();
    for line in sql.lines().map(str::trim) {
        let word = |number: usize| line.split([' ', '(']).filter(|word| !word.is_empty()).nth(number);
        if line.starts_with("CREATE TABLE") {
            table = word(2).unwrap_or_default().to_owned();
        }
        if table == "clubs" && line.starts_with("id TEXT NOT NULL PRIMARY KEY") {
            continue;
        }
        let is_key =
            ["PRIMARY KEY", "UNIQUE", "FOREIGN KEY", "REFERENCES"].iter().any(|key| line.contains(key));
        let is_of_club = line.starts_with("club_id TEXT NOT NULL REFERENCES clubs (id)")
            || ["PRIMARY KEY (club_id", "UNIQUE (club_id", "FOREIGN KEY (club_id, "]
                .iter()
                .any(|key| line.starts_with(key))
            || (line.starts_with("CREATE UNIQUE INDEX") && line.contains(" (club_id, "));
        let is_named = AMONG_ALL.iter().any(|(of, said)| *of == table && line.trim_end_matches(',') == *said);
        if is_key && !is_of_club && !is_named && !line.starts_with("--") {
            found.push(format!("{table}: {line}"));
        }
    }
    found
}

#[test]
fn every_key_begins_with_the_club() {
    let found: Vec<String> = migrations()
        .iter()
        .flat_map(|file| {
            keys_without_club(&std::fs::read_to_string(file).unwrap())
                .into_iter()
                .map(|said| format!("{}: {said}", file.display()))
                .collect::<Vec<_>>()
        })
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_key_without_a_club_is_seen() {
    let table = |line: &str| format!("CREATE TABLE flights (\n    club_id TEXT NOT NULL,\n    {line}\n);");
    for bad in [
        "PRIMARY KEY (id, club_id)",
        "UNIQUE (tag)",
        "FOREIGN KEY (model) REFERENCES names (id)",
        "model TEXT REFERENCES names (id),",
        "id TEXT NOT NULL PRIMARY KEY,",
    ] {
        assert_eq!(keys_without_club(&table(bad)).len(), 1, "{bad}");
    }
    assert_eq!(keys_without_club("CREATE UNIQUE INDEX a ON flights (tag);").len(), 1);
    assert_eq!(keys_without_club(&table("PRIMARY KEY (club_id, id)")), Vec::<String>::new());
}
