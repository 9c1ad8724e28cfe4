//! Facts of one kind in order of time.

use std::sync::Arc;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

use super::{size, tight};
use crate::{
    facts::{FactShape, Recorded},
    time::Instant,
};

/// Facts of one kind in order of (moment, id), whatever order they came in. A copy shares them until it is changed.
/// Most items have none of most kinds: an empty one takes no memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline<F>(Option<Arc<Vec<Recorded<F>>>>);

impl<F> Default for Timeline<F> {
    fn default() -> Self {
        Self(None)
    }
}

impl<F> Timeline<F> {
    fn list(&self) -> &[Recorded<F>] {
        self.0.as_deref().map_or(&[], Vec::as_slice)
    }
}

impl<F: Serialize> Serialize for Timeline<F> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.list().serialize(serializer)
    }
}

impl<'de, F: Deserialize<'de>> Deserialize<'de> for Timeline<F> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let list: Vec<Recorded<F>> = Deserialize::deserialize(deserializer)?;
        Ok(Self((!list.is_empty()).then(|| Arc::new(list))))
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
        let place = self.list().partition_point(|other| key(other) < key(&recorded));
        tight::put(Arc::make_mut(self.0.get_or_insert_default()), place, recorded);
        true
    }

    /// Takes a fact out again; `false` if it is not here.
    pub fn remove(&mut self, id: Uuid) -> bool {
        let place = self.list().iter().position(|recorded| recorded.fact.id() == id);
        let (Some(place), Some(list)) = (place, &mut self.0) else { return false };
        if list.len() == 1 {
            self.0 = None;
        } else {
            Arc::make_mut(list).remove(place);
        }
        true
    }

    /// The fact of this id.
    #[must_use]
    pub fn get(&self, id: Uuid) -> Option<&Recorded<F>> {
        self.list().iter().find(|recorded| recorded.fact.id() == id)
    }

    /// All facts, oldest first.
    pub fn iter(&self) -> std::slice::Iter<'_, Recorded<F>> {
        self.list().iter()
    }

    /// Facts that had happened by a moment, oldest first.
    #[must_use]
    pub fn until(&self, at: Instant) -> &[Recorded<F>] {
        let list = self.list();
        list.get(..list.partition_point(|recorded| recorded.fact.occurred_at() <= Some(at)))
            .unwrap_or_default()
    }

    /// The last fact that had happened by a moment.
    #[must_use]
    pub fn last_until(&self, at: Instant) -> Option<&Recorded<F>> {
        self.until(at).last()
    }

    /// Bytes of memory that it takes, by estimate.
    pub(super) fn bytes(&self) -> usize {
        size::facts(self.list())
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_none()
    }
}
