//! The Fleet of a copy, arranged already, so that a question need not read the whole record anew. It is made beside the
//! copy and never instead of it: what is missing, older, or of another version of this program is passed over, and the
//! copy is arranged from its facts.

use std::fs;
use std::io;
use std::path::Path;

use preen_domain::fleet::{Fleet, Names};
use serde::{Deserialize, Serialize};

use super::copy::{Entry, Label};
use crate::files::write_bytes;

/// The shape of snapshots that this program writes; another with each change of what the Fleet keeps.
const FORMAT: u32 = 3;

/// What a snapshot is of.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct Head {
    format: u32,
    program: String,
    club: String,
    revision: i64,
    bytes: u64,
    facts: u64,
    last: Option<Entry>,
}

impl Head {
    fn of(label: &Label) -> Self {
        Self {
            format: FORMAT,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            club: label.club.club_id.to_string(),
            revision: label.revision,
            bytes: label.bytes,
            facts: label.facts,
            last: label.last.clone(),
        }
    }
}

/// Writes it in one step.
///
/// # Errors
/// The disk refuses.
pub fn write(file: &Path, label: &Label, fleet: &Fleet, names: &Names) -> io::Result<()> {
    let head = rmp_serde::to_vec_named(&Head::of(label)).map_err(io::Error::other)?;
    let body = rmp_serde::to_vec_named(&(fleet, names)).map_err(io::Error::other)?;
    write_bytes(file, &[head, body].concat())
}

/// Whether it is of the copy with this label, as its head says.
pub fn fits(file: &Path, label: &Label) -> bool {
    let head = fs::File::open(file).ok().and_then(|file| rmp_serde::from_read(io::BufReader::new(file)).ok());
    head.is_some_and(|head: Head| head == Head::of(label))
}

/// The Fleet and names of the copy with this label, if they are there.
pub fn read(file: &Path, label: &Label) -> Option<(Fleet, Names)> {
    let bytes = fs::read(file).ok()?;
    let mut reader = rmp_serde::Deserializer::from_read_ref(&bytes);
    // The head alone first: the rest of another version may not even be readable.
    if Head::deserialize(&mut reader).ok()? != Head::of(label) {
        return None;
    }
    Deserialize::deserialize(&mut reader).ok()
}
