//! What was last heard of a club by a token, so that there is a zone, a member and a time where no service answers.
//! Losing the file costs nothing but working without signal until the next contact. It holds no token, only a
//! fingerprint of one.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use preen_domain::answers::ClubSaid;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};

use super::place::fingerprint;
use crate::failure::Failure;
use crate::files::write_whole;
use crate::settings::Access;

/// What was heard, and when by the clock of this machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// What the service said.
    pub club: ClubSaid,
    /// What the clock of this machine read then.
    pub heard_at: Instant,
}

impl Known {
    /// The service's time as far as it can be told now: what it said, and what has passed since by the clock of this
    /// machine. A clock that was put back makes no time pass.
    ///
    /// How far that clock is off does not matter, only that it goes on evenly.
    pub fn now(&self, local: Instant) -> Instant {
        let passed = (local.micros() - self.heard_at.micros()).max(0);
        Instant::from_micros(self.club.now.micros() + passed)
    }
}

/// How far the time reckoned from what is remembered may be from what is heard, before that is remembered instead, µs.
const DRIFT_US: i64 = 1_000_000;

/// Whether what is remembered says the same as what was heard, and reckons the same time: then nothing needs writing.
fn is_up_to_date(remembered: &Known, heard: &Known) -> bool {
    let same_but = ClubSaid { now: heard.club.now, revision: heard.club.revision, ..remembered.club.clone() };
    let reckoned = remembered.now(heard.heard_at).micros();
    let is_near = (reckoned - heard.club.now.micros()).abs() <= DRIFT_US;
    same_but == heard.club && is_near && heard.heard_at >= remembered.heard_at
}

fn key(access: &Access) -> String {
    fingerprint(&["preen access 1", &access.url, access.token.as_deref().unwrap_or_default()])
}

/// What was last heard by an access.
pub fn last(file: &Path, access: &Access) -> Option<Known> {
    all(file).remove(&key(access))
}

/// Remembers what was heard.
///
/// # Errors
/// The file cannot be written.
pub fn remember(file: &Path, access: &Access, known: Known) -> Result<(), Failure> {
    let mut all = all(file);
    let key = key(access);
    if all.get(&key).is_some_and(|remembered| is_up_to_date(remembered, &known)) {
        return Ok(());
    }
    all.insert(key, known);
    let text = serde_json::to_string(&all)
        .map_err(|error| Failure::bad_input(format!("What was heard cannot be written: {error}.")))?;
    write_whole(file, &text)
        .map_err(|error| Failure::bad_input(format!("{} cannot be written: {error}.", file.display())))
}

fn all(file: &Path) -> BTreeMap<String, Known> {
    fs::read_to_string(file).ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}
