//! Questions answered from a copy, by the functions by which the service answers.

use std::cell::OnceCell;
use std::mem::ManuallyDrop;

use preen_domain::asked::{self, Asked, Finds as _, Refused, Sight, Wanted};
use preen_domain::classes::presets;
use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::{Fleet, Names};
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use preen_domain::worksheets::{Worksheets, worksheets};
use serde::Serialize;

use super::copy::{Folder, Label, arrange};
use crate::failure::{Failure, Kind};

/// A copy, read.
pub struct Copy {
    folder: Folder,
    label: Label,
    facts: OnceCell<Vec<Recorded<Fact>>>,
    /// With the names in it. One command asks one copy and ends: to free it piece by piece would be a quarter of the work.
    arranged: ManuallyDrop<(Fleet, Names)>,
}

impl Copy {
    /// Reads a copy; `None` if there is none.
    ///
    /// # Errors
    /// It cannot be used.
    pub fn open(folder: Folder) -> Result<Option<Self>, Failure> {
        let Some(label) = folder.read_label()? else { return Ok(None) };
        let arranged = ManuallyDrop::new(folder.arranged(&label)?);
        Ok(Some(Self { folder, label, facts: OnceCell::new(), arranged }))
    }

    /// What it is of.
    pub fn label(&self) -> &Label {
        &self.label
    }

    fn member(&self) -> MemberId {
        self.label.club.member_id
    }

    /// Whether an item of a noun has this name, and the member may know of it.
    pub fn has(&self, noun: Noun, name: &str, now: Instant) -> bool {
        Sight::new(&self.arranged.0, &self.arranged.1, self.member(), now).find(noun, name).is_some()
    }

    /// All facts of the copy, which only questions about earlier revisions need.
    fn facts(&self) -> Result<&[Recorded<Fact>], Failure> {
        if self.facts.get().is_none() {
            let facts = self.folder.read_facts(&self.label, self.label.revision)?;
            // Nobody else can have set it meanwhile.
            let _ = self.facts.set(facts);
        }
        Ok(self.facts.get().map(Vec::as_slice).unwrap_or_default())
    }

    /// The tags of a noun's items.
    pub fn tags(&self, noun: Noun) -> Vec<String> {
        self.arranged.1.tags(noun).map(ToOwned::to_owned).collect()
    }

    /// Answers the question behind a path, as JSON text.
    ///
    /// # Errors
    /// A parameter does not fit, what is named is not there, or the copy has no such answer.
    pub fn answer(&self, path: &[&str], query: &[(&str, String)], now: Instant) -> Result<String, Failure> {
        match path {
            ["worksheets"] => return written(&Worksheets { worksheets: worksheets().to_vec() }),
            ["class-presets"] => return written(&presets()),
            _ => {}
        }
        let pairs: Vec<(String, String)> =
            query.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
        let known = match path {
            ["changes"] => &["since"],
            _ => asked::parameters(path).ok_or_else(|| refused(Refused::NoSuchQuestion))?,
        };
        let newest = (&self.arranged.0, &self.arranged.1);
        let wanted = Wanted::read(&pairs, known, newest, self.member(), now).map_err(refused)?;
        let earlier = match wanted.at_revision {
            Some(revision) if revision < self.label.revision => {
                Some(arrange(&self.label.club, self.facts_up_to(revision)?, revision)?)
            }
            Some(_) | None => None,
        };
        let (fleet, names) = earlier.as_ref().map_or(newest, |(fleet, names)| (fleet, names));
        let asked = Asked {
            fleet,
            names,
            moment: wanted.moment,
            member: self.member(),
            sees_all: wanted.sees_all,
            now,
            pairs: &pairs,
        };
        if path == ["changes"] { self.changes(&asked) } else { asked::answer(&asked, path).map_err(refused) }
    }

    fn facts_up_to(&self, revision: i64) -> Result<&[Recorded<Fact>], Failure> {
        let facts = self.facts()?;
        let count = facts.partition_point(|fact| fact.revision <= revision);
        Ok(facts.get(..count).unwrap_or_default())
    }

    fn changes(&self, asked: &Asked<'_>) -> Result<String, Failure> {
        let newest = asked.fleet.revision();
        let since = asked.parameter("since").and_then(|since| since.parse().ok());
        let since: i64 = since.filter(|since| (0..=newest).contains(since)).ok_or_else(|| {
            let text = format!("Send the revision last seen, 0 to {newest}.");
            refused(Refused::parameter("since", text))
        })?;
        let older = self.facts_up_to(since)?;
        let facts = self.facts_up_to(newest)?.get(older.len()..).unwrap_or_default();
        let (before, _) = arrange(&self.label.club, older, since)?;
        let changes = asked::changes(asked, since, &before, facts, older);
        asked::framed(asked, changes).map_err(refused)
    }
}

fn written<T: Serialize>(answer: &T) -> Result<String, Failure> {
    serde_json::to_string(answer)
        .map_err(|error| Failure::bad_input(format!("The answer cannot be written: {error}.")))
}

/// A refusal as the service would have said it.
fn refused(refused: Refused) -> Failure {
    match refused {
        Refused::Parameter { name, text } => Failure::bad_input(format!("Parameter `{name}`: {text}")),
        Refused::NotFound(text) => Failure::bad_input(text),
        Refused::NotAllowed(text) => Failure { kind: Kind::Refused, ..Failure::bad_input(text) },
        Refused::NoSuchQuestion => needs_service(),
    }
}

/// That something cannot be done from a copy.
pub fn needs_service() -> Failure {
    Failure::bad_input("This needs the service: the copy has no answer to it.")
        .hint("Leave --offline out where the service can be reached.")
}
