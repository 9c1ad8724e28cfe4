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
    all.insert(key(access), known);
    let text = serde_json::to_string(&all)
        .map_err(|error| Failure::bad_input(format!("What was heard cannot be written: {error}.")))?;
    write_whole(file, &text)
        .map_err(|error| Failure::bad_input(format!("{} cannot be written: {error}.", file.display())))
}

fn all(file: &Path) -> BTreeMap<String, Known> {
    fs::read_to_string(file).ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}
