//! Reading an archive, whoever made it: within limits, and only by names that the format has. What is unpacked is
//! counted while it is unpacked, whatever the archive says of it.

use std::fs::File;
use std::io::{BufRead as _, BufReader, Read};
use std::iter::Peekable;
use std::path::{Path, PathBuf};

use preen_domain::digest::Digest;
use preen_domain::facts::{Fact, FeedLine, MOST_BYTES, Recorded};
use serde::de::DeserializeOwned;
use zip::ZipArchive;
use zip::result::ZipError;

use super::head::{FACTS, FORMAT, FORMAT_NAME, HEAD, Head, TRAIL, is_known, picture_name};
use super::limits::{BadArchive, Limits};
use crate::audit::lines::TrailLine;
use crate::audit::rebuild::Step;

/// Bytes of what an archive says of itself at most.
const MOST_HEAD: u64 = 1 << 20;
/// So long something may be, however small it is packed.
const FREE: u64 = 1 << 20;

impl From<ZipError> for BadArchive {
    fn from(error: ZipError) -> Self {
        match error {
            ZipError::FileNotFound => Self::Other("a part of it is missing".to_owned()),
            ZipError::UnsupportedArchive(text) => {
                Self::Foreign(format!("something packed otherwise ({text})"))
            }
            other => Self::Damaged(other.to_string()),
        }
    }
}

/// An archive whose names and sizes were looked at.
#[derive(Debug)]
pub struct Archive {
    path: PathBuf,
    limits: Limits,
    /// What it says of itself.
    pub head: Head,
}

impl Archive {
    /// Opens one: looks at all names and sizes, and reads what it says of itself.
    ///
    /// # Errors
    /// It is none, or goes beyond the limits.
    pub fn open(path: &Path, limits: Limits) -> Result<Self, BadArchive> {
        let mut zip = open_zip(path, &limits)?;
        check_names(&mut zip, &limits)?;
        let mut text = Vec::new();
        let head = zip.by_name(HEAD).map_err(|error| match error {
            ZipError::FileNotFound => BadArchive::Other(format!("{HEAD} is missing")),
            other => other.into(),
        })?;
        head.take(MOST_HEAD).read_to_end(&mut text).map_err(damaged)?;
        let said: serde_json::Value = serde_json::from_slice(&text)
            .map_err(|error| BadArchive::Other(format!("{HEAD} cannot be read: {error}")))?;
        match said.get("format_number").and_then(serde_json::Value::as_u64).map(u32::try_from) {
            Some(Ok(number)) if number > FORMAT => return Err(BadArchive::TooNew(number)),
            _ => {}
        }
        let head: Head = serde_json::from_value(said)
            .map_err(|error| BadArchive::Other(format!("{HEAD} cannot be read: {error}")))?;
        if head.format != FORMAT_NAME {
            return Err(BadArchive::Other(format!("it calls itself `{}`", head.format)));
        }
        Ok(Self { path: path.to_owned(), limits, head })
    }

    /// Goes through the record, revision by revision.
    ///
    /// # Errors
    /// It cannot be opened; what is wrong further on comes with the steps.
    pub fn each_step<T>(
        &self,
        work: impl FnOnce(&mut dyn Iterator<Item = Result<Step, BadArchive>>) -> T,
    ) -> Result<T, BadArchive> {
        // Two readers, since both files are gone through side by side.
        let mut one = open_zip(&self.path, &self.limits)?;
        let mut other = open_zip(&self.path, &self.limits)?;
        let facts = Lines::new(one.by_name(FACTS)?, FACTS, &self.limits).peekable();
        let trail = Lines::new(other.by_name(TRAIL)?, TRAIL, &self.limits).peekable();
        Ok(work(&mut Steps { trail, facts, most: self.limits.step_lines, is_over: false }))
    }

