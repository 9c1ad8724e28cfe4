//! Asking the rules, and comparing what they say.

use preen_domain::{facts::Fact, fleet::Fleet, rules::check};
use serde_json::{Value, json};

use preen_tests::demo_fleet::{NOW, at};

/// A fact of a noun from JSON, in which the demo's items may be named by tag behind a `#`.
pub fn fact(fleet: &Fleet, noun: &str, json: Value) -> Fact {
    let noun = noun.parse().unwrap();
    Fact::from_json(noun, resolve(fleet, json)).unwrap()
}

/// Replaces `#models:SG-01` by the id behind the tag.
fn resolve(fleet: &Fleet, json: Value) -> Value {
    match json {
        Value::String(text) => match text.strip_prefix('#').and_then(|text| text.split_once(':')) {
            Some((noun, tag)) => {
                let id = fleet.id_of_tag(noun.parse().unwrap(), &tag.parse().unwrap());
                json!(id.unwrap_or_else(|| panic!("no {noun} {tag}")).to_string())
            }
            None => Value::String(text),
        },
        Value::Array(list) => list.into_iter().map(|item| resolve(fleet, item)).collect(),
        Value::Object(map) => map.into_iter().map(|(key, value)| (key, resolve(fleet, value))).collect(),
        other => other,
    }
}

/// Codes and pointers of everything that stands against a fact.
pub fn said(fleet: &Fleet, noun: &str, json: Value) -> Vec<(&'static str, String)> {
    let fact = fact(fleet, noun, json);
    check(fleet, &fact, at(NOW)).into_iter().map(|broken| (broken.code, broken.pointer)).collect()
}

/// An id that nothing else has.
pub fn fresh(number: u32) -> String {
    format!("01970000-0000-7000-8000-{number:012}")
}

/// Asserts that exactly one rule refuses a fact.
#[track_caller]
pub fn refused(fleet: &Fleet, noun: &str, json: Value, code: &str, pointer: &str) {
    let said = said(fleet, noun, json);
    assert_eq!(said, [(code, pointer.to_owned())].map(|(code, pointer)| (leak(code), pointer)));
}

/// Asserts that nothing stands against a fact.
#[track_caller]
pub fn allowed(fleet: &Fleet, noun: &str, json: Value) {
    assert_eq!(said(fleet, noun, json), []);
}

fn leak(code: &str) -> &'static str {
    String::leak(code.to_owned())
}
