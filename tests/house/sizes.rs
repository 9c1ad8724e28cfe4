//! Lengths of files: a listing is the index of the code only while each file holds one thing.

use crate::files::{File, expect_none, rust};

/// No file is longer, in lines.
const LONGEST: usize = 600;

/// Files that may be longer, and why.
const EXCEPTIONS: &[(&str, &str)] = &[];

/// Half of the files are not longer than this, in lines.
const MEDIAN: usize = 130;

fn too_long(file: &File) -> Option<String> {
    let lines = file.text.lines().count();
    let is_excused = EXCEPTIONS.iter().any(|(path, _)| *path == file.path);
    (lines > LONGEST && !is_excused)
        .then(|| format!("{} has {lines} lines, more than {LONGEST}: split it by what it holds", file.path))
}

#[test]
fn no_file_is_too_long() {
    expect_none(&rust().iter().filter_map(too_long).collect::<Vec<_>>());
}

#[test]
fn the_median_file_is_short() {
    let mut lines: Vec<usize> = rust().iter().map(|file| file.text.lines().count()).collect();
    lines.sort_unstable();
    let median = lines[lines.len() / 2];
    println!("{} files, median {median} lines, longest {}", lines.len(), lines[lines.len() - 1]);
    assert!(median <= MEDIAN, "half of the files have more than {median} lines");
}

#[test]
fn exceptions_are_still_needed() {
    let files = rust();
    for (path, _) in EXCEPTIONS {
        let file = files.iter().find(|file| file.path == *path);
        assert!(file.is_some_and(|file| file.text.lines().count() > LONGEST), "{path} needs no exception");
    }
}

#[test]
fn a_long_file_is_seen() {
    let file = |lines: usize| File { path: "a.rs".to_owned(), text: "x\n".repeat(lines) };
    assert!(too_long(&file(LONGEST + 1)).is_some());
    assert!(too_long(&file(LONGEST)).is_none());
}
