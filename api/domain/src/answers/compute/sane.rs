//! The bounds within which every bench calculator computes: numbers of a bench, not of the edges of a double. What a
//! single field may be is each calculator's own affair.

use serde::Serialize;
use serde_json::Value;

use super::BadQuestion;

/// Largest magnitude of a number in a question. Whatever the unit, nothing of a model glider comes near, and products
/// and quotients of a dozen such numbers are still finite.
pub const LARGEST: f64 = 1e12;

/// Smallest magnitude of a number that is not zero.
pub const SMALLEST: f64 = 1e-12;

/// Most entries of one list.
pub const MOST_ENTRIES: usize = 10_000;

/// Answers a question by one of the calculators, once its numbers and lists are within bounds.
///
/// # Errors
/// [`BadQuestion`], naming the first number beyond [`LARGEST`] or nearer to zero than [`SMALLEST`] without being zero,
/// or the first list longer than [`MOST_ENTRIES`]; and whatever the calculator refuses.
///
/// ```
/// use preen_domain::answers::compute::{answer, BalanceQuestion, compute_balance};
/// let question: BalanceQuestion = serde_json::from_value(serde_json::json!({
///     "items": [{"mass_g": 100, "x_mm": 10}, {"mass_g": 1e300, "x_mm": 50}]
/// }))?;
/// let refused = answer(&question, compute_balance).expect_err("no such mass");
/// assert_eq!(refused.pointer, "/items/1/mass_g");
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn answer<Q: Serialize, A>(
    question: &Q,
    by: impl FnOnce(&Q) -> Result<A, BadQuestion>,
) -> Result<A, BadQuestion> {
    let json = serde_json::to_value(question).map_err(|error| BadQuestion::at("", &error))?;
    look(&json, &mut String::new())?;
    by(question)
}

fn look(value: &Value, pointer: &mut String) -> Result<(), BadQuestion> {
    let kept = pointer.len();
    match value {
        Value::Number(number) => {
            let size = number.as_f64().unwrap_or(f64::INFINITY).abs();
            if size > LARGEST {
                return Err(BadQuestion::at(pointer.clone(), "is too large to compute with; check its unit"));
            }
            if size != 0.0 && size < SMALLEST {
                return Err(BadQuestion::at(
                    pointer.clone(),
                    "is too small to compute with; give 0 or check its unit",
                ));
            }
        }
        Value::Array(list) => {
            if list.len() > MOST_ENTRIES {
                let text = format!("has {} entries: {MOST_ENTRIES} are the most", list.len());
                return Err(BadQuestion::at(pointer.clone(), &text));
            }
            for (index, item) in list.iter().enumerate() {
                pointer.push_str(&format!("/{index}"));
                look(item, pointer)?;
                pointer.truncate(kept);
            }
        }
        Value::Object(fields) => {
            for (name, item) in fields {
                pointer.push('/');
                pointer.push_str(name);
                look(item, pointer)?;
                pointer.truncate(kept);
            }
        }
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_first_number_out_of_bounds_is_named() {
        let pointer = |value: Value| answer(&value, |_| Ok(())).err().map(|bad| bad.pointer);
        assert_eq!(pointer(json!({"a": [1e12, -1e-12, 0.0], "b": null})), None);
        assert_eq!(pointer(json!({"a": [1, {"b": -1.1e12}], "c": 1e300})).as_deref(), Some("/a/1/b"));
        assert_eq!(pointer(json!({"a": 9e-13})).as_deref(), Some("/a"));
        assert_eq!(pointer(json!({"a": vec![0; 10_001]})).as_deref(), Some("/a"));
    }
}
