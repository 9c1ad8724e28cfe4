//! Habits of every Rust file: it says what lives in it, its exceptions have reasons, its tests run.

use crate::files::{File, expect_none, rust};

fn without_opening(file: &File) -> Option<String> {
    let says = file.text.lines().next().is_some_and(|line| line.starts_with("//! ") && line.len() > 12);
    (!says).then(|| format!("{} does not open with `//!` and what lives in it", file.path))
}

/// Lint exceptions outside tests: `expect` with a reason, never `allow`.
fn silent_exceptions(file: &File) -> Vec<String> {
    let mut list = Vec::new();
    let attribute = |name: &str| format!("#[{name}(");
    if file.text.contains(&attribute("allow")) {
        list.push(format!("{}: an exception is `expect` with a reason, never `allow`", file.path));
    }
    for (at, _) in file.text.match_indices(&attribute("expect")) {
        let inside = file.text[at..].split(")]").next().unwrap();
        if !inside.contains("reason = \"") {
            list.push(format!("{}: an exception without its reason: {inside}", file.path));
        }
    }
    list
}

fn lazy_tests(file: &File) -> Vec<String> {
    let habits = [
        (format!("#[{}", "ignore"), "an ignored test tests nothing"),
        (format!("thread::{}", "sleep"), "a test that sleeps is slow or flaky: wait for the event"),
        (format!("time::{}(", "sleep"), "a test that sleeps is slow or flaky: wait for the event"),
    ];
    let found = habits.iter().filter(|(what, _)| file.text.contains(what));
    found.map(|(what, why)| format!("{}: `{what}`: {why}", file.path)).collect()
}

#[test]
fn every_file_says_what_lives_in_it() {
    expect_none(&rust().iter().filter_map(without_opening).collect::<Vec<_>>());
}

#[test]
fn every_exception_has_a_reason() {
    let ours = rust().into_iter().filter(|file| !file.path.starts_with("tests/"));
    expect_none(&ours.flat_map(|file| silent_exceptions(&file)).collect::<Vec<_>>());
}

#[test]
fn no_test_is_ignored_or_sleeps() {
    expect_none(&rust().iter().flat_map(lazy_tests).collect::<Vec<_>>());
}

#[test]
fn bad_habits_are_seen() {
    let file = |text: String| File { path: "a.rs".to_owned(), text };
    assert!(without_opening(&file("use std::fmt;".to_owned())).is_some());
    assert!(without_opening(&file("//! Flights.".to_owned())).is_some(), "too short to say anything");
    assert!(without_opening(&file("//! Flights and riggings.".to_owned())).is_none());
    assert_eq!(silent_exceptions(&file(format!("#[{}(dead_code)]", "allow"))).len(), 1);
    assert_eq!(silent_exceptions(&file(format!("#[{}(dead_code)]", "expect"))).len(), 1);
    assert!(silent_exceptions(&file(format!("#[{}(dead_code, reason = \"x\")]", "expect"))).is_empty());
    assert_eq!(lazy_tests(&file(format!("#[test]\n#[{}]\nfn x() {{}}", "ignore"))).len(), 1);
    assert_eq!(lazy_tests(&file(format!("std::thread::{}(x)", "sleep"))).len(), 1);
}
