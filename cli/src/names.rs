//! Ids to tags: facts point at each other by id, people read tags.

use std::collections::HashMap;

use preen_domain::facts::Noun;
use serde::Deserialize;
use serde_json::Value;

use crate::client::Client;
use crate::failure::Failure;

/// The tags of the items that some facts point at.
#[derive(Debug, Default)]
pub struct Names(HashMap<String, String>);

#[derive(Deserialize)]
struct Named {
    id: String,
    tag: Option<String>,
}

impl Names {
    /// Fetches the tags of every noun that facts of this noun point at, and of the members who recorded them.
    pub fn fetch(client: &Client, of: Noun) -> Result<Self, Failure> {
        let mut nouns: Vec<Noun> = of.references().iter().map(|(_, noun)| *noun).collect();
        nouns.push(Noun::Members);
        nouns.sort();
        nouns.dedup();
        let mut names = Self::default();
        for noun in nouns {
            let items: Vec<Named> = client.all(noun)?;
            names.0.extend(items.into_iter().filter_map(|item| Some((item.id, item.tag?))));
        }
        Ok(names)
    }

    /// A value for people: an id that is known as its tag, everything else as it stands.
    pub fn show(&self, value: &Value) -> String {
        match value {
            Value::Null => String::new(),
            Value::String(text) => self.0.get(text).unwrap_or(text).clone(),
            Value::Bool(true) => "yes".to_owned(),
            Value::Bool(false) => "no".to_owned(),
            Value::Number(number) => number.to_string(),
            Value::Array(list) => list.iter().map(|one| self.show(one)).collect::<Vec<_>>().join(", "),
            Value::Object(fields) => fields
                .iter()
                .map(|(name, value)| match (fields.len(), name.as_str()) {
                    (1, "model" | "component") => self.show(value),
                    _ => format!("{name} {}", self.show(value)),
                })
                .collect::<Vec<_>>()
                .join(" · "),
        }
    }
}
