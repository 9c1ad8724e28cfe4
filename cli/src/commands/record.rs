//! Recording a fact: what all acts have in common.

use preen_domain::facts::Noun;
use serde_json::{Map, Value, json};

use super::Session;
use crate::client::{Client, Received, said_of_age};
use crate::failure::Failure;
use crate::field::outbox::{Item, Outbox, Waiting};
use crate::field::send::{Became, Sent, send_all};
use crate::output::{Reply, say_notes};

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

/// Nouns whose facts may wait in an outbox until the service can be reached.
const FIELD: &[Noun] = &[Noun::Flights, Noun::Riggings, Noun::Inspections, Noun::Measurements, Noun::Defects];

/// Sends a fact and says what became of it; `what` is the fact in a few words. What is logged at the field is safe on
/// disk before it is sent.
pub fn record(session: &mut Session<'_, '_>, noun: Noun, draft: Draft, what: &str) -> Result<Reply, Failure> {
    let folder = match session.client.folders() {
        Some(folders) if FIELD.contains(&noun) => {
            folders.outbox(&session.client.service(), session.client.club()?)
        }
        Some(_) | None => {
            let received = send(session, noun, draft.0)?;
            return reply(noun, &received, what);
        }
    };
    mention(&session.client, noun, &Value::Object(draft.0.clone()));
    let made_at = session.client.now()?;
    let waiting = Waiting { noun, fact: draft.0, what: what.to_owned(), made_at, refused: None };
    let kept_here = Outbox::open(&folder).and_then(|outbox| Ok((outbox.keep(waiting.clone())?, outbox)));
    let (item, outbox) = match kept_here {
        Ok(both) => both,
        Err(failure) if session.client.is_away() => return Err(failure.hint("Nothing was kept.")),
        // The service is there, and keeps it.
        Err(failure) => {
            say_notes(session.io, &[failure.text]);
            let received = send(session, noun, waiting.fact)?;
            return reply(noun, &received, what);
        }
    };
    if session.client.is_away() {
        return Ok(kept(&outbox, &item, None));
    }
    // What waited is older, and this may rest on it.
    if outbox.count() > 1 {
        let sent = send_all(&session.client, &outbox, item.number, &mut |_| {})?;
        let mut notes = told(&sent);
        notes.extend(
            sent.needs_a_person().then(|| "`preen sync --list` shows what needs a person.".to_owned()),
        );
        say_notes(session.io, &notes);
        if let Some(failure) = sent.failure {
            return Ok(kept(&outbox, &item, Some(&failure)));
        }
    }
    let body = Value::Object(item.waiting.fact.clone());
    match session.client.post(&[noun.as_str()], &[], &body) {
        Ok(received) => {
            outbox.remove(&item)?;
            reply(noun, &received, what)
        }
        Err(failure) if failure.lets_wait() => Ok(kept(&outbox, &item, Some(&failure))),
        // Whoever typed it is there to mend it.
        Err(failure) => {
            outbox.remove(&item)?;
            Err(failure)
        }
    }
}

/// That a fact waits, and why.
fn kept(outbox: &Outbox, item: &Item, why: Option<&Failure>) -> Reply {
    let waiting = outbox.count();
    let said = json!({
        "is_sent": false, "waiting": waiting, "noun": item.waiting.noun, "fact": item.waiting.fact,
    });
    let mut reply = Reply { json: said.to_string(), ..Reply::default() };
    reply.line(format!("Kept here, not sent yet: {}.", item.waiting.what));
    if let Some(failure) = why {
        reply.line(failure.text.clone());
    }
    let entries = if waiting == 1 { "1 entry waits".to_owned() } else { format!("{waiting} entries wait") };
    reply.hint(format!("{entries}: `preen sync` sends, once the service can be reached."));
    reply.csv = crate::output::Table::new(["noun", "name", "revision"].map(crate::output::left));
    let name = item.waiting.fact.get("id").and_then(Value::as_str).unwrap_or_default();
    reply.csv.push([item.waiting.noun.as_str(), name, ""].map(crate::output::Cell::plain));
    reply
}

/// What became of facts that waited, a line each where a person should know.
pub fn told(sent: &Sent) -> Vec<String> {
    let arrived = |became: &&Became| became.status == "recorded" || became.status == "known";
    let count = sent.results.iter().filter(arrived).count();
    let mut notes = Vec::new();
    if count > 0 {
        notes.push(match count {
            1 => "1 entry that waited was sent.".to_owned(),
            count => format!("{count} entries that waited were sent."),
        });
    }
    for became in &sent.results {
        let text = became.text.as_deref().unwrap_or_default();
        match became.status.as_str() {
            "question" => notes.push(format!("Became a question: {}. {text}", became.what)),
            "refused" => notes.push(format!("Put aside: {}. {text}", became.what)),
            _ => {}
        }
    }
    if let Some(ahead) = sent.clock_ahead_s.filter(|ahead| ahead.abs() > 120) {
        let way = if ahead > 0 { "ahead of" } else { "behind" };
        let by = said_of_age(ahead.abs());
        notes.push(format!(
            "The clock of this machine is {by} {way} the service's; times came from the latter."
        ));
    }
    notes
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
