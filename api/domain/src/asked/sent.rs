//! A fact as it was sent, made ready to be read: numbers without a fraction as whole ones, tags as ids.

use serde_json::Value;

use super::Finds;
use crate::facts::{Noun, QuestionReason, Reference};

/// Up to here every whole number is a number of its own in double precision (2^53).
const EXACT: f64 = 9_007_199_254_740_992.0;

/// Writes numbers without a fraction as whole numbers: JSON does not tell 4.0 from 4, and counts want the latter.
///
/// ```
/// use preen_domain::asked::make_whole;
/// assert_eq!(make_whole(serde_json::json!([4.0, 0.5])).to_string(), "[4,0.5]");
/// ```
#[must_use]
pub fn make_whole(value: Value) -> Value {
    match value {
        Value::Number(number) => {
            let float = number.as_f64().filter(|float| float.fract() == 0.0 && float.abs() < EXACT);
            match float {
                // The sign of -0.0 would be lost.
                Some(float) if number.is_f64() && !(float == 0.0 && float.is_sign_negative()) => {
                    let whole = format!("{float:.0}").parse::<i64>().ok();
                    whole.map_or(Value::Number(number), Value::from)
                }
                Some(_) | None => Value::Number(number),
            }
        }
        Value::Array(list) => list.into_iter().map(make_whole).collect(),
        Value::Object(fields) => {
            Value::Object(fields.into_iter().map(|(key, value)| (key, make_whole(value))).collect())
        }
        Value::Null | Value::Bool(_) | Value::String(_) => value,
    }
}

/// Turns tags into ids wherever a noun points at other items.
///
/// # Errors
/// A reason for each name that nobody has, with the pointer to its field, `prefix` before it.
pub fn resolve(
    noun: Noun,
    prefix: &str,
    body: &mut Value,
    names: &dyn Finds,
) -> Result<(), Vec<QuestionReason>> {
    resolve_at_pointers(noun.references(), prefix, body, names)
}

/// The same at pointers of any request.
///
/// # Errors
/// As [`resolve`].
pub fn resolve_at_pointers(
    pointers: &[Reference],
    prefix: &str,
    body: &mut Value,
    names: &dyn Finds,
) -> Result<(), Vec<QuestionReason>> {
    let mut unknown = Vec::new();
    for (pointer, target) in pointers {
        let steps: Vec<&str> = pointer.split('/').skip(1).collect();
        resolve_at(body, &steps, prefix.to_owned(), *target, names, &mut unknown);
    }
    if unknown.is_empty() { Ok(()) } else { Err(unknown) }
}

fn resolve_at(
    value: &mut Value,
    steps: &[&str],
    pointer: String,
    target: Noun,
    names: &dyn Finds,
    unknown: &mut Vec<QuestionReason>,
) {
    match (steps.split_first(), value) {
        (Some((&"*", rest)), Value::Array(list)) => {
            for (index, element) in list.iter_mut().enumerate() {
                resolve_at(element, rest, format!("{pointer}/{index}"), target, names, unknown);
            }
        }
        (Some((step, rest)), Value::Object(object)) => {
            if let Some(field) = object.get_mut(*step) {
                resolve_at(field, rest, format!("{pointer}/{step}"), target, names, unknown);
            }
        }
        (None, Value::String(name)) => match names.find(target, name) {
            Some(id) => *name = id.to_string(),
            None => unknown.push(QuestionReason {
                pointer,
                code: "unknown_reference".to_owned(),
                text: format!("There is no `{name}` among the {target}."),
            }),
        },
        // Anything else is of the wrong shape: reading it as a fact will say so.
        _ => {}
    }
}