    /// The bytes of a picture; `None` if it is not in the archive.
    ///
    /// # Errors
    /// It is damaged, or longer than any picture.
    pub fn picture(&self, digest: &Digest) -> Result<Option<Vec<u8>>, BadArchive> {
        let mut zip = open_zip(&self.path, &self.limits)?;
        let file = match zip.by_name(&picture_name(digest)) {
            Err(ZipError::FileNotFound) => return Ok(None),
            file => file?,
        };
        let most = u64::from(MOST_BYTES);
        let mut bytes = Vec::new();
        file.take(most + 1).read_to_end(&mut bytes).map_err(damaged)?;
        if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > most {
            return Err(BadArchive::Beyond(format!("picture {digest} has more than {most} bytes")));
        }
        Ok(Some(bytes))
    }
}

fn damaged(error: impl std::fmt::Display) -> BadArchive {
    BadArchive::Damaged(error.to_string())
}

fn open_zip(path: &Path, limits: &Limits) -> Result<ZipArchive<BufReader<File>>, BadArchive> {
    let unreadable = |error: std::io::Error| BadArchive::Other(format!("{}: {error}", path.display()));
    let file = File::open(path).map_err(unreadable)?;
    let length = file.metadata().map_err(unreadable)?.len();
    if length > limits.packed_bytes {
        let most = limits.packed_bytes;
        return Err(BadArchive::Beyond(format!("it has {length} bytes, and at most {most} are read")));
    }
    Ok(ZipArchive::new(BufReader::new(file))?)
}

/// Looks at names and sizes as the archive gives them, before anything is unpacked.
fn check_names(zip: &mut ZipArchive<BufReader<File>>, limits: &Limits) -> Result<(), BadArchive> {
    if zip.len() > limits.entries {
        let text = format!("{} things are in it, and at most {} are read", zip.len(), limits.entries);
        return Err(BadArchive::Beyond(text));
    }
    if zip.has_duplicate_names() {
        return Err(BadArchive::Foreign("two things by one name".to_owned()));
    }
    let mut all = 0_u64;
    for index in 0..zip.len() {
        let file = zip.by_index_raw(index)?;
        let name = file.name()?.into_owned();
        if !is_known(&name) || file.is_dir() || file.is_symlink() {
            return Err(BadArchive::Foreign(format!("`{}`", name.escape_default())));
        }
        if file.encrypted() {
            return Err(BadArchive::Foreign(format!("`{name}`, locked by a password")));
        }
        let (long, packed) = (file.size(), file.compressed_size());
        if long > limits.entry_bytes {
            let text = format!("{name} has {long} bytes, and at most {} are read", limits.entry_bytes);
            return Err(BadArchive::Beyond(text));
        }
        if long > FREE && long / packed.max(1) > limits.ratio {
            let text = format!(
                "{name} is {} times longer than it is packed, and {} times are allowed",
                long / packed.max(1),
                limits.ratio
            );
            return Err(BadArchive::Beyond(text));
        }
        all = all.saturating_add(long);
    }
    if all > limits.all_bytes {
        let text = format!("all together it has {all} bytes, and at most {} are read", limits.all_bytes);
        return Err(BadArchive::Beyond(text));
    }
    if zip.has_overlapping_files()? {
        return Err(BadArchive::Foreign("things that lie over each other".to_owned()));
    }
    Ok(())
}

/// Lines of JSON.
struct Lines<R: Read> {
    from: BufReader<R>,
    file: &'static str,
    line: u64,
    most_line: u64,
    left: u64,
    is_over: bool,
}

impl<R: Read> Lines<R> {
    fn new(from: R, file: &'static str, limits: &Limits) -> Self {
        let from = BufReader::with_capacity(1 << 16, from);
        Self { from, file, line: 0, most_line: limits.line_bytes, left: limits.entry_bytes, is_over: false }
    }

    fn next_text(&mut self) -> Result<Option<Vec<u8>>, BadArchive> {
        let mut text = Vec::new();
        let most = self.most_line;
        self.from.by_ref().take(most + 1).read_until(b'\n', &mut text).map_err(damaged)?;
        let length = u64::try_from(text.len()).unwrap_or(u64::MAX);
        if length == 0 {
            return Ok(None);
        }
        self.line += 1;
        if length > most {
            let text = format!("line {} of {} has more than {most} bytes", self.line, self.file);
            return Err(BadArchive::Beyond(text));
        }
        self.left = self
            .left
            .checked_sub(length)
            .ok_or_else(|| BadArchive::Beyond(format!("{} is longer than the archive says", self.file)))?;
        Ok(Some(text))
    }

