//! Shapes of the interface: the description knows each by its bare name, so no two may share one.

use std::collections::BTreeMap;

use crate::files::{File, expect_none, rust};

/// Names of the shapes that a file describes: types that derive a schema, and lists of words.
fn described(file: &File) -> Vec<String> {
    let mut list = Vec::new();
    let (mut is_shape, mut is_list) = (false, false);
    for line in file.text.lines().map(str::trim) {
        is_shape |= line.starts_with("#[derive(") && line.contains("ToSchema");
        is_list |= line.starts_with("text_enum! {");
        let words: Vec<&str> = line.split([' ', '<', '(', '{', ';']).collect();
        if let ["pub", "struct" | "enum", name, ..] = words.as_slice() {
            // A macro's shape has its name from where it is called.
            if is_shape && !name.starts_with('$') {
                list.push((*name).to_owned());
            }
            is_shape = false;
        } else if is_list && line.starts_with(char::is_uppercase) {
            list.extend(words.first().map(|name| (*name).to_owned()));
            is_list = false;
        }
    }
    list
}

/// Shapes that share a name: the description would tell one of them by the fields of the other.
fn doubled(files: &[File]) -> Vec<String> {
    let mut places: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for file in files {
        for name in described(file) {
            places.entry(name).or_default().push(&file.path);
        }
    }
    let shared = places.into_iter().filter(|(_, places)| places.len() > 1);
    shared.map(|(name, places)| format!("`{name}` is described in {}", places.join(" and in "))).collect()
}

#[test]
fn no_two_shapes_share_a_name() {
    let files: Vec<File> = rust().into_iter().filter(|file| file.path.starts_with("api/")).collect();
    let all: Vec<String> = files.iter().flat_map(described).collect();
    for known in ["Repair", "SetUp", "Severity"] {
        assert!(all.iter().any(|name| name == known), "{known} is not seen as a shape");
    }
    expect_none(&doubled(&files));
}

#[test]
fn a_shared_name_is_seen() {
    let file = |path: &str, text: &str| File { path: path.to_owned(), text: text.to_owned() };
    let shape = file("api/a.rs", "#[derive(Clone, ToSchema)]\n#[serde(x)]\npub struct Wear {\n}");
    let list = file("api/b.rs", "text_enum! {\n    /// Words.\n    Wear { New = \"new\" }\n}");
    let other = file("api/c.rs", "#[derive(Clone)]\npub struct Wear;");
    assert_eq!(doubled(&[shape, list, other]), ["`Wear` is described in api/a.rs and in api/b.rs"]);
}
