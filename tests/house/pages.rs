//! No page is left out where all of them are tried: the routes of the pages against the list that the browser goes through.

use crate::files::{File, expect_none, read};

/// What is loaded by pages or leads on to one, and is no page itself.
const NO_PAGES: &[&str] =
    &["/favicon.ico", "/find", "/manifest.webmanifest", "/static/{version}/{name}", "/sw.js"];

/// Texts in quotation marks behind a word.
fn quoted_after<'a>(text: &'a str, word: &str) -> Vec<&'a str> {
    text.split(word).skip(1).filter_map(|rest| rest.strip_prefix('"')?.split('"').next()).collect()
}

/// Whether a path is one of a route.
fn fits(route: &str, path: &str) -> bool {
    let bare = path.split('?').next().unwrap_or(path);
    let (parts, asked): (Vec<&str>, Vec<&str>) = (route.split('/').collect(), bare.split('/').collect());
    parts.len() == asked.len()
        && parts.iter().zip(&asked).all(|(part, asked)| part.starts_with('{') || part == asked)
}

fn untried(files: &[File], tried: &str) -> Vec<String> {
    let tried: Vec<&str> =
        tried.lines().filter_map(|line| line.trim().strip_prefix('"')?.split('"').next()).collect();
    let routes = files.iter().flat_map(|file| quoted_after(&file.text, "#[get("));
    routes
        .filter(|route| !NO_PAGES.contains(route))
        .filter(|route| !tried.iter().any(|path| fits(route, path)))
        .map(|route| format!("{route}: name such a page in `tests/web/everybody.rs`"))
        .collect()
}

#[test]
fn every_page_is_tried_by_everybody() {
    let files = read(|path| path.starts_with("api/src/web/") && path.ends_with(".rs"));
    let tried = read(|path| path == "tests/web/everybody.rs");
    assert!(files.iter().flat_map(|file| quoted_after(&file.text, "#[get(")).count() > 20);
    expect_none(&untried(&files, &tried[0].text));
}

#[test]
fn a_page_that_is_left_out_is_seen() {
    let text = format!("{}\"/models/{{tag}}\")]\n{}\"/shelf\")]", "#[get(", "#[get(");
    let files = [File { path: "api/src/web/x.rs".to_owned(), text }];
    assert_eq!(untried(&files, "    \"/models/SG-01?on=2026-05-23\",\n").len(), 1);
    assert!(untried(&files, "    \"/models/SG-01\",\n    \"/shelf\",\n").is_empty());
}
