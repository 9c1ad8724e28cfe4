//! The Fleet of each club, held in memory at a revision.
//!
//! A writer works on a copy (the parts are shared, so a copy is cheap), and puts it here only after COMMIT.
//! A failed COMMIT forgets the club, so the next one who asks reads it anew.
//!
//! What is held is kept to a limit in bytes, by estimate ([`Fleet::bytes`]): the club nobody has asked for the longest
//! goes first, never the one that was put here just now. It only costs time: who asks next reads it from the database.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock, Weak};

use preen_domain::fleet::Fleet;
use preen_domain::time::Instant;

use super::meters::DoorMeters;
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

/// After how many revisions a Fleet is sized up anew, if it has few; in between it grows by [`REVISION_BYTES`] for each.
const SIZED_FOR: i64 = 256;
/// Of a long record, after what part of its revisions: looking through all of it takes as long as it is.
const SIZED_PART: i64 = 16;
/// What a revision adds, roughly.
const REVISION_BYTES: u64 = 800;

/// A club that is held.
struct Slot {
    held: Held,
    bytes: u64,
    sized_at: i64,
    /// The turn at which it was asked for last.
    asked: AtomicU64,
}

#[derive(Default)]
struct Clubs {
    slots: HashMap<String, Slot>,
    bytes: u64,
    /// The newest revision of a club that was ever here: an older one, read while it was let go, must not take its
    /// place. Kept only where nobody looks whether what is held is the newest.
    newest: HashMap<String, i64>,
}

impl Clubs {
    fn put(&mut self, club: &str, slot: Slot) -> Option<Slot> {
        self.bytes += slot.bytes;
        let old = self.slots.insert(club.to_owned(), slot);
        self.bytes -= old.as_ref().map_or(0, |old| old.bytes);
        old
    }

    fn take(&mut self, club: &str) -> Option<Slot> {
        let slot = self.slots.remove(club)?;
        self.bytes -= slot.bytes;
        Some(slot)
    }

    /// Takes out what nobody has asked for the longest until the rest fits, or only `but` is left.
    fn let_go(&mut self, limit: u64, but: &str) -> Vec<Slot> {
        let mut gone = Vec::new();
        while self.bytes > limit {
            let others = self.slots.iter().filter(|(club, _)| *club != but);
            let longest = others.min_by_key(|(_, slot)| slot.asked.load(Ordering::Relaxed));
            let Some(club) = longest.map(|(club, _)| club.clone()) else { break };
            gone.extend(self.take(&club));
        }
        gone
    }
}

/// The clubs held.
pub struct Shelf {
    clubs: RwLock<Clubs>,
    limit: AtomicU64,
    turn: AtomicU64,
    is_shared: bool,
    /// Clubs that are being read from nothing.
    reading: Mutex<HashMap<String, Weak<Mutex<()>>>>,
    /// What the door counts; here since those who read and those who write meet here.
    pub meters: DoorMeters,
}

impl Shelf {
    /// An empty one without a limit. `is_shared` says that other processes write, too, so that whoever takes a Fleet
    /// from here looks first whether it is the newest.
    #[must_use]
    pub fn new(is_shared: bool) -> Self {
        Self {
            clubs: RwLock::default(),
            limit: AtomicU64::new(u64::MAX),
            turn: AtomicU64::new(0),
            is_shared,
            reading: Mutex::default(),
            meters: DoorMeters::default(),
        }
    }

    /// Whether other processes write, too.
    pub fn is_shared(&self) -> bool {
        self.is_shared
    }

    /// Holds no more bytes than these from now on.
    pub fn limit(&self, bytes: u64) {
        self.limit.store(bytes, Ordering::Relaxed);
    }

    /// How many clubs are held, and the bytes they take.
    pub fn standing(&self) -> (usize, u64) {
        let clubs = self.clubs.read().unwrap_or_else(PoisonError::into_inner);
        (clubs.slots.len(), clubs.bytes)
    }

