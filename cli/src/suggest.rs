//! Did you mean: names close to one that is not known.

use preen_domain::facts::Noun;

use crate::client::Client;
use crate::failure::{Failure, Kind};

/// The closest of some names to one that was typed, if any is close at all.
pub fn closest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let typed = typed.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::normalized_damerau_levenshtein(&typed, &name.to_lowercase()), name))
        .filter(|(likeness, _)| *likeness >= 0.6)
        .max_by(|(a, first), (b, second)| a.total_cmp(b).then_with(|| second.cmp(first)))
        .map(|(_, name)| name)
}

/// Adds a hint to a failure that is about a name nobody knows: the closest name of that noun.
pub fn mend(client: &Client, mut failure: Failure) -> Failure {
    if failure.kind != Kind::BadInput {
        return failure;
    }
    let said = format!("{} {}", failure.text, failure.details.join(" "));
    for (noun, name) in client.mentioned() {
        if !said.contains(&format!("`{name}`")) {
            continue;
        }
        let hint = match find_closest(client, noun, &name) {
            Some(tag) => format!("Did you mean {tag}?"),
            None => format!("`preen {noun} list` shows what there is."),
        };
        if !failure.hints.contains(&hint) {
            failure.hints.push(hint);
        }
    }
    failure
}

fn find_closest(client: &Client, noun: Noun, name: &str) -> Option<String> {
    let tags = client.tags(noun)?;
    closest(name, tags.iter().map(String::as_str)).map(ToOwned::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_closest_name_is_found_whatever_its_case() {
        let known = ["SG-01", "SG-02", "SV08-B011", "JN-SG-01-L"];
        assert_eq!(closest("sg-01", known), Some("SG-01"));
        assert_eq!(closest("SV08-BO11", known), Some("SV08-B011"));
        assert_eq!(closest("JN-SG-1-L", known), Some("JN-SG-01-L"));
        assert_eq!(closest("elephant", known), None);
    }

    #[test]
    fn among_equals_the_first_in_order_is_taken() {
        assert_eq!(closest("SG-0", ["SG-02", "SG-01"]), Some("SG-01"));
    }
}
