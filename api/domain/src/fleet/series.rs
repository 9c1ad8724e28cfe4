//! Facts of one kind in order of time.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::size;
use crate::{
    facts::{FactShape, Recorded},
    time::Instant,
};

/// Facts of one kind in order of (moment, id), whatever order they came in. A copy shares them until it is changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Timeline<F>(Arc<Vec<Recorded<F>>>);

impl<F> Default for Timeline<F> {
    fn default() -> Self {
        Self(Arc::default())
    }
}

fn key<F: FactShape>(recorded: &Recorded<F>) -> (Option<Instant>, Uuid) {
    (recorded.fact.occurred_at(), recorded.fact.id())
}

impl<F: FactShape> Timeline<F> {
    /// Puts a fact in its place; `false` if it was here. The same id twice counts once.
    pub fn insert(&mut self, recorded: Recorded<F>) -> bool {
        if self.get(recorded.fact.id()).is_some() {
            return false;
        }
        let place = self.0.partition_point(|other| key(other) < key(&recorded));
        Arc::make_mut(&mut self.0).insert(place, recorded);
        true
    }

    /// Takes a fact out again; `false` if it is not here.
    pub fn remove(&mut self, id: Uuid) -> bool {
        let Some(place) = self.0.iter().position(|recorded| recorded.fact.id() == id) else { return false };
        Arc::make_mut(&mut self.0).remove(place);
        true
    }

    /// The fact of this id.
    #[must_use]
    pub fn get(&self, id: Uuid) -> Option<&Recorded<F>> {
        self.0.iter().find(|recorded| recorded.fact.id() == id)
    }

    /// All facts, oldest first.
    pub fn iter(&self) -> std::slice::Iter<'_, Recorded<F>> {
        self.0.iter()
    }

    /// Facts that had happened by a moment, oldest first.
    #[must_use]
    pub fn until(&self, at: Instant) -> &[Recorded<F>] {
        let end = self.0.partition_point(|recorded| recorded.fact.occurred_at() <= Some(at));
        self.0.get(..end).unwrap_or_default()
    }

    /// The last fact that had happened by a moment.
    #[must_use]
    pub fn last_until(&self, at: Instant) -> Option<&Recorded<F>> {
        self.until(at).last()
    }

    /// Bytes of memory that it takes, by estimate.
    pub(super) fn bytes(&self) -> usize {
        size::facts(&self.0)
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}
