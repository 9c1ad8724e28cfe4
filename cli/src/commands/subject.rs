//! What something is about: a model or a single part, as it was typed.

use preen_domain::facts::Noun;
use serde_json::{Value, json};

use super::Session;
use crate::client::Client;
use crate::failure::Failure;
use crate::suggest;

/// A model or a part that exists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Subject {
    /// The model as a whole.
    Model(String),
    /// A single part.
    Component(String),
}

impl Subject {
    /// Finds out what is meant. `model:TAG` and `component:TAG` say it.
    pub fn find(session: &Session<'_, '_>, typed: &str) -> Result<Self, Failure> {
        let client = &session.client;
        if let Some(name) = typed.strip_prefix("model:") {
            return Ok(Self::Model(client.name(Noun::Models, name)?.to_owned()));
        }
        if let Some(name) = typed.strip_prefix("component:") {
            return Ok(Self::Component(client.name(Noun::Components, name)?.to_owned()));
        }
        client.name(Noun::Models, typed)?;
        let say_it = |failure: Failure| {
            if client.is_away() {
                failure.hint(format!("Or say which it is: model:{typed} or component:{typed}."))
            } else {
                failure
            }
        };
        let is_model = client.find(&[Noun::Models.as_str(), typed]).map_err(say_it)?.is_some();
        let is_component = client.find(&[Noun::Components.as_str(), typed])?.is_some();
        match (is_model, is_component) {
            (true, false) => Ok(Self::Model(typed.to_owned())),
            (false, true) => Ok(Self::Component(typed.to_owned())),
            (true, true) => Err(Failure::bad_input(format!("`{typed}` is a model and a component."))
                .hint(format!("Write model:{typed} or component:{typed}."))),
            (false, false) => Err(unknown(client, typed)),
        }
    }

    /// As it stands in a fact.
    pub fn json(&self) -> Value {
        match self {
            Self::Model(name) => json!({ "model": name }),
            Self::Component(name) => json!({ "component": name }),
        }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        match self {
            Self::Model(name) | Self::Component(name) => name,
        }
    }
}

fn unknown(client: &Client, typed: &str) -> Failure {
    client.mention(Noun::Components, typed);
    suggest::mend(
        client,
        Failure::bad_input(format!("There is no `{typed}` among the models and components.")),
    )
}
