//! From the database into an archive: all facts and the trail word for word, tables for people, and the pictures.

use std::collections::BTreeSet;
use std::io::{Seek, Write};

use preen_domain::digest::Digest;
use preen_domain::facts::{Correction, Fact, FeedLine, Noun};
use preen_domain::time::Instant;

use crate::audit;
use crate::audit::lines;
use crate::db::conn::Db;
use crate::db::door::{Club, DoorError, Failure as _, Span, bring_up, find_club};
use crate::db::names::Names;
use crate::exchange::archive::cells;
use crate::exchange::archive::head::{ClubHead, FORMAT, FORMAT_NAME, Head};
use crate::exchange::archive::write::{ArchiveWriter, WriteError};
use crate::photos::store::{StoreFault, is_out_of_room};
use crate::problem::Problem;
use crate::resources::nouns::{TABLES, current, fields_of};

/// Revisions read at once.
const STRETCH: i64 = 1_000;

/// Why no archive was made.
#[derive(Debug, thiserror::Error)]
pub enum PackError {
    /// The records cannot be read.
    #[error(transparent)]
    Door(#[from] DoorError),
    /// The file cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A picture cannot be read.
    #[error(transparent)]
    Store(#[from] StoreFault),
}

impl From<diesel::result::Error> for PackError {
    fn from(error: diesel::result::Error) -> Self {
        Self::Door(error.into())
    }
}

impl From<PackError> for Problem {
    fn from(error: PackError) -> Self {
        match error {
            PackError::Door(error) if error.is_full() => Self::StorageFull,
            PackError::Door(error) => error.into(),
            PackError::Store(fault) => fault.into(),
            PackError::Write(WriteError::Io(error)) if is_out_of_room(&error) => Self::StorageFull,
            PackError::Write(error) => Self::Internal(error.to_string()),
        }
    }
}

/// Reads a picture.
pub type Fetch<'a> = dyn FnMut(&Digest) -> Result<Vec<u8>, StoreFault> + 'a;

/// Writes the archive of a club as it stands.
pub fn pack<W: Write + Seek>(
    conn: &mut Db,
    club: &str,
    out: W,
    now: Instant,
    fetch: &mut Fetch<'_>,
) -> Result<(W, Head), PackError> {
    let mut archive = ArchiveWriter::new(out);
    // One state of the records for all of it: nothing may be erased between facts and trail.
    let (mut head, digests, tables) = conn.read_steady(|conn| records(conn, club, now, &mut archive))?;
    // Pictures are named by their content and never change.
    for digest in digests {
        match fetch(&digest) {
            Ok(bytes) => {
                archive.picture(&digest, &bytes)?;
                head.photos += 1;
            }
            Err(StoreFault::Lost(_)) => head.photos_lost.push(digest),
            Err(other) => return Err(other.into()),
        }
    }
    Ok((archive.finish(&head, &tables)?, head))
}

/// A noun and the columns of its table.
type Table = (Noun, Vec<&'static str>);

fn records<W: Write + Seek>(
    conn: &mut Db,
    club: &str,
    now: Instant,
    archive: &mut ArchiveWriter<W>,
) -> Result<(Head, BTreeSet<Digest>, Vec<Table>), PackError> {
    let row = find_club(conn, club)?;
    let mut head = head_of(&row, now);
    head.head = audit::head(conn, club, row.revision)?.hash;
    let mut digests = BTreeSet::new();
    archive.begin_facts()?;
    for span in stretches(row.revision) {
        for recorded in (TABLES.load)(conn, club, span)? {
            note_pictures(&recorded.fact, &mut digests);
            let line = FeedLine::of(&recorded).map_err(|error| DoorError::Broken(error.to_string()))?;
            archive.line(&line)?;
            head.facts += 1;
        }
    }
    archive.begin_trail()?;
    for span in stretches(row.revision) {
        for line in lines::lines(conn, club, span)? {
            archive.line(&line)?;
            head.entries += 1;
        }
    }
    let names = bring_up(conn, TABLES, club, None, None)?.names;
    let tables = Noun::ALL.iter().map(|noun| Ok((*noun, table(conn, club, *noun, &names, archive)?)));
    let tables: Result<Vec<Table>, PackError> = tables.collect();
    Ok((head, digests, tables?))
}

fn head_of(club: &Club, now: Instant) -> Head {
    Head {
        format: FORMAT_NAME.to_owned(),
        format_number: FORMAT,
        club: ClubHead {
            short_name: club.id.clone(),
            id: club.uuid.clone(),
            name: club.name.clone(),
            time_zone: club.time_zone.clone(),
            created_at: Instant::from_micros(club.created_at),
        },
        revision: club.revision,
        head: String::new(),
        exported_at: now,
        facts: 0,
        entries: 0,
        photos: 0,
        photos_lost: Vec::new(),
    }
}

fn stretches(newest: i64) -> impl Iterator<Item = Span> {
    let begins = std::iter::successors(Some(0_i64), |after| Some(after + STRETCH));
    begins
        .take_while(move |after| *after < newest)
        .map(move |after| Span { after, up_to: Some((after + STRETCH).min(newest)) })
}

/// Keeps in mind the picture that a photo names, or a corrected one.
fn note_pictures(fact: &Fact, digests: &mut BTreeSet<Digest>) {
    match fact {
        Fact::Photo(photo) => {
            digests.insert(photo.sha256.clone());
        }
        Fact::Correction(Correction { noun: Noun::Photos, fact: Some(json), .. }) => {
            if let Ok(corrected) = Fact::from_json(Noun::Photos, json.clone()) {
                note_pictures(&corrected, digests);
            }
        }
        _ => {}
    }
}

/// Writes the table of a noun as it stands.
fn table<W: Write + Seek>(
    conn: &mut Db,
    club: &str,
    noun: Noun,
    names: &Names,
    archive: &mut ArchiveWriter<W>,
) -> Result<Vec<&'static str>, PackError> {
    let columns = archive.begin_table(noun, &fields_of(noun))?;
    let tag_of = |id: &str| names.tag_of(id.parse().ok()?).map(ToOwned::to_owned);
    let mut after = None;
    loop {
        let rows = current(conn, club, noun, after)?;
        let Some(last) = rows.last() else { return Ok(columns) };
        after = Some((last.revision, last.fact.id().to_string()));
        for row in &rows {
            let json = serde_json::to_value(row).map_err(|error| DoorError::Broken(error.to_string()))?;
            if let Some(item) = json.as_object() {
                archive.row(cells::row(&columns, item, &tag_of))?;
            }
        }
    }
}