    /// What whoever reads a club from nothing holds meanwhile, so that one reads it for all who ask.
    pub fn reading(&self, club: &str) -> Arc<Mutex<()>> {
        let mut reading = self.reading.lock().unwrap_or_else(PoisonError::into_inner);
        reading.retain(|_, turn| turn.strong_count() > 0);
        if let Some(turn) = reading.get(club).and_then(Weak::upgrade) {
            return turn;
        }
        let turn = Arc::default();
        reading.insert(club.to_owned(), Arc::downgrade(&turn));
        turn
    }

    /// What is held of a club.
    pub fn get(&self, club: &str) -> Option<Held> {
        let clubs = self.clubs.read().unwrap_or_else(PoisonError::into_inner);
        let slot = clubs.slots.get(club)?;
        slot.asked.store(self.turn.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
        Some(slot.held.clone())
    }

    /// The bytes of a Fleet, and the revision at which it was sized up.
    fn size(&self, club: &str, held: &Held) -> (u64, i64) {
        let clubs = self.clubs.read().unwrap_or_else(PoisonError::into_inner);
        let before = clubs.slots.get(club).map(|slot| (slot.sized_at, slot.bytes, slot.held.revision));
        drop(clubs);
        match before {
            Some((sized_at, bytes, revision))
                if held.revision - sized_at < SIZED_FOR.max(sized_at / SIZED_PART) =>
            {
                let more = u64::try_from(held.revision - revision).unwrap_or(0);
                (bytes.saturating_add(REVISION_BYTES.saturating_mul(more)), sized_at)
            }
            Some(_) | None => (held.fleet.bytes() + held.names.bytes(), held.revision),
        }
    }

    /// Puts a newer Fleet in the place of an older one.
    pub fn publish(&self, club: &str, held: Held) {
        let (bytes, sized_at) = self.size(club, &held);
        let turn = self.turn.fetch_add(1, Ordering::Relaxed);
        let mut clubs = self.clubs.write().unwrap_or_else(PoisonError::into_inner);
        let before = clubs.slots.get(club);
        let newest = before.map(|slot| slot.held.revision).max(clubs.newest.get(club).copied());
        let is_newer = match (&before, newest) {
            (Some(_), Some(newest)) => newest < held.revision,
            // It was let go; what comes back may be as it was.
            (None, Some(newest)) => newest <= held.revision,
            (_, None) => true,
        };
        if !is_newer {
            return;
        }
        if before.is_none() {
            self.meters.loads.inc();
        }
        if !self.is_shared {
            clubs.newest.insert(club.to_owned(), held.revision);
        }
        let slot = Slot { held, bytes, sized_at, asked: AtomicU64::new(turn) };
        let old = clubs.put(club, slot);
        let gone = clubs.let_go(self.limit.load(Ordering::Relaxed), club);
        drop(clubs);
        self.meters.evictions.inc_by(u64::try_from(gone.len()).unwrap_or(0));
        // Giving back what they took may last; nobody waits for it.
        drop((old, gone));
    }

    /// Forgets what is held of a club if it still ends with this entry of the trail: the record no longer has it.
    pub fn forget_void(&self, club: &str, head: &str) {
        let mut clubs = self.clubs.write().unwrap_or_else(PoisonError::into_inner);
        let is_void = clubs.slots.get(club).is_some_and(|now| now.held.head == head);
        let gone = if is_void { clubs.take(club) } else { None };
        drop(clubs);
        drop(gone);
    }

    /// Forgets a club; the next reader loads it anew.
    pub fn forget(&self, club: &str) {
        let gone = self.clubs.write().unwrap_or_else(PoisonError::into_inner).take(club);
        drop(gone);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_asks_while_a_club_is_read_waits_for_that() {
        let shelf = Shelf::new(false);
        let first = shelf.reading("a");
        assert!(Arc::ptr_eq(&first, &shelf.reading("a")));
        assert!(!Arc::ptr_eq(&first, &shelf.reading("b")), "clubs do not wait for each other");
        drop(first);
        shelf.reading("c");
        assert!(
            shelf.reading.lock().unwrap().keys().all(|club| club == "c"),
            "nothing is left of those who are done"
        );
    }
}
