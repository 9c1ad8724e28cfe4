//! Checks of one model in order of time, and beside them, group by group, what counts: moments, and how much of the log lies
//! before each, so that neither the checks themselves nor the log are read to tell what was counted since, nor days worked
//! out to tell how long ago it was.

use std::sync::Arc;

use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{Fleet, Reached, Timeline, size};
use crate::{
    facts::{Inspection, Recorded},
    text::Tag,
    time::{Instant, day_of},
    words::CheckResult,
};

/// Checks of one model. It reads as a [`Timeline`].
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CheckLog {
    all: Timeline<Inspection>,
    /// What was not failed, by group; no group without any.
    by_group: Arc<Vec<(Tag, Vec<NotFailed>)>>,
}

/// A check that was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Done {
    /// When.
    pub at: Instant,
    /// Which check.
    pub id: Uuid,
    /// How much of the log lies before it.
    pub reached: Reached,
    /// The club day of that moment.
    pub on: NaiveDate,
}

/// A check that was not failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "Numbers", into = "Numbers")]
struct NotFailed {
    done: Done,
    /// Whether it counts whatever its programme asks for; else its items decide.
    is_certain: bool,
}

/// The same in a snapshot: moment in µs, id, flights and riggings before it, club day, whether it is certain.
type Numbers = (i64, Uuid, usize, usize, NaiveDate, bool);

impl From<NotFailed> for Numbers {
    fn from(NotFailed { done: Done { at, id, reached, on }, is_certain }: NotFailed) -> Self {
        (at.micros(), id, reached.flights, reached.riggings, on, is_certain)
    }
}

impl From<Numbers> for NotFailed {
    fn from((at, id, flights, riggings, on, is_certain): Numbers) -> Self {
        let reached = Reached { flights, riggings };
        Self { done: Done { at: Instant::from_micros(at), id, reached, on }, is_certain }
    }
}

impl CheckLog {
    /// Puts a check in its place, before which so much of the log lies; `zone` is the club's. The same id twice counts
    /// once.
    pub(super) fn insert(&mut self, recorded: Recorded<Inspection>, reached: Reached, zone: Tz) {
        let check = &recorded.fact;
        let (group, result) = (check.group.clone(), check.result);
        let at = check.occurred_at;
        let done = Done { at, id: check.id.0, reached, on: day_of(at, zone) };
        let entry = NotFailed { done, is_certain: result == CheckResult::Pass || check.is_summary };
        if !self.all.insert(recorded) || result == CheckResult::Fail {
            return;
        }
        let groups = Arc::make_mut(&mut self.by_group);
        let place = groups.partition_point(|(code, _)| *code < group);
        match groups.get_mut(place).filter(|(code, _)| *code == group) {
            Some((_, list)) => list.insert(list.partition_point(|other| other.done < done), entry),
            None => groups.insert(place, (group, vec![entry])),
        }
    }

    /// Takes a check out again.
    pub(super) fn remove(&mut self, id: Uuid) {
        let groups = Arc::make_mut(&mut self.by_group);
        for (_, list) in groups.iter_mut() {
            list.retain(|entry| entry.done.id != id);
        }
        groups.retain(|(_, list)| !list.is_empty());
        self.all.remove(id);
    }

    /// Changes what lies before every check after a moment.
    pub(super) fn after(&mut self, at: Instant, change: impl Fn(&mut Reached)) {
        let is_later = |entry: &NotFailed| entry.done.at > at;
        // A flight of today is later than all checks: nothing is copied then.
        if self.by_group.iter().any(|(_, list)| list.last().is_some_and(is_later)) {
            let entries = Arc::make_mut(&mut self.by_group).iter_mut().flat_map(|(_, list)| list.iter_mut());
            entries.filter(|entry| is_later(entry)).for_each(|entry| change(&mut entry.done.reached));
        }
    }

    /// The checks of a group that count, by a moment, the newest first.
    pub(crate) fn done_until<'a>(
        &'a self,
        fleet: &'a Fleet,
        group: &Tag,
        as_of: Instant,
    ) -> impl Iterator<Item = Done> + Clone + use<'a> {
        let place = self.by_group.partition_point(|(code, _)| code < group);
        let of_group = self.by_group.get(place).filter(|(code, _)| code == group);
        let list = of_group.map_or(&[][..], |(_, list)| list.as_slice());
        let counts = |entry: &&NotFailed| {
            entry.is_certain
                || self
                    .all
                    .until(entry.done.at)
                    .iter()
                    .rfind(|check| check.fact.id.0 == entry.done.id)
                    .is_some_and(|check| fleet.is_done(&check.fact))
        };
        let had_happened = list.partition_point(|entry| entry.done.at <= as_of);
        list.iter().take(had_happened).rev().filter(counts).map(|entry| entry.done)
    }

    /// Bytes of memory that it takes, by estimate.
    pub(super) fn bytes(&self) -> usize {
        let of_groups = self.by_group.iter().map(|(_, list)| size::rows(list));
        self.all.bytes() + size::rows(&self.by_group) + of_groups.sum::<usize>()
    }
}

impl std::ops::Deref for CheckLog {
    type Target = Timeline<Inspection>;

    fn deref(&self) -> &Self::Target {
        &self.all
    }
}
