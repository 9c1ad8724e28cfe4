//! What a backup says of itself, and the small file that stands beside it.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::audit::chain::to_hex;

/// The number of the format.
pub const FORMAT: u32 = 1;
/// The database inside a backup.
pub const DATABASE: &str = "preen.db";
/// What it says of itself, inside.
pub const CONTENTS: &str = "backup.json";

/// A club of a backup.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClubLabel {
    /// Its short name.
    pub club: String,
    /// Its revision.
    pub revision: i64,
    /// The hash of the last entry of its trail.
    pub head: String,
}

/// What a backup holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Contents {
    /// The number of the format.
    pub format_number: u32,
    /// When it was made.
    pub made_at: Instant,
    /// The clubs.
    pub clubs: Vec<ClubLabel>,
    /// SHA-256 of the database.
    pub database_sha256: String,
    /// Bytes of the database.
    pub database_bytes: u64,
    /// Pictures in it.
    pub pictures: usize,
    /// Pictures on the list that were lost before.
    pub pictures_lost: usize,
}

/// What stands beside a backup.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Label {
    /// SHA-256 of the backup's file.
    pub sha256: String,
    /// Its bytes.
    pub bytes: u64,
    /// Whether it is locked.
    pub is_sealed: bool,
    /// What it holds.
    pub contents: Contents,
}

/// Where the label of a backup stands.
#[must_use]
pub fn beside(backup: &Path) -> PathBuf {
    let mut name = backup.as_os_str().to_owned();
    name.push(".json");
    PathBuf::from(name)
}

impl Label {
    /// The label of a backup; `None` if it has none.
    pub fn read(backup: &Path) -> io::Result<Option<Self>> {
        match std::fs::read(beside(backup)) {
            Ok(text) => serde_json::from_slice(&text).map(Some).map_err(io::Error::other),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }
}

/// SHA-256 of a file, and its length.
pub fn sha256_of(path: &Path) -> io::Result<(String, u64)> {
    let mut file = File::open(path)?;
    let mut sha = Sha256::new();
    let (mut piece, mut length) = (vec![0_u8; 1 << 16], 0_u64);
    loop {
        let read = file.read(&mut piece)?;
        if read == 0 {
            return Ok((to_hex(&sha.finalize()), length));
        }
        sha.update(piece.get(..read).unwrap_or_default());
        length = length.saturating_add(u64::try_from(read).unwrap_or(u64::MAX));
    }
}

/// Adds up the digest of what is written through it.
pub struct Summing<W> {
    inner: W,
    sha: Sha256,
    length: u64,
}

impl<W: Write> Summing<W> {
    /// Around a writer.
    pub fn new(inner: W) -> Self {
        Self { inner, sha: Sha256::new(), length: 0 }
    }

    /// The writer, the digest and the length of what was written.
    pub fn end(self) -> (W, String, u64) {
        (self.inner, to_hex(&self.sha.finalize()), self.length)
    }
}

impl<W: Write> Write for Summing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.inner.write(bytes)?;
        self.sha.update(bytes.get(..written).unwrap_or_default());
        self.length = self.length.saturating_add(u64::try_from(written).unwrap_or(u64::MAX));
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}
