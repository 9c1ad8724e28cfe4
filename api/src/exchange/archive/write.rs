//! Writing an archive, piece by piece: nothing of it stands in memory whole.

use std::io::{Seek, Write};

use preen_domain::digest::Digest;
use preen_domain::facts::Noun;
use serde::Serialize;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::cells::columns;
use super::head::{FACTS, HEAD, Head, README, TRAIL, picture_name, table_name};

/// Why an archive could not be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The file does not take it.
    #[error("the archive cannot be written: {0}")]
    Io(#[from] std::io::Error),
    /// Its parts do not fit together.
    #[error("the archive cannot be written: {0}")]
    Zip(ZipError),
    /// A line cannot be written.
    #[error("the archive cannot be written: {0}")]
    Line(String),
}

impl From<ZipError> for WriteError {
    fn from(error: ZipError) -> Self {
        match error {
            ZipError::Io(error) => Self::Io(error),
            other => Self::Zip(other),
        }
    }
}

/// An archive that is being written.
pub struct ArchiveWriter<W: Write + Seek> {
    zip: ZipWriter<W>,
}

impl<W: Write + Seek> ArchiveWriter<W> {
    /// Begins one.
    pub fn new(out: W) -> Self {
        Self { zip: ZipWriter::new(out) }
    }

    /// Begins one of its files; what is written next goes there.
    pub fn begin(&mut self, name: &str) -> Result<(), WriteError> {
        self.zip.start_file(name, packed().large_file(true))?;
        Ok(())
    }

    /// Begins the facts.
    pub fn begin_facts(&mut self) -> Result<(), WriteError> {
        self.begin(FACTS)
    }

    /// Begins the trail.
    pub fn begin_trail(&mut self) -> Result<(), WriteError> {
        self.begin(TRAIL)
    }

    /// Writes one line of JSON.
    pub fn line(&mut self, line: &impl Serialize) -> Result<(), WriteError> {
        let mut text = serde_json::to_vec(line).map_err(|error| WriteError::Line(error.to_string()))?;
        text.push(b'\n');
        Ok(self.zip.write_all(&text)?)
    }

    /// Writes one row of a table.
    pub fn row<C: AsRef<[u8]>>(&mut self, cells: impl IntoIterator<Item = C>) -> Result<(), WriteError> {
        let mut table = csv::Writer::from_writer(Vec::new());
        let wrong = |error: String| WriteError::Line(error);
        table.write_record(cells).map_err(|error| wrong(error.to_string()))?;
        let line = table.into_inner().map_err(|error| wrong(error.to_string()))?;
        Ok(self.zip.write_all(&line)?)
    }

    /// Begins the table of a noun with its header.
    pub fn begin_table(
        &mut self,
        noun: Noun,
        fields: &[&'static str],
    ) -> Result<Vec<&'static str>, WriteError> {
        self.begin(&table_name(noun))?;
        let columns = columns(fields);
        self.row(&columns)?;
        Ok(columns)
    }

    /// Writes a text as a file of its own.
    pub fn text(&mut self, name: &str, text: &str) -> Result<(), WriteError> {
        self.begin(name)?;
        Ok(self.zip.write_all(text.as_bytes())?)
    }

    /// Writes a picture, which is packed already.
    pub fn picture(&mut self, digest: &Digest, bytes: &[u8]) -> Result<(), WriteError> {
        let as_it_is = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        self.zip.start_file(picture_name(digest), as_it_is)?;
        Ok(self.zip.write_all(bytes)?)
    }

    /// Writes what it says of itself, and the text for people, and ends.
    pub fn finish(mut self, head: &Head, tables: &[(Noun, Vec<&'static str>)]) -> Result<W, WriteError> {
        let json = serde_json::to_string_pretty(head).map_err(|error| WriteError::Line(error.to_string()))?;
        self.text(HEAD, &json)?;
        self.text(README, &readme(head, tables))?;
        self.end()
    }

    /// Ends.
    pub fn end(self) -> Result<W, WriteError> {
        Ok(self.zip.finish()?)
    }
}

fn packed() -> SimpleFileOptions {
    SimpleFileOptions::default().compression_method(CompressionMethod::Deflated)
}

/// What each file of the archive holds, in words.
fn readme(head: &Head, tables: &[(Noun, Vec<&'static str>)]) -> String {
    let listed: String = tables
        .iter()
        .map(|(noun, columns)| format!("  csv/{noun}.csv\n    {}\n", columns.join(", ")))
        .collect();
    let Head { club, revision, head, exported_at, .. } = head;
    format!(
        "The record of the club {name} ({short}), all of it, as it stood at revision {revision}.\n\
         Made on {exported_at}. Head of the trail: {head}\n\n\
         `preen-server import FILE --database URL` puts it into a database that does not have this club yet; every\n\
         answer is then the same as before. Passwords, sessions and access tokens are not in it.\n\n\
         {HEAD}\n  Format, club, time zone, newest revision, head of the trail, counts. Pictures that were lost.\n\
         {FACTS}\n  Every fact ever recorded, one JSON object a line, oldest first: revision, noun, recorded_at,\n  \
         recorded_by, fact. Instants are UTC (RFC 3339), days belong to the club's time zone, each number has its\n  \
         unit in its name.\n\
         {TRAIL}\n  Every entry of the chained trail, one JSON object a line. `hash` is SHA-256 over the entry and the\n  \
         hash before; `digest` is SHA-256 over salt and payload. `made_of` is missing where it was erased.\n\
         photos/\n  The pictures of photos, named by the SHA-256 of their content.\n\
         csv/\n  One table for each noun as it stands now, for people and spreadsheets (UTF-8, commas, RFC 4180). Other\n  \
         items are shown by their tag where they have one. Lists are joined by `; `, what is nested deeper stands\n  \
         as JSON. A text that begins like a formula has an apostrophe before it. The columns:\n{listed}",
        name = club.name,
        short = club.short_name,
    )
}
