//! The Fleet of each club, held in memory at a revision.
//!
//! A writer works on a copy (the parts are shared, so a copy is cheap), and puts it here only after COMMIT.
//! A failed COMMIT forgets the club, so the next one who asks reads it anew.

use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

use preen_domain::fleet::Fleet;
use preen_domain::time::Instant;

use super::names::Names;

/// A Fleet and the revision it stands at.
#[derive(Clone)]
pub struct Held {
    /// The newest revision whose facts are in `fleet`.
    pub revision: i64,
    /// Everything the club has recorded, arranged for answering.
    pub fleet: Arc<Fleet>,
    /// The ids and tags of its items.
    pub names: Names,
    /// The hash of the trail's last entry.
    pub head: String,
    /// When that was recorded.
    pub head_at: Option<Instant>,
}

/// The clubs held.
#[derive(Default)]
pub struct Shelf {
    clubs: RwLock<HashMap<String, Held>>,
}

impl Shelf {
    /// What is held of a club.
    pub fn get(&self, club: &str) -> Option<Held> {
        self.clubs.read().unwrap_or_else(PoisonError::into_inner).get(club).cloned()
    }

    /// Puts a newer Fleet in the place of an older one.
    pub fn publish(&self, club: &str, held: Held) {
        let mut clubs = self.clubs.write().unwrap_or_else(PoisonError::into_inner);
        let is_newer = clubs.get(club).is_none_or(|now| now.revision < held.revision);
        if is_newer {
            clubs.insert(club.to_owned(), held);
        }
    }

    /// Forgets what is held of a club if it still ends with this entry of the trail: the record no longer has it.
    pub fn forget_void(&self, club: &str, head: &str) {
        let mut clubs = self.clubs.write().unwrap_or_else(PoisonError::into_inner);
        if clubs.get(club).is_some_and(|now| now.head == head) {
            clubs.remove(club);
        }
    }

    /// Forgets a club; the next reader loads it anew.
    pub fn forget(&self, club: &str) {
        self.clubs.write().unwrap_or_else(PoisonError::into_inner).remove(club);
    }
}
