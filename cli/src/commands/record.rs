//! Recording a fact: what all acts have in common.

use preen_domain::facts::Noun;
use serde_json::{Map, Value};

use super::Session;
use crate::client::{Client, Received};
use crate::failure::Failure;
use crate::output::Reply;

/// A fact in the making.
pub struct Draft(pub Map<String, Value>);

impl Draft {
    /// A fact with a new id.
    pub fn new(session: &mut Session<'_, '_>) -> Self {
        let id = session.new_id();
        Self(Map::from_iter([("id".to_owned(), Value::String(id))]))
    }

    /// The fact with a field more.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.0.insert(name.to_owned(), value.into());
        self
    }

    /// The fact with a field more, if there is a value for it.
    #[must_use]
    pub fn maybe(self, name: &str, value: Option<impl Into<Value>>) -> Self {
        match value {
            Some(value) => self.with(name, value),
            None => self,
        }
    }
}

/// Remembers every item that a body names, so that a name nobody knows can be mended.
pub fn mention(client: &Client, noun: Noun, body: &Value) {
    for (pointer, target) in noun.references() {
        let (list, rest) =
            pointer.split_once("/*").map_or((*pointer, None), |(list, rest)| (list, Some(rest)));
        let found: Vec<&Value> = match rest {
            None => body.pointer(list).into_iter().collect(),
            Some(rest) => body
                .pointer(list)
                .and_then(Value::as_array)
                .map(|all| all.iter().filter_map(|one| one.pointer(rest)).collect())
                .unwrap_or_default(),
        };
        for name in found.into_iter().filter_map(Value::as_str) {
            client.mention(*target, name);
        }
    }
}

/// Sends a fact.
pub fn send(session: &Session<'_, '_>, noun: Noun, fact: Map<String, Value>) -> Result<Received, Failure> {
    let body = Value::Object(fact);
    mention(&session.client, noun, &body);
    session.client.post(&[noun.as_str()], &[], &body)
}

/// Sends a fact and says what became of it; `what` is the fact in a few words.
pub fn record(session: &Session<'_, '_>, noun: Noun, draft: Draft, what: &str) -> Result<Reply, Failure> {
    let received = send(session, noun, draft.0)?;
    reply(noun, &received, what)
}

/// What became of a fact that was sent.
pub fn reply(noun: Noun, received: &Received, what: &str) -> Result<Reply, Failure> {
    let stored: Value = received.read()?;
    let named = |field: &str| stored.get(field).map(|value| value.to_string().trim_matches('"').to_owned());
    let name = named("tag").or_else(|| named("id")).unwrap_or_default();
    let revision = named("revision").unwrap_or_default();
    let said = if received.is_new { "Recorded" } else { "On record" };
    let mut reply = Reply { json: received.text.clone(), ..Reply::default() };
    reply.line(format!("{said}: {what} ({noun} {name}, revision {revision})."));
    reply.csv = crate::output::Table::new(["noun", "name", "revision"].map(crate::output::left));
    reply.csv.push([noun.as_str(), &name, &revision].map(crate::output::Cell::plain));
    Ok(reply)
}
