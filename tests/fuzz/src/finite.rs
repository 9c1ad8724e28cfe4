//! Looks through anything that can be written for numbers that are not finite. JSON would hide them: it writes them
//! as `null`.

use ciborium::Value;
use serde::Serialize;

/// The place of the first number that is infinite or none at all.
pub fn first_odd_number(answer: &impl Serialize) -> Option<String> {
    let value = Value::serialized(answer).ok()?;
    look(&value, String::new())
}

fn look(value: &Value, place: String) -> Option<String> {
    match value {
        Value::Float(number) if !number.is_finite() => Some(format!("{place} = {number}")),
        Value::Array(items) => {
            items.iter().enumerate().find_map(|(index, item)| look(item, format!("{place}/{index}")))
        }
        Value::Map(fields) => fields.iter().find_map(|(key, item)| {
            let key = key.as_text().unwrap_or("?");
            look(item, format!("{place}/{key}"))
        }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hidden_number_is_seen() {
        #[derive(Serialize)]
        struct Answer {
            list: Vec<Option<f64>>,
        }
        let answer = Answer { list: vec![None, Some(1.0), Some(f64::NAN)] };
        assert_eq!(first_odd_number(&answer).as_deref(), Some("/list/2 = NaN"));
        assert_eq!(first_odd_number(&Answer { list: vec![None, Some(1.0)] }), None);
    }
}
