//! What a client does where no service answers: it knows the club from the last contact, and asks the copy.

use std::cell::{Cell, OnceCell};

use preen_domain::answers::ClubSaid;
use preen_domain::facts::Noun;
use preen_domain::time::Instant;

use super::{Client, Received};
use crate::failure::Failure;
use crate::field::copy::Folder;
use crate::field::from_copy::Copy;
use crate::field::known::{self, Known};
use crate::field::outbox;
use crate::field::place::Folders;
use crate::moments::show_moment;
use crate::settings::Access;

/// How a client may work without its service.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Where copies and outboxes are kept; absent where no folder is known.
    pub folders: Option<Folders>,
    /// What the clock of this machine reads.
    pub local: Instant,
    /// The service is not asked at all.
    pub is_offline: bool,
    /// Where the service cannot be reached, what is recorded waits.
    pub falls_back: bool,
}

/// What a client knows without its service.
pub struct Away {
    setting: Setting,
    access: Access,
    is_away: Cell<bool>,
    copy: OnceCell<Copy>,
}

impl Setting {
    /// For a client that keeps nothing and waits for nothing.
    pub const fn none() -> Self {
        Self { folders: None, local: Instant::from_micros(0), is_offline: false, falls_back: false }
    }
}

impl Away {
    /// Nothing is looked at yet.
    pub fn new(access: &Access, setting: Setting) -> Self {
        let is_away = Cell::new(setting.is_offline);
        Self { setting, access: access.clone(), is_away, copy: OnceCell::new() }
    }
}

impl Client {
    /// Whether the service is not asked, because that was wanted or because it does not answer.
    pub fn is_away(&self) -> bool {
        self.away.is_away.get()
    }

    /// What the clock of this machine reads. It is compared with the service's, never taken for the time.
    pub fn local_now(&self) -> Instant {
        self.away.setting.local
    }

    /// Where copies and outboxes are kept; absent where no folder is known.
    pub fn folders(&self) -> Option<&Folders> {
        self.away.setting.folders.as_ref()
    }

    /// Remembers what the service said of the club.
    pub(super) fn heard(&self, club: &ClubSaid) {
        if let Some(folders) = self.folders() {
            let known = Known { club: club.clone(), heard_at: self.local_now() };
            // Forgetting it costs working without signal until the next contact, and no answer should fail for that.
            let _ = known::remember(&folders.known(), &self.away.access, known);
        }
    }

    /// The club after asking for it failed: as it was last heard, where that will do.
    pub(super) fn fall_back(&self, failure: Failure) -> Result<ClubSaid, Failure> {
        if !self.away.setting.falls_back || !failure.lets_wait() {
            return Err(failure);
        }
        let club = self.club_away().map_err(|_nothing_known| failure)?;
        self.away.is_away.set(true);
        Ok(club)
    }

    /// The club as it was last heard; where nothing is known, it is asked for.
    pub fn club_known(&self) -> Result<ClubSaid, Failure> {
        self.club_away().or_else(|_nothing_known| self.club().cloned())
    }

    /// The club as it was last heard, with the time that it is now.
    pub(super) fn club_away(&self) -> Result<ClubSaid, Failure> {
        let known = self.folders().and_then(|folders| known::last(&folders.known(), &self.away.access));
        let known = known.ok_or_else(|| {
            Failure::bad_input("Nothing is known here of this service and token.")
                .hint("`preen copy` keeps a copy of the record while the service answers.")
        })?;
        let now = known.now(self.local_now());
        Ok(ClubSaid { now, ..known.club })
    }

    /// The copy.
    fn copy(&self) -> Result<&Copy, Failure> {
        if let Some(copy) = self.away.copy.get() {
            return Ok(copy);
        }
        let club = self.club_away()?;
        let folders = self.folders().ok_or_else(no_copy)?;
        let folder = Folder(folders.copy(&self.service(), &club));
        let copy = Copy::open(folder)?.ok_or_else(no_copy)?;
        Ok(self.away.copy.get_or_init(|| copy))
    }

    /// Asks the copy.
    pub(super) fn get_away(&self, path: &[&str], query: &[(&str, String)]) -> Result<Received, Failure> {
        let now = self.club()?.now;
        let text = self.copy()?.answer(path, query, now)?;
        Ok(Received { text, etag: None, is_new: false })
    }

    /// Whether the copy has an item.
    pub(super) fn has_away(&self, path: &[&str]) -> Result<Option<Received>, Failure> {
        let now = self.club()?.now;
        let copy = self.copy()?;
        let is_there = match path {
            [noun, name] => noun.parse::<Noun>().is_ok_and(|noun| copy.has(noun, name, now)),
            _ => false,
        };
        Ok(is_there.then(|| Received { text: "{}".to_owned(), etag: None, is_new: false }))
    }

    /// The tags of a noun's items in the copy.
    pub(super) fn tags_away(&self, noun: Noun) -> Option<Vec<String>> {
        self.copy().ok().map(|copy| copy.tags(noun))
    }

    /// How old the copy is that answers came from, and what waits beside it; nothing where none was asked.
    pub fn age(&self) -> Option<String> {
        let copy = self.away.copy.get()?;
        let label = copy.label();
        let club = self.club().ok()?;
        let waiting = self
            .folders()
            .map(|folders| outbox::count(&folders.outbox(&self.service(), club)))
            .filter(|count| *count > 0)
            .map(|count| format!(" {} not sent yet and not counted.", said_of_count(count)))
            .unwrap_or_default();
        Some(format!(
            "From the copy of {}, revision {}, {} old.{waiting}",
            show_moment(label.club.now, club.time_zone),
            label.revision,
            said_of_age(club.now.seconds_since(label.club.now)),
        ))
    }
}

fn no_copy() -> Failure {
    Failure::bad_input("There is no copy of this club's record here.")
        .hint("`preen copy` makes one while the service answers.")
}

fn said_of_count(count: usize) -> String {
    if count == 1 { "1 entry is".to_owned() } else { format!("{count} entries are") }
}

/// A span for people, in its largest unit.
pub fn said_of_age(seconds: i64) -> String {
    match seconds.max(0) {
        seconds @ 0..60 => format!("{seconds} s"),
        seconds @ 60..3_600 => format!("{} min", seconds / 60),
        seconds @ 3_600..172_800 => format!("{} h", seconds / 3_600),
        seconds => format!("{} days", seconds / 86_400),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ages_are_told_in_their_largest_unit() {
        let told = [-5, 59, 60, 7_199, 90_000, 172_800].map(said_of_age);
        assert_eq!(told, ["0 s", "59 s", "1 min", "1 h", "25 h", "2 days"]);
    }
}
