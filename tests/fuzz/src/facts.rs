//! Bodies of every noun, almost sensible: whatever is sent, it is read or refused in words, what was read writes back to
//! the same fact, and a key that stands twice is found.

use arbitrary::Unstructured;
use preen_domain::asked::make_whole;
use preen_domain::facts::{Fact, Noun};
use preen_domain::json::{JsonFault, read_json};
use serde_json::Value;

use crate::texts::odd_text;
use crate::twist::twisted;

macro_rules! seeds {
    ($($noun:literal)+) => {
        /// A sensible body for each noun.
        pub const SEEDS: &[(&str, &str)] =
            &[$(($noun, include_str!(concat!("../seeds/facts/", $noun, ".json")))),+];
    };
}

seeds! {
    "campaign-closures" "campaign-works" "campaigns" "charges" "classes" "closures" "components" "conditions"
    "contests" "corrections" "defects" "deferrals" "designs" "entries" "events" "flights" "inspections"
    "installations" "limits" "loan-returns" "loans" "lots" "matched-sets" "measurements" "members" "models"
    "pairings" "parts" "photos" "programmes" "questions" "releases" "removals" "repair-steps" "repairs"
    "riggings" "settlements" "slugs" "weighings"
}

/// Reads a body as a fact; what was read must write back to the same.
///
/// # Panics
/// Where it does not, or where a refusal says nothing.
pub fn read(noun: Noun, body: Value) -> Option<Fact> {
    match Fact::from_json(noun, make_whole(body)) {
        Ok(fact) => {
            let written = serde_json::to_vec(&fact).expect("a fact can be written");
            let again = read_json(&written).unwrap_or_else(|_| panic!("{noun}: written as no JSON"));
            let again = Fact::from_json(noun, again).unwrap_or_else(|error| panic!("{noun}: {error}"));
            assert_eq!(again, fact, "{noun}: it reads back otherwise");
            let _ = (fact.id(), fact.tag().cloned(), fact.noun());
            Some(fact)
        }
        Err(error) => {
            assert!(error.to_string().len() > 10, "{noun}: {error:?} says nothing");
            None
        }
    }
}

/// Puts an odd text in the place of one that stands there.
fn sow(value: &mut Value, left: &mut usize, text: &str) -> bool {
    match value {
        Value::String(held) if *left == 0 => {
            text.clone_into(held);
            true
        }
        Value::String(_) => {
            *left -= 1;
            false
        }
        Value::Array(items) => items.iter_mut().any(|item| sow(item, left, text)),
        Value::Object(fields) => fields.values_mut().any(|item| sow(item, left, text)),
        _ => false,
    }
}

/// A body of JSON as bytes: read or refused, and what was read is what is written.
///
/// # Panics
/// Where it is not.
pub fn try_json(bytes: &[u8]) {
    match read_json(bytes) {
        Ok(value) => {
            let written = serde_json::to_vec(&value).expect("JSON can be written");
            assert_eq!(read_json(&written).ok().as_ref(), Some(&value), "it reads back otherwise");
            let _ = make_whole(value);
        }
        Err(JsonFault::Doubled(pointers)) => {
            assert!(
                !pointers.is_empty() && pointers.iter().all(|pointer| pointer.starts_with('/')),
                "{pointers:?}"
            );
        }
        Err(JsonFault::Malformed(error)) => assert!(error.to_string().len() > 5, "{error:?}"),
    }
}

/// One body made from these bytes.
///
/// # Panics
/// Where a promise is broken.
pub fn try_facts(bytes: &mut Unstructured<'_>) {
    let Ok((noun, seed)) = bytes.choose(SEEDS) else { return };
    let (Ok(noun), Ok(seed)) = (noun.parse::<Noun>(), serde_json::from_str::<Value>(seed)) else { return };
    let mut body = twisted(seed, bytes);
    if bytes.ratio(1, 2).unwrap_or(false) {
        let mut at = bytes.int_in_range(0..=12).unwrap_or(0);
        let text = odd_text(bytes);
        sow(&mut body, &mut at, &text);
    }
    let mut written = body.to_string().into_bytes();
    read(noun, body);
    // The same as letters, some of them others.
    for _ in 0..bytes.int_in_range(0..=3).unwrap_or(0) {
        let at = bytes.int_in_range(0..=written.len().saturating_sub(1)).unwrap_or(0);
        if let Some(letter) = written.get_mut(at) {
            *letter = bytes.arbitrary().unwrap_or(b'"');
        }
    }
    try_json(&written);
}