    fn next_line<T: DeserializeOwned>(&mut self) -> Option<Result<T, BadArchive>> {
        if self.is_over {
            return None;
        }
        let read = self.next_text().and_then(|text| {
            let Some(text) = text else { return Ok(None) };
            let (file, line) = (self.file, self.line);
            let wrong = |error: serde_json::Error| BadArchive::Line { file, line, text: error.to_string() };
            serde_json::from_slice(&text).map(Some).map_err(wrong)
        });
        self.is_over = !matches!(read, Ok(Some(_)));
        read.transpose()
    }
}

/// What has a place among the revisions.
trait OfRevision: DeserializeOwned {
    fn revision(&self) -> i64;
}

impl OfRevision for FeedLine {
    fn revision(&self) -> i64 {
        self.revision
    }
}

impl OfRevision for TrailLine {
    fn revision(&self) -> i64 {
        self.revision
    }
}

/// Lines read as what they are.
struct Typed<R: Read, T> {
    lines: Lines<R>,
    shape: std::marker::PhantomData<T>,
}

impl<R: Read, T: OfRevision> Iterator for Typed<R, T> {
    type Item = Result<T, BadArchive>;

    fn next(&mut self) -> Option<Self::Item> {
        self.lines.next_line()
    }
}

impl<R: Read> Lines<R> {
    fn peekable<T: OfRevision>(self) -> Peekable<Typed<R, T>> {
        Typed { lines: self, shape: std::marker::PhantomData }.peekable()
    }
}

/// Trail and facts, put together by revision.
struct Steps<R: Read> {
    trail: Peekable<Typed<R, TrailLine>>,
    facts: Peekable<Typed<R, FeedLine>>,
    most: usize,
    is_over: bool,
}

impl<R: Read> Steps<R> {
    fn step(&mut self) -> Result<Option<Step>, BadArchive> {
        let Some(first) = self.trail.next().transpose()? else {
            return match self.facts.next().transpose()? {
                None => Ok(None),
                Some(fact) => Err(stranger(&fact)),
            };
        };
        let revision = first.revision;
        let mut entries = vec![first];
        gather(&mut self.trail, revision, self.most, &mut entries)?;
        let mut lines = Vec::new();
        gather(&mut self.facts, revision, self.most, &mut lines)?;
        if let Some(Ok(fact)) = self.facts.peek()
            && fact.revision < revision
        {
            return Err(stranger(fact));
        }
        let facts: Result<Vec<Recorded<Fact>>, BadArchive> = lines.into_iter().map(fact_of).collect();
        Ok(Some(Step { entries, facts: facts? }))
    }
}

impl<R: Read> Iterator for Steps<R> {
    type Item = Result<Step, BadArchive>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.is_over {
            return None;
        }
        let step = self.step();
        self.is_over = !matches!(step, Ok(Some(_)));
        step.transpose()
    }
}

/// Takes the lines of a revision.
fn gather<T: OfRevision>(
    from: &mut Peekable<impl Iterator<Item = Result<T, BadArchive>>>,
    revision: i64,
    most: usize,
    into: &mut Vec<T>,
) -> Result<(), BadArchive> {
    while let Some(next) = from.next_if(|next| next.as_ref().map_or(true, |line| line.revision() == revision))
    {
        if into.len() >= most {
            return Err(BadArchive::Beyond(format!("revision {revision} has more than {most} entries")));
        }
        into.push(next?);
    }
    Ok(())
}

fn stranger(fact: &FeedLine) -> BadArchive {
    BadArchive::Other(format!(
        "{FACTS} has one of the {} at revision {}, out of place",
        fact.noun, fact.revision
    ))
}

fn fact_of(line: FeedLine) -> Result<Recorded<Fact>, BadArchive> {
    let (noun, revision) = (line.noun, line.revision);
    line.recorded().map_err(|error| {
        BadArchive::Other(format!("one of the {noun} at revision {revision} cannot be read: {error}"))
    })
}
