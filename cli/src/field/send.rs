//! Sending what waits, and what became of each fact.

use preen_domain::facts::Noun;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::outbox::{Item, Outbox};
use crate::client::Client;
use crate::failure::Failure;

/// Facts in one request at most; the service takes 2,000.
const ITEMS: usize = 500;
/// Letters in one request at most; the service takes 1 MiB.
const LETTERS: usize = 768 * 1024;

/// What the service says of an outbox.
#[derive(Deserialize)]
struct Received {
    clock_ahead_s: Option<i64>,
    results: Vec<One>,
}

#[derive(Deserialize)]
struct One {
    id: Option<String>,
    status: String,
    revision: Option<i64>,
    question: Option<String>,
    problem: Option<Problem>,
}

#[derive(Deserialize)]
struct Problem {
    detail: String,
}

/// What became of a fact.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Became {
    /// Its noun.
    pub noun: Noun,
    /// Its id.
    pub id: Option<String>,
    /// What it is, in a few words.
    pub what: String,
    /// `recorded`, `known`, `question`, `refused` or `waiting`.
    pub status: String,
    /// The revision at which it or its question was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revision: Option<i64>,
    /// The question it is kept as.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub question: Option<String>,
    /// Why it was not recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// What became of an outbox.
#[derive(Debug, Default)]
pub struct Sent {
    /// Each fact that was sent, in order.
    pub results: Vec<Became>,
    /// How far the clock of this machine is ahead of the service's, s.
    pub clock_ahead_s: Option<i64>,
    /// Why the rest still waits.
    pub failure: Option<Failure>,
}

impl Sent {
    /// Whether a person has to look at something.
    pub fn needs_a_person(&self) -> bool {
        self.results.iter().any(|became| became.status == "question" || became.status == "refused")
    }
}

/// Sends what waits before a number, in order, until all is gone or something stands against it. Each fact leaves the outbox only after
/// the service has said what became of it: what it did not mention is sent again.
///
/// # Errors
/// The disk refuses.
pub fn send_all(
    client: &Client,
    outbox: &Outbox,
    before: u64,
    told: &mut dyn FnMut(usize),
) -> Result<Sent, Failure> {
    let (mut items, _) = outbox.waiting();
    items.retain(|item| item.number < before);
    let mut sent = Sent::default();
    let mut rest = items.as_slice();
    while !rest.is_empty() {
        let (parcel, behind) = rest.split_at(parcel_of(rest));
        let facts: Vec<Value> = parcel
            .iter()
            .map(|item| json!({ "noun": item.waiting.noun, "fact": item.waiting.fact }))
            .collect();
        let body = json!({ "sent_at": client.local_now(), "facts": facts });
        let received = client.post(&["facts"], &[], &body).and_then(|answer| answer.read::<Received>());
        let received = match received {
            Ok(received) => received,
            Err(failure) => {
                sent.failure = Some(failure);
                break;
            }
        };
        sent.clock_ahead_s = received.clock_ahead_s.or(sent.clock_ahead_s);
        let mut is_all_settled = received.results.len() == parcel.len();
        for (item, one) in parcel.iter().zip(received.results) {
            let became = settle(outbox, item, one)?;
            is_all_settled &= became.status != "waiting";
            sent.results.push(became);
        }
        told(sent.results.len());
        if !is_all_settled {
            sent.failure = Some(Failure::unreachable("The service did not take in all that was sent."));
            break;
        }
        rest = behind;
    }
    Ok(sent)
}

/// How many of some facts go into one request.
fn parcel_of(items: &[Item]) -> usize {
    let mut letters = 0_usize;
    let fits = |item: &&Item| {
        letters = letters.saturating_add(Value::Object(item.waiting.fact.clone()).to_string().len() + 64);
        letters <= LETTERS
    };
    items.iter().take(ITEMS).take_while(fits).count().max(1)
}

fn settle(outbox: &Outbox, item: &Item, one: One) -> Result<Became, Failure> {
    let own_id = item.waiting.fact.get("id").and_then(Value::as_str);
    let text = one.problem.map(|problem| problem.detail);
    // An answer about another fact settles nothing.
    let is_about_it =
        one.id.as_deref().is_none_or(|id| own_id.is_some_and(|own| own.eq_ignore_ascii_case(id)));
    let status = match one.status.as_str() {
        "recorded" | "known" | "question" if is_about_it => {
            outbox.remove(item)?;
            one.status
        }
        "refused" if is_about_it => {
            outbox.put_aside(item, text.as_deref().unwrap_or("The service gave no reason."))?;
            one.status
        }
        _ => "waiting".to_owned(),
    };
    Ok(Became {
        noun: item.waiting.noun,
        id: own_id.map(ToOwned::to_owned),
        what: item.waiting.what.clone(),
        status,
        revision: one.revision,
        question: one.question,
        text,
    })
}
