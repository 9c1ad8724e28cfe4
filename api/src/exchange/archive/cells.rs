//! Tables for people and spreadsheets: one flat row for each item as it stands. No cell of them is a formula.

use serde_json::{Map, Value};

/// Letters at whose sight a spreadsheet begins to compute.
const BEGIN_FORMULAS: [char; 10] =
    ['=', '+', '-', '@', '\t', '\r', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

/// Columns that every table begins with.
const STAMP: [&str; 4] = ["id", "revision", "recorded_at", "recorded_by"];

/// A text that no spreadsheet computes: an apostrophe stands before what would be a formula. Numbers stay numbers.
#[must_use]
pub fn harmless(text: &str) -> String {
    let begins = text.starts_with(BEGIN_FORMULAS);
    let is_number = text.parse::<f64>().is_ok_and(f64::is_finite);
    if begins && !is_number { format!("'{text}") } else { text.to_owned() }
}

/// The columns of a table: the stamp, then the fields of the fact.
#[must_use]
pub fn columns(fields: &[&'static str]) -> Vec<&'static str> {
    STAMP.iter().chain(fields).copied().collect()
}

/// The row of an item. Ids of items that have a tag are shown by it, but for the item's own.
#[must_use]
pub fn row(
    columns: &[&str],
    item: &Map<String, Value>,
    tag_of: &dyn Fn(&str) -> Option<String>,
) -> Vec<String> {
    let cell_of = |column: &&str| match item.get(*column) {
        None => String::new(),
        Some(Value::String(id)) if *column == "id" => id.clone(),
        Some(value) => cell(value, tag_of),
    };
    columns.iter().map(cell_of).collect()
}

fn cell(value: &Value, tag_of: &dyn Fn(&str) -> Option<String>) -> String {
    match value {
        Value::Null => String::new(),
        Value::Bool(flag) => flag.to_string(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => harmless(&tag_of(text).unwrap_or_else(|| text.clone())),
        Value::Object(fields) => match fields.iter().next() {
            // What points at one of several kinds of things: `model: SG-01`.
            Some((kind, one)) if fields.len() == 1 && !one.is_object() => {
                harmless(&format!("{kind}: {}", cell(one, tag_of)))
            }
            _ => harmless(&value.to_string()),
        },
        Value::Array(list) if list.iter().all(|one| one.is_string() || one.is_number()) => {
            let words: Vec<String> = list.iter().map(|one| cell(one, tag_of)).collect();
            harmless(&words.join("; "))
        }
        Value::Array(_) => harmless(&value.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_begins_like_a_formula_is_a_text_and_numbers_stay_numbers() {
        for bad in ["=1+1", "+CMD", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "=", "-", "\u{ff1d}1+1", "+inf"] {
            assert_eq!(harmless(bad), format!("'{bad}"));
        }
        for good in ["", "SG-01", "a=b", "-5", "+5", "-0.25", "1e-3", "'=1"] {
            assert_eq!(harmless(good), good);
        }
    }

    #[test]
    fn a_row_is_flat() {
        let item = json!({
            "id": "1", "model": "2", "note": "=HYPERLINK(\"x\")", "mass_g": -3.5, "is_on": true,
            "subject": { "model": "2" }, "roles": ["pilot", "keeper"], "items": [{ "code": "=1" }]
        });
        let columns = ["id", "model", "note", "mass_g", "is_on", "subject", "roles", "items", "none"];
        let tag_of = |id: &str| (id == "2").then(|| "SG-01".to_owned());
        let row = row(&columns, item.as_object().unwrap(), &tag_of);
        let wanted = [
            "1",
            "SG-01",
            "'=HYPERLINK(\"x\")",
            "-3.5",
            "true",
            "model: SG-01",
            "pilot; keeper",
            "[{\"code\":\"=1\"}]",
            "",
        ];
        assert_eq!(row, wanted);
    }
}
