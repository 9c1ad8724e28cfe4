//! A fact as it was sent, made ready to be read: numbers without a fraction as whole ones, tags as ids.

use serde_json::Value;
use uuid::Uuid;

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

/// Whether a fact names by their ids all the items it points at, and all of them are known: then [`resolve`] would change
/// nothing that it says.
#[must_use]
pub fn names_ids_alone(noun: Noun, body: &Value, names: &dyn Finds) -> bool {
    noun.references().iter().all(|(pointer, target)| leads_to_ids(body, pointer, *target, names))
}

fn leads_to_ids(value: &Value, pointer: &str, target: Noun, names: &dyn Finds) -> bool {
    let Some(steps) = pointer.strip_prefix('/') else {
        let Value::String(name) = value else { return true };
        return Uuid::parse_str(name).is_ok() && names.find(target, name).is_some();
    };
    let (step, rest) = steps.split_at(steps.find('/').unwrap_or(steps.len()));
    match value {
        Value::Array(list) if step == "*" => list.iter().all(|one| leads_to_ids(one, rest, target, names)),
        Value::Object(fields) => {
            fields.get(step).is_none_or(|field| leads_to_ids(field, rest, target, names))
        }
        // Of the wrong shape: it does not read as a fact.
        _ => true,
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
