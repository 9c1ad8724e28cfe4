//! Licences of everything that is linked in, against the list in `.deny.toml`.

use std::process::Command;

use serde_json::Value;

use crate::files::{expect_none, top};

/// Words in quotes after `allow = [`.
fn allowed(deny: &str) -> Vec<String> {
    let list = deny.split_once("\nallow = [").expect("a list of licences").1.split(']').next().unwrap();
    list.split('"').skip(1).step_by(2).map(ToOwned::to_owned).collect()
}

/// Whether an SPDX expression (`/` is read as OR) can be met by the allowed licences alone. `AND` binds closer
/// than `OR`; an exception (`WITH …`) belongs to its licence and only widens it.
fn is_met(expression: &str, allowed: &[String]) -> bool {
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let tokens: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    let met = any_of(&tokens, &mut at, allowed);
    assert_eq!(at, tokens.len(), "not an SPDX expression: {expression}");
    met
}

fn any_of(tokens: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let mut met = all_of(tokens, at, allowed);
    while tokens.get(*at) == Some(&"OR") {
        *at += 1;
        met |= all_of(tokens, at, allowed);
    }
    met
}

fn all_of(tokens: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let mut met = one(tokens, at, allowed);
    while tokens.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(tokens, at, allowed);
    }
    met
}

fn one(tokens: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let token = tokens[*at];
    *at += 1;
    if token == "(" {
        let met = any_of(tokens, at, allowed);
        assert_eq!(tokens.get(*at), Some(&")"), "a bracket is not closed");
        *at += 1;
        return met;
    }
    if tokens.get(*at) == Some(&"WITH") {
        *at += 2;
    }
    allowed.iter().any(|known| known == token)
}

#[test]
fn every_dependency_has_an_allowed_licence() {
    let allowed = allowed(&std::fs::read_to_string(top().join(".deny.toml")).unwrap());
    let about = Command::new("rustc").arg("-vV").output().unwrap();
    let about = String::from_utf8(about.stdout).unwrap();
    let host = about.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let listed = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host])
        .current_dir(top())
        .output()
        .unwrap();
    assert!(listed.status.success(), "{}", String::from_utf8_lossy(&listed.stderr));
    let listed: Value = serde_json::from_slice(&listed.stdout).unwrap();
    let packages = listed["packages"].as_array().unwrap();
    assert!(packages.len() > 50);
    let broken: Vec<String> = packages
        .iter()
        .filter(|package| !package["license"].as_str().is_some_and(|spdx| is_met(spdx, &allowed)))
        .map(|package| format!("{}: licence {}", package["name"], package["license"]))
        .collect();
    expect_none(&broken);
}

#[test]
fn an_expression_is_read_by_its_brackets() {
    let allowed = ["MIT".to_owned(), "ISC".to_owned(), "Apache-2.0".to_owned()];
    for good in ["MIT", "MIT/GPL-3.0", "GPL-3.0 OR (MIT AND ISC)", "Apache-2.0 WITH LLVM-exception"] {
        assert!(is_met(good, &allowed), "{good}");
    }
    for bad in ["GPL-3.0", "MIT AND GPL-3.0", "(MIT OR ISC) AND GPL-3.0", "GPL-3.0 OR (MIT AND LGPL-3.0)"] {
        assert!(!is_met(bad, &allowed), "{bad}");
    }
    assert_eq!(super::licences::allowed("x\nallow = [\n  \"A\",\n  \"B\",\n]\n"), ["A", "B"]);
}
