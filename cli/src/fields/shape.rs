//! What fields the facts of a noun have, read from their schemas.

use std::collections::BTreeMap;

use preen_domain::facts::Noun;
use serde_json::Value;

/// What a field holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Any text.
    Text,
    /// A moment.
    Moment,
    /// A day.
    Day,
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// Yes or no.
    YesNo,
    /// One word of a list.
    Word(Vec<String>),
    /// Several of one kind.
    List(Box<Self>),
    /// Fields of its own.
    Group(Vec<Field>),
}

/// One field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Field {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub kind: Kind,
    /// Whether a fact must have it.
    pub is_needed: bool,
    /// What it means.
    pub text: String,
}

impl Kind {
    /// The kind in words.
    pub fn say(&self) -> String {
        match self {
            Self::Text => "text".to_owned(),
            Self::Moment => "time".to_owned(),
            Self::Day => "day".to_owned(),
            Self::Number => "number".to_owned(),
            Self::Whole => "whole number".to_owned(),
            Self::YesNo => "yes or no".to_owned(),
            Self::Word(words) => words.join(" | "),
            Self::List(kind) => match &**kind {
                Self::Group(_) => "list, as JSON".to_owned(),
                simple => format!("{}, …", simple.say()),
            },
            Self::Group(fields) => {
                let names: Vec<&str> = fields.iter().map(|field| field.name.as_str()).collect();
                format!(".{}", names.join(" ."))
            }
        }
    }
}

/// The fields of a noun's facts, in alphabetical order.
pub fn fields_of(noun: Noun) -> Vec<Field> {
    let (schema, named) = noun.schema();
    let named: BTreeMap<String, Value> = named
        .into_iter()
        .filter_map(|(name, schema)| Some((name, serde_json::to_value(schema).ok()?)))
        .collect();
    match serde_json::to_value(schema) {
        Ok(schema) => properties(&schema, &named),
        Err(_not_json) => Vec::new(),
    }
}

fn properties(schema: &Value, named: &BTreeMap<String, Value>) -> Vec<Field> {
    let required: Vec<&str> = schema
        .get("required")
        .and_then(Value::as_array)
        .map(|names| names.iter().filter_map(Value::as_str).collect())
        .unwrap_or_default();
    let Some(properties) = schema.get("properties").and_then(Value::as_object) else { return Vec::new() };
    properties
        .iter()
        .map(|(name, property)| Field {
            name: name.clone(),
            kind: kind_of(property, named),
            is_needed: required.contains(&name.as_str()),
            text: description_of(property),
        })
        .collect()
}

/// What a field means; where it may be absent, that stands with its only choice.
fn description_of(property: &Value) -> String {
    let own = property.get("description");
    let of_choice = || property.get("oneOf")?.as_array()?.iter().find_map(|choice| choice.get("description"));
    own.or_else(of_choice).and_then(Value::as_str).unwrap_or_default().to_owned()
}

fn kind_of(schema: &Value, named: &BTreeMap<String, Value>) -> Kind {
    if let Some(reference) = schema.get("$ref").and_then(Value::as_str) {
        let name = reference.rsplit('/').next().unwrap_or_default();
        return named.get(name).map_or(Kind::Text, |schema| kind_of(schema, named));
    }
    if let Some(words) = schema.get("enum").and_then(Value::as_array) {
        return Kind::Word(words.iter().filter_map(Value::as_str).map(ToOwned::to_owned).collect());
    }
    if let Some(all) = schema.get("allOf").and_then(Value::as_array)
        && let [one] = all.as_slice()
    {
        return kind_of(one, named);
    }
    if let Some(choices) = schema.get("oneOf").or_else(|| schema.get("anyOf")).and_then(Value::as_array) {
        let real: Vec<&Value> = choices
            .iter()
            .filter(|choice| choice.get("type").and_then(Value::as_str) != Some("null"))
            .collect();
        if let [one] = real.as_slice() {
            return kind_of(one, named);
        }
        let mut fields: Vec<Field> = real.iter().flat_map(|choice| properties(choice, named)).collect();
        for field in &mut fields {
            field.is_needed = false;
        }
        return Kind::Group(fields);
    }
    let format = schema.get("format").and_then(Value::as_str).unwrap_or_default();
    match (type_of(schema), format) {
        ("string", "date-time") => Kind::Moment,
        ("string", "date") => Kind::Day,
        ("number", _) => Kind::Number,
        ("integer", _) => Kind::Whole,
        ("boolean", _) => Kind::YesNo,
        ("array", _) => {
            Kind::List(Box::new(schema.get("items").map_or(Kind::Text, |items| kind_of(items, named))))
        }
        ("object", _) => Kind::Group(properties(schema, named)),
        _ => Kind::Text,
    }
}

/// The type of a schema, which may be one word or a list with `null` in it.
fn type_of(schema: &Value) -> &str {
    match schema.get("type") {
        Some(Value::String(word)) => word,
        Some(Value::Array(words)) => {
            words.iter().filter_map(Value::as_str).find(|word| *word != "null").unwrap_or("string")
        }
        _ => "string",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(noun: Noun, name: &str) -> Kind {
        let fields = fields_of(noun);
        fields.into_iter().find(|field| field.name == name).unwrap_or_else(|| panic!("{noun} {name}")).kind
    }

    #[test]
    fn kinds_are_read_from_the_shapes() {
        assert_eq!(kind(Noun::Flights, "occurred_at"), Kind::Moment);
        assert_eq!(kind(Noun::Flights, "airtime_min"), Kind::Number);
        assert_eq!(kind(Noun::Flights, "launches"), Kind::Whole);
        assert_eq!(kind(Noun::Flights, "is_post_flight_logged"), Kind::YesNo);
        assert_eq!(kind(Noun::Flights, "landing").say(), "soft | normal | firm | hard");
        assert_eq!(kind(Noun::Loans, "due_back_on"), Kind::Day);
        assert_eq!(kind(Noun::Defects, "fix_by_on"), Kind::Day);
        assert_eq!(kind(Noun::Repairs, "cure_until_at"), Kind::Moment);
        assert_eq!(kind(Noun::Measurements, "values"), Kind::List(Box::new(Kind::Number)));
        assert_eq!(kind(Noun::Measurements, "subject").say(), ".model .component");
        assert_eq!(kind(Noun::Defects, "restriction").say(), ".kind .until_on .value");
        assert_eq!(kind(Noun::Weighings, "supports").say(), "list, as JSON");
        assert_eq!(kind(Noun::Inspections, "model"), Kind::Text);
    }

    #[test]
    fn every_noun_has_an_id_and_says_what_its_fields_mean() {
        for noun in Noun::ALL {
            let fields = fields_of(*noun);
            assert!(fields.iter().any(|field| field.name == "id" && field.is_needed), "{noun}");
            for field in fields {
                assert!(!field.text.is_empty(), "{noun} {}", field.name);
            }
        }
    }
}
