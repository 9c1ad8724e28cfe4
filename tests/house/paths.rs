//! The paths that a Rust file names: its `use` trees spelled out, and its code without comments.

/// The file's code with comments taken out; texts in quotes stay.
pub fn code_of(text: &str) -> String {
    text.lines()
        .map(|line| line.split_once("//").map_or(line, |(code, _)| code))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Every path of every `use`, with groups spelled out: `use a::{b, c::d};` gives `a::b` and `a::c::d`.
pub fn used(text: &str) -> Vec<String> {
    let code = code_of(text);
    let mut list = Vec::new();
    for (start, _) in code.match_indices("use ") {
        let before = code[..start].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '`') {
            continue;
        }
        let tree = code[start + 4..].split(';').next().unwrap();
        let tree: String = tree.split_whitespace().collect::<Vec<_>>().join(" ");
        spell_out("", &tree, &mut list);
    }
    list
}

fn spell_out(prefix: &str, tree: &str, list: &mut Vec<String>) {
    let tree = tree.trim();
    let Some((head, rest)) = tree.split_once('{') else {
        if !tree.is_empty() {
            list.push(format!("{prefix}{}", tree.split(" as ").next().unwrap().trim()));
        }
        return;
    };
    let inside = rest.rsplit_once('}').map_or(rest, |(inside, _)| inside);
    let (mut depth, mut start) = (0, 0);
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                spell_out(&format!("{prefix}{head}"), &inside[start..at], list);
                start = at + 1;
            }
            _ => {}
        }
    }
    spell_out(&format!("{prefix}{head}"), &inside[start..], list);
}

/// Whether the file reaches for a path such as `std::fs`, by `use` or in full where it is needed.
pub fn reaches(text: &str, path: &str) -> bool {
    let is_whole = |found: &str, at: usize| {
        let before = found[..at].chars().next_back();
        let after = found[at + path.len()..].chars().next();
        let part_of_name = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
        !part_of_name(before) && before != Some(':') && !part_of_name(after)
    };
    let in_uses = used(text)
        .iter()
        .any(|used| used == path || used.strip_prefix(path).is_some_and(|rest| rest.starts_with("::")));
    let code = code_of(text);
    // A bare name counts only as a path, `diesel::…`: the word may stand in a text.
    let in_full = code.match_indices(path).any(|(at, _)| {
        is_whole(&code, at) && (path.contains("::") || code[at + path.len()..].starts_with("::"))
    });
    in_uses || in_full
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_are_spelled_out() {
        let text = "use a::{b, c::{d, e as f}};\npub use g; // use not::this;\n/// we use x::y";
        assert_eq!(used(text), ["a::b", "a::c::d", "a::c::e", "g"]);
    }

    #[test]
    fn reaching_is_seen_in_every_form() {
        for text in ["use std::fs;", "use std::{env, fs::File};", "let x = std::fs::read(p);"] {
            assert!(reaches(text, "std::fs"), "{text}");
        }
        for text in ["use std::fmt;", "// std::fs", "use my::std::fs;", "use std::fsync;"] {
            assert!(!reaches(text, "std::fs"), "{text}");
        }
        assert!(reaches("diesel::insert_into(x)", "diesel"));
        assert!(!reaches("let text = \"diesel\";", "diesel"));
    }
}
