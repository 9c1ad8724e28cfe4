//! The copy of a club's record on disk: the feed as it came, and a small file that says how much of it counts.
//!
//! Facts are only ever added at the end, and the small file is replaced in one step after they are safe on disk, so that
//! a broken transfer, a kill or a power cut leaves an older copy, never a torn one.

use std::collections::HashMap;
use std::fs;
use std::io::{self, BufRead as _, BufReader, Read, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use preen_domain::answers::ClubSaid;
use preen_domain::facts::{Fact, FeedLine, Noun, Recorded};
use preen_domain::fleet::{self, Fleet, Names};
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::snapshot;
use crate::failure::Failure;
use crate::files::{make_folder, private, write_whole};

/// The shape of copies that this program writes.
const FORMAT: u32 = 1;
/// Bytes of a line of the feed at most.
const MOST_LINE: u64 = 8 << 20;

/// What a copy is of, and how much of it counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Label {
    /// The shape of the copy.
    pub format: u32,
    /// The service it came from.
    pub url: String,
    /// The club and member, as the service said when the copy was last brought up to date.
    pub club: ClubSaid,
    /// What the clock of this machine read then.
    pub taken_at: Instant,
    /// The revision it stands at.
    pub revision: i64,
    /// Bytes of the facts that count.
    pub bytes: u64,
    /// How many facts these are.
    pub facts: u64,
    /// The last of them; unknown of a copy that an earlier version of this program wrote.
    #[serde(default)]
    pub last: Option<Entry>,
}

/// What no other fact has in common with one: a record that lost its newest changes has none that is like it in all this.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// The revision at which it was recorded.
    pub revision: i64,
    /// Its id.
    pub id: Uuid,
    /// When it was recorded.
    pub recorded_at: Instant,
}

impl Entry {
    fn of(fact: &Recorded<Fact>) -> Self {
        Self { revision: fact.revision, id: fact.fact.id(), recorded_at: fact.recorded_at }
    }
}

impl Label {
    /// The revision behind which the feed is asked for: with the last that is here once more, to see whether the record
    /// still has it.
    pub fn since(&self) -> i64 {
        self.last.as_ref().map_or(self.revision, |last| last.revision - 1)
    }
}

/// The folder of a copy.
pub struct Folder(pub PathBuf);

impl Folder {
    fn label(&self) -> PathBuf {
        self.0.join("copy.json")
    }

    fn facts(&self) -> PathBuf {
        self.0.join("facts.ndjson")
    }

    fn snapshot(&self) -> PathBuf {
        self.0.join("fleet.snapshot")
    }

    /// What a copy held of a record that is another now, until it is known what that lacks.
    fn set_aside(&self) -> PathBuf {
        self.0.join("before.ndjson")
    }

    /// Facts that are on no record any more.
    pub fn lost(&self) -> PathBuf {
        self.0.join("lost.ndjson")
    }

    fn unusable(&self, why: &str) -> Failure {
        Failure::bad_input(format!("The copy in {} cannot be used: {why}.", self.0.display()))
            .hint("`preen copy --anew` makes it anew while the service answers.")
    }

