//! A restriction as it is typed: its kind, and the number or the day that goes with it.

use chrono::NaiveDate;
use preen_domain::words::RestrictionKind;
use serde_json::{Map, Value, json};

/// A restriction as it was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Restricted {
    kind: RestrictionKind,
    value: Option<f64>,
    until_on: Option<NaiveDate>,
}

/// Reads `KIND`, `KIND=NUMBER` or `KIND=DAY`.
pub fn parse_restriction(text: &str) -> Result<Restricted, String> {
    let (kind, value) = text.split_once('=').map_or((text, None), |(kind, value)| (kind, Some(value)));
    let kind = kind.parse::<RestrictionKind>().map_err(|error| error.to_string())?;
    let Some(value) = value else { return Ok(Restricted { kind, value: None, until_on: None }) };
    if let Ok(day) = value.parse::<NaiveDate>() {
        return Ok(Restricted { kind, value: None, until_on: Some(day) });
    }
    let number = value.parse::<f64>().ok().filter(|number| number.is_finite());
    let number = number.ok_or_else(|| format!("`{value}` is neither a number nor a day"))?;
    Ok(Restricted { kind, value: Some(number), until_on: None })
}

impl Restricted {
    /// As it stands in a fact.
    pub fn json(&self) -> Value {
        let mut fields = Map::new();
        fields.insert("kind".to_owned(), json!(self.kind));
        if let Some(value) = self.value {
            fields.insert("value".to_owned(), json!(value));
        }
        if let Some(until_on) = self.until_on {
            fields.insert("until_on".to_owned(), json!(until_on));
        }
        Value::Object(fields)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn restrictions_take_a_number_a_day_or_nothing() {
        assert_eq!(parse_restriction("max_flights=4").unwrap().value, Some(4.0));
        assert!(parse_restriction("until_date=2026-05-30").unwrap().until_on.is_some());
        assert_eq!(parse_restriction("no_contest").unwrap().value, None);
        for bad in ["slowly", "max_flights=many", "max_wind=inf"] {
            assert!(parse_restriction(bad).is_err(), "{bad}");
        }
    }
}
