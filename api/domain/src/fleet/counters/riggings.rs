//! Rigging cycles of one model in order of time, kept by columns like its flights.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{index_of, packed, place_of};
use crate::{
    facts::Rigging,
    fleet::{size, tight::put},
    time::Instant,
};

/// All rigging cycles of one model in order of time, with running sums modulo 2³².
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "packed::Riggings", into = "packed::Riggings")]
pub struct RiggingLog {
    at: Vec<Instant>,
    ids: Vec<Uuid>,
    sums: Vec<u32>,
}

impl RiggingLog {
    /// Of rows in order of time: when, which, how many cycles.
    pub(super) fn of(rows: impl ExactSizeIterator<Item = (Instant, Uuid, u32)>) -> Self {
        let count = rows.len();
        let mut log = Self {
            at: Vec::with_capacity(count),
            ids: Vec::with_capacity(count),
            sums: Vec::with_capacity(count),
        };
        for (at, id, cycles) in rows {
            log.put(log.at.len(), at, id, cycles);
        }
        log
    }

    /// Bytes of memory that it takes: 28 for each entry.
    pub(in crate::fleet) fn bytes(&self) -> usize {
        size::rows(&self.at) + size::rows(&self.ids) + size::rows(&self.sums)
    }

    /// Puts a rigging in its place; `false` if it was here. The same id twice counts once.
    pub(in crate::fleet) fn insert(&mut self, rigging: &Rigging) -> bool {
        let (at, id) = (rigging.occurred_at, rigging.id.0);
        let place = place_of(&self.at, &self.ids, at, id);
        if self.ids.get(place) == Some(&id) {
            return false;
        }
        self.put(place, at, id, rigging.cycles);
        true
    }

    fn put(&mut self, place: usize, at: Instant, id: Uuid, cycles: u32) {
        let before = self.sum_of_first(place);
        put(&mut self.at, place, at);
        put(&mut self.ids, place, id);
        for later in self.sums.iter_mut().skip(place) {
            *later = later.wrapping_add(cycles);
        }
        put(&mut self.sums, place, before.wrapping_add(cycles));
    }

    /// Takes a rigging out again, and says when it was; `None` if it is not here.
    pub(in crate::fleet) fn remove(&mut self, id: Uuid) -> Option<Instant> {
        let place = self.ids.iter().position(|known| *known == id)?;
        let before = self.sum_of_first(place);
        let cycles = self.sums.remove(place).wrapping_sub(before);
        for later in self.sums.iter_mut().skip(place) {
            *later = later.wrapping_sub(cycles);
        }
        self.ids.remove(place);
        Some(self.at.remove(place))
    }

    /// All entries in order of time: when, which, how many cycles.
    pub(super) fn rows(&self) -> impl ExactSizeIterator<Item = (Instant, Uuid, u32)> + '_ {
        let named = self.at.iter().zip(&self.ids).enumerate();
        named.map(|(place, (at, id))| {
            let cycles = self.sum_of_first(place + 1).wrapping_sub(self.sum_of_first(place));
            (*at, *id, cycles)
        })
    }

    /// Entries before a moment.
    pub(in crate::fleet) fn index_of(&self, at: Instant) -> usize {
        index_of(&self.at, at)
    }

    fn sum_of_first(&self, count: usize) -> u32 {
        count.checked_sub(1).and_then(|last| self.sums.get(last)).copied().unwrap_or_default()
    }

    /// Whether an entry is here.
    pub(in crate::fleet) fn knows(&self, id: Uuid) -> bool {
        self.ids.contains(&id)
    }

    /// Rigging cycles before a moment.
    #[must_use]
    pub fn count_before(&self, at: Instant) -> u64 {
        self.count_of_first(self.index_of(at))
    }

    /// Rigging cycles of the oldest entries, so many of them.
    pub(crate) fn count_of_first(&self, count: usize) -> u64 {
        u64::from(self.sum_of_first(count))
    }

    /// Rigging cycles in `[from, to)`.
    #[must_use]
    pub fn count(&self, from: Instant, to: Instant) -> u64 {
        self.count_before(to).saturating_sub(self.count_before(from))
    }
}