    /// What there is of it; `None` if there is none.
    ///
    /// # Errors
    /// It cannot be read, or another version of this program wrote it.
    pub fn read_label(&self) -> Result<Option<Label>, Failure> {
        let text = match fs::read_to_string(self.label()) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(self.unusable(&error.to_string())),
        };
        let label: Label = serde_json::from_str(&text).map_err(|error| self.unusable(&error.to_string()))?;
        if label.format == FORMAT {
            Ok(Some(label))
        } else {
            Err(self.unusable(&format!("it has format {}, this program knows {FORMAT}", label.format)))
        }
    }

    /// Throws it away, and with `all` what it once had that is on no record any more.
    ///
    /// # Errors
    /// It cannot be removed.
    pub fn remove(&self, all: bool) -> Result<(), Failure> {
        let beside = [self.set_aside(), self.lost()].into_iter().filter(|_| all);
        for file in [self.label(), self.snapshot(), self.facts()].into_iter().chain(beside) {
            match fs::remove_file(&file) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    return Err(Failure::bad_input(format!(
                        "{} cannot be removed: {error}.",
                        file.display()
                    )));
                }
                Ok(()) | Err(_) => {}
            }
        }
        Ok(())
    }

    /// Takes in lines of the feed behind [`Label::since`]; `said` is what the service said of the club just before, `told`
    /// hears how many lines have come. A feed that breaks off leaves all whole revisions that came. `None` if the record no
    /// longer has what the copy ends with: a server came back without its newest changes.
    ///
    /// # Errors
    /// The feed breaks off or makes no sense, or the disk refuses.
    pub fn take_in(
        &self,
        feed: impl Read,
        start: &Label,
        said: &ClubSaid,
        local: Instant,
        told: &mut dyn FnMut(u64),
    ) -> Result<Option<Label>, Failure> {
        let refused = |error: io::Error| {
            Failure::bad_input(format!("The copy in {} cannot be written: {error}.", self.0.display()))
        };
        make_folder(&self.0).map_err(refused)?;
        let mut file =
            private().write(true).create(true).truncate(false).open(self.facts()).map_err(refused)?;
        file.set_len(start.bytes).map_err(refused)?;
        file.seek(SeekFrom::End(0)).map_err(refused)?;
        let mut out = io::BufWriter::new(file);
        // What counts so far, and the same without the newest revision, which may still be incomplete.
        let (mut all, mut whole) = (start.clone(), start.clone());
        let mut broken = None;
        let mut sought = start.last.as_ref();
        let mut feed = BufReader::new(feed);
        let mut line = String::new();
        loop {
            line.clear();
            match feed.by_ref().take(MOST_LINE).read_line(&mut line) {
                Ok(0) => break,
                Ok(_) if !line.ends_with('\n') => {
                    broken = Some("it breaks off in the middle of a line".to_owned());
                    break;
                }
                Ok(_) => {}
                Err(error) => {
                    broken = Some(error.to_string());
                    break;
                }
            }
            let read = serde_json::from_str::<FeedLine>(&line).and_then(FeedLine::recorded);
            let fact = match read {
                Ok(fact) if start.last.as_ref().is_some_and(|last| fact.revision == last.revision) => {
                    sought = sought.filter(|last| **last != Entry::of(&fact));
                    continue;
                }
                Ok(_) if sought.is_some() => return Ok(None),
                Ok(fact) if fact.revision >= all.revision => fact,
                Ok(fact) => {
                    broken = Some(format!("revision {} comes after {}", fact.revision, all.revision));
                    break;
                }
                Err(error) => {
                    broken = Some(format!("a line is no fact that this program knows: {error}"));
                    break;
                }
            };
            if fact.revision > all.revision {
                whole = all.clone();
            }
            out.write_all(line.as_bytes()).map_err(refused)?;
            all.revision = fact.revision;
            all.bytes += u64::try_from(line.len()).unwrap_or_default();
            all.facts += 1;
            all.last = Some(Entry::of(&fact));
            told(all.facts - start.facts);
        }
        if sought.is_some() && broken.is_none() {
            return Ok(None);
        }
        let file = out.into_inner().map_err(|error| refused(error.into_error()))?;
        let mut label = if broken.is_some() { whole } else { all };
        file.set_len(label.bytes).and_then(|()| file.sync_all()).map_err(refused)?;
        if broken.is_none() {
            // Revisions without a fact, such as those of tokens, are in it too.
            label.revision = label.revision.max(said.revision);
            (label.club, label.taken_at) = (said.clone(), local);
        }
        if label.bytes > start.bytes || broken.is_none() {
            let text =
                serde_json::to_string_pretty(&label).map_err(|error| self.unusable(&error.to_string()))?;
            write_whole(&self.label(), &text).map_err(refused)?;
        }
        match broken {
            None => Ok(Some(label)),
            Some(why) => Err(Failure::unreachable(format!("The feed was not read to its end: {why}."))
                .hint("`preen copy` goes on from what has come.")),
        }
    }

    /// Puts the facts of a copy aside whose record is another now, and forgets the rest of it: the copy begins anew.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn begin_anew(&self, label: &Label) -> Result<(), Failure> {
        let refused = |error: io::Error| self.unusable(&error.to_string());
        let facts = fs::File::open(self.facts()).map_err(refused)?;
        let mut aside = private().append(true).create(true).open(self.set_aside()).map_err(refused)?;
        io::copy(&mut facts.take(label.bytes), &mut aside).and_then(|_| aside.sync_all()).map_err(refused)?;
        self.remove(false)
    }

    /// Keeps those of the facts that were put aside which the record does not have, and says how many there are. Entries of
    /// members are left out, as they hold names.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn keep_lost(&self, record: &[Recorded<Fact>]) -> Result<usize, Failure> {
        let refused = |error: io::Error| self.unusable(&error.to_string());
        let aside = match fs::File::open(self.set_aside()) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(0),
            opened => opened.map_err(refused)?,
        };
        let mut known: HashMap<Uuid, Vec<&Fact>> = HashMap::new();
        for recorded in record {
            known.entry(recorded.fact.id()).or_default().push(&recorded.fact);
        }
        let mut lost = private().append(true).create(true).open(self.lost()).map_err(refused)?;
        let mut count = 0;
        for line in BufReader::new(aside).lines() {
            let line = line.map_err(refused)?;
            let read = serde_json::from_str::<FeedLine>(&line).and_then(FeedLine::recorded);
            let Ok(fact) = read.map(|recorded| recorded.fact) else { continue };
            let is_known = known.get(&fact.id()).is_some_and(|facts| facts.contains(&&fact));
            if !is_known && fact.noun() != Noun::Members {
                writeln!(lost, "{line}").map_err(refused)?;
                count += 1;
            }
        }
        lost.sync_all().and_then(|()| fs::remove_file(self.set_aside())).map_err(refused)?;
        Ok(count)
    }

    /// A label to start from, of nothing.
    pub fn blank(url: &str, said: &ClubSaid, local: Instant) -> Label {
        Label {
            format: FORMAT,
            url: url.to_owned(),
            club: said.clone(),
            taken_at: local,
            revision: 0,
            bytes: 0,
            facts: 0,
            last: None,
        }
    }

    /// The facts of the copy up to a revision, oldest first.
    ///
    /// # Errors
    /// They cannot be read.
    pub fn read_facts(&self, label: &Label, up_to: i64) -> Result<Vec<Recorded<Fact>>, Failure> {
        let file = fs::File::open(self.facts()).map_err(|error| self.unusable(&error.to_string()))?;
        let mut facts = Vec::new();
        for line in BufReader::new(file.take(label.bytes)).lines() {
            let line = line.map_err(|error| self.unusable(&error.to_string()))?;
            let fact = serde_json::from_str::<FeedLine>(&line).and_then(FeedLine::recorded);
            let fact = fact.map_err(|error| self.unusable(&error.to_string()))?;
            if fact.revision > up_to {
                break;
            }
            facts.push(fact);
        }
        if up_to >= label.revision && u64::try_from(facts.len()).ok() != Some(label.facts) {
            return Err(self.unusable(&format!("it holds {} facts of {}", facts.len(), label.facts)));
        }
        Ok(facts)
    }

    /// The Fleet of the copy and the names in it, arranged already or from its facts.
    ///
    /// # Errors
    /// The copy cannot be read.
    pub fn arranged(&self, label: &Label) -> Result<(Fleet, Names), Failure> {
        // A copy that lost its end is told, whatever was made of it before.
        let is_there = fs::metadata(self.facts()).is_ok_and(|facts| facts.len() >= label.bytes);
        match snapshot::read(&self.snapshot(), label).filter(|_| is_there) {
            Some(arranged) => Ok(arranged),
            None => arrange(&label.club, &self.read_facts(label, label.revision)?, label.revision),
        }
    }

    /// Arranges the copy, of these facts, for the questions to come, where that was not done yet. Losing it costs nothing
    /// but time, and no copy should fail for that.
    ///
    /// # Errors
    /// The club's short name is none.
    pub fn keep_arranged(&self, label: &Label, facts: &[Recorded<Fact>]) -> Result<(), Failure> {
        if !snapshot::fits(&self.snapshot(), label) {
            let (fleet, names) = arrange(&label.club, facts, label.revision)?;
            let _ = snapshot::write(&self.snapshot(), label, &fleet, &names);
        }
        Ok(())
    }

    /// The path for people.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

/// The Fleet of some facts at a revision, with the names in it.
///
/// # Errors
/// The club's short name is none.
pub fn arrange(said: &ClubSaid, facts: &[Recorded<Fact>], revision: i64) -> Result<(Fleet, Names), Failure> {
    let club =
        said.club().map_err(|error| Failure::bad_input(format!("The club `{}` {error}.", said.club)))?;
    Ok(fleet::arrange(club, facts, revision))
}
