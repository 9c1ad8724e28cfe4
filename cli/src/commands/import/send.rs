//! Rows on their way: as many at once as the service takes, and what it says of each.

use preen_domain::facts::Noun;
use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::file::Verdicts;
use crate::client::Client;
use crate::failure::Failure;

/// Rows that may stand or fall together.
pub const TOGETHER: usize = 20_000;
/// Letters of one request at most; the service takes 16 MiB.
const LETTERS: usize = 14 << 20;
/// Rows of one request where each stands for itself.
const AT_ONCE: usize = 2_000;

#[derive(Deserialize)]
struct Received {
    results: Vec<One>,
}

#[derive(Deserialize)]
struct One {
    status: String,
    problem: Option<Problem>,
}

#[derive(Deserialize)]
struct Problem {
    detail: String,
}

/// Rows that wait to be sent.
pub struct Parcels {
    noun: Noun,
    is_recorded: bool,
    is_each: bool,
    rows: Vec<(u64, Map<String, Value>)>,
    letters: usize,
    missed: bool,
    has_sent: bool,
}

impl Parcels {
    /// None yet.
    pub fn new(noun: Noun, is_recorded: bool, is_each: bool) -> Self {
        Self { noun, is_recorded, is_each, rows: Vec::new(), letters: 0, missed: false, has_sent: false }
    }

    /// A row that is ready.
    pub fn push(&mut self, number: u64, fact: Map<String, Value>) {
        // Near enough, and much cheaper than writing it out.
        self.letters += fact.iter().map(|(name, value)| name.len() + 8 + length(value)).sum::<usize>() + 48;
        self.rows.push((number, fact));
    }

    /// A row that cannot be read.
    pub fn miss(&mut self) {
        self.missed = true;
    }

    /// Whether what waits has to go now.
    ///
    /// # Errors
    /// All rows are to stand or fall together, and there are too many for that.
    pub fn is_full(&self) -> Result<bool, Failure> {
        let is_one = self.is_recorded && !self.is_each;
        let most = if self.is_recorded && self.is_each { AT_ONCE } else { TOGETHER };
        let is_full = self.rows.len() >= most || self.letters >= LETTERS;
        if is_one && is_full {
            return Err(Failure::bad_input(format!(
                "All rows or none works up to {TOGETHER} rows or {} MiB; nothing is recorded.",
                LETTERS >> 20
            ))
            .hint("--each records each row for itself; the same command takes up what broke off."));
        }
        Ok(is_full)
    }

    /// Sends what waits and notes the verdicts.
    ///
    /// # Errors
    /// The service cannot be reached or is busy: what was recorded before is.
    pub fn send(&mut self, client: &Client, verdicts: &mut Verdicts) -> Result<(), Failure> {
        if self.rows.is_empty() {
            return Ok(());
        }
        // A row that cannot be read keeps all others back where they stand together.
        let is_tried = !self.is_recorded || (!self.is_each && self.missed);
        let mode = if self.is_each || !self.is_recorded { "rows" } else { "all" };
        let mut query = vec![("mode", mode.to_owned())];
        query.extend(is_tried.then(|| ("preview", "true".to_owned())));
        let facts: Vec<Value> =
            self.rows.iter().map(|(_, fact)| json!({ "noun": self.noun, "fact": fact })).collect();
        let body = json!({ "facts": facts });
        let sent = client.post(&["facts"], &query, &body).and_then(|answer| answer.read::<Received>());
        let received = sent.map_err(|failure| self.broke_off(failure, verdicts))?;
        if received.results.len() != self.rows.len() {
            let text = "The service did not say what became of every row.";
            return Err(self.broke_off(Failure::unreachable(text), verdicts));
        }
        for ((number, _), one) in self.rows.iter().zip(received.results) {
            if one.status == "try_again" {
                let text = format!("The service could not take in row {number}: it is busy or has no room.");
                return Err(self.broke_off(Failure::unreachable(text), verdicts));
            }
            let why = one.problem.map(|problem| problem.detail).unwrap_or_default();
            verdicts.add(*number, &one.status, &why)?;
        }
        self.has_sent = true;
        self.rows.clear();
        self.letters = 0;
        Ok(())
    }

    fn broke_off(&self, failure: Failure, verdicts: &Verdicts) -> Failure {
        if self.is_recorded && self.is_each && self.has_sent {
            let done = verdicts.count();
            failure.hint(format!("{done} rows are through; the same command goes on where it broke off."))
        } else {
            failure
        }
    }
}

fn length(value: &Value) -> usize {
    match value {
        Value::String(text) => text.len() + text.len() / 8,
        Value::Array(list) => list.iter().map(length).sum::<usize>() + list.len(),
        Value::Object(fields) => fields.iter().map(|(name, value)| name.len() + 4 + length(value)).sum(),
        Value::Null | Value::Bool(_) | Value::Number(_) => 20,
    }
}
