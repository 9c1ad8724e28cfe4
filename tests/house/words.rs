//! Words that must not stand in code, documents or tables: words of official aviation paperwork, which would say
//! more than a club record may; words of other products; vague names for types.
//!
//! The words are put together from halves here, so that this file can be looked at like any other.

use crate::files::{File, expect_none, read};

/// A word in two halves, and what to say instead.
const WORDS: &[(&str, &str, &str)] = &[
    ("certif", "icate", "say `club release`"),
    ("airwor", "thiness", "say `may fly`"),
    ("log", "book", "say `record` or `history`"),
    ("technical ", "log", "say `record`"),
    ("squ", "awk", "say `defect`"),
    ("han", "gar", "say `shelf` or `bench`"),
    ("issue", " #", "restate the fact"),
    ("/wor", "k/", "no path of one machine"),
    ("fix", "me", "mend it or write down why it stays"),
    ("to", "do:", "mend it or write down why it stays"),
];

/// Where the first of the words means what a server shows when it encrypts, as the standard calls it.
const OF_ENCRYPTION: &[&str] = &[
    "api/src/tls.rs",
    "tests/api/encryption.rs",
    "tests/harness/cluster.rs",
    "tests/harness/http.rs",
    "tests/hostile/shielded.rs",
    "tests/hostile/target.rs",
];

/// Endings of type names that say nothing.
const VAGUE: &[&str] = &["Dto", "Manager", "Service", "Helper", "Util", "Utils"];

fn is_text(path: &str) -> bool {
    let ends = [".rs", ".md", ".sql", ".toml", ".csv", ".html", ".css", ".js", ".json"];
    (ends.iter().any(|end| path.ends_with(end)) || path.starts_with(".ci/") || path == "tests/run")
        && path != "LICENSE"
}

fn forbidden_words(file: &File) -> Vec<String> {
    let mut list = Vec::new();
    for (number, line) in (1..).zip(file.text.lines()) {
        let line = line.to_lowercase();
        for (one, two, instead) in WORDS {
            let word = format!("{one}{two}");
            let is_encryption = *one == WORDS[0].0 && OF_ENCRYPTION.contains(&file.path.as_str());
            if line.contains(&word) && !is_encryption {
                list.push(format!("{} line {number}: `{word}`: {instead}", file.path));
            }
        }
    }
    list
}

fn vague_types(file: &File) -> Vec<String> {
    let mut list = Vec::new();
    let words: Vec<&str> = file.text.split_whitespace().collect();
    for pair in words.windows(2) {
        if !["struct", "enum", "trait", "type"].contains(&pair[0]) {
            continue;
        }
        let name: String = pair[1].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        if VAGUE.iter().any(|ending| name.ends_with(ending)) {
            list.push(format!("{}: `{name}` says nothing: name what it holds", file.path));
        }
    }
    let stem = file.path.rsplit('/').next().unwrap().trim_end_matches(".rs");
    if ["util", "utils", "helper", "helpers", "misc", "common"].contains(&stem) {
        list.push(format!("{}: name the file after what lives in it", file.path));
    }
    list
}

#[test]
fn no_forbidden_word_stands_anywhere() {
    let broken: Vec<String> = read(is_text).iter().flat_map(forbidden_words).collect();
    expect_none(&broken);
}

#[test]
fn no_type_or_file_has_a_vague_name() {
    let broken: Vec<String> = read(|path| path.ends_with(".rs")).iter().flat_map(vague_types).collect();
    expect_none(&broken);
}

#[test]
fn a_forbidden_word_is_seen() {
    let text = format!("fine\nThe {}{} is here.", "Squ", "awk");
    let found = forbidden_words(&File { path: "x.md".to_owned(), text });
    assert_eq!(found.len(), 1);
    assert!(found[0].starts_with("x.md line 2"), "{found:?}");
}

#[test]
fn a_vague_name_is_seen() {
    let file = |path: &str, text: &str| File { path: path.to_owned(), text: text.to_owned() };
    assert_eq!(vague_types(&file("a.rs", &format!("pub {} FlightDto {{ x: u8 }}", "struct"))).len(), 1);
    assert_eq!(vague_types(&file("a.rs", &format!("pub {} FleetManager {{}}", "trait"))).len(), 1);
    assert_eq!(vague_types(&file("a/utils.rs", "")).len(), 1);
    assert!(vague_types(&file("a.rs", "fn set(c: &mut ServiceConfig) {}\nstruct Flight;")).is_empty());
}
