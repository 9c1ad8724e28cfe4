//! How much memory a Fleet takes, by estimate: what is kept of each kind, counted, times what one of it takes.
//!
//! Counted are the shapes themselves and what their lists hold; texts, and what the allocator adds, are allowed for by
//! the constants below. What two Fleets of one club share is counted in each. A test measures real Fleets against it.

use std::mem::size_of;

use super::{Fleet, Map, Names};
use crate::facts::{Inspection, InspectionItem, Item, Position, Recorded};

/// What a tree adds for each of its entries: its part of a chunk that is not full, the counts of owners, the pointer.
const NODE: usize = 64;
/// What the texts of one fact take (tag, note, location), beyond its shape.
const TEXTS: usize = 96;
/// What the texts of an entry of a nested list take, beyond its shape.
const NESTED: usize = 48;
/// What is kept of one name: in one tree by id, in another by tag.
const NAME: usize = 240;

/// Bytes of rows that have no lists of their own. What a list keeps in reserve is not touched, and so not there.
pub(super) const fn rows<T>(rows: &[T]) -> usize {
    size_of_val(rows)
}

/// Bytes of facts in a list, with their texts.
pub(super) fn facts<F>(list: &[Recorded<F>]) -> usize {
    rows(list) + list.len() * TEXTS
}

fn of_map<K, V>(map: &Map<K, V>, beside: impl Fn(&V) -> usize) -> usize
where
    K: Ord + Clone,
{
    let each = size_of::<K>() + size_of::<V>() + NODE + TEXTS;
    map.len() * each + map.into_iter().map(|(_, value)| beside(value)).sum::<usize>()
}

fn of_checks<'a>(checks: impl Iterator<Item = &'a Recorded<Inspection>>) -> usize {
    let items = checks.map(|check| check.fact.items.len());
    items.sum::<usize>() * (size_of::<InspectionItem>() + NESTED)
}

impl Fleet {
    /// Bytes of memory that it takes, by estimate: within a third of what is measured for a club of the usual mix.
    ///
    /// ```
    /// # use preen_domain::fleet::{Club, Fleet};
    /// # use preen_domain::ids::ClubId;
    /// # let (id, tag) = (ClubId::from(uuid::Uuid::nil()), "quillmarsh".parse().unwrap());
    /// let club = Club { id, tag, title: "A club".to_owned(), zone: chrono_tz::Europe::London };
    /// assert!(Fleet::new(club).bytes() < 2_000);
    /// ```
    #[must_use]
    pub fn bytes(&self) -> u64 {
        let positions = |count: usize| count * (size_of::<Position>() + 2 * NESTED);
        let items = |count: usize| count * (size_of::<Item>() + 4 * NESTED);
        let master = of_map(&self.members, |_| 0)
            + of_map(&self.designs, |design| positions(design.fact.positions.len()))
            + of_map(&self.parts, |_| 0)
            + of_map(&self.programmes, |programme| items(programme.fact.items.len()))
            + of_map(&self.limits, |_| 0)
            + of_map(&self.lots, |_| 0)
            + of_map(&self.slugs, |_| 0)
            + of_map(&self.matched_sets, |_| 0)
            + of_map(&self.classes, |class| class.fact.limits.len() * 2 * NESTED)
            + of_map(&self.contests, |_| 0)
            + of_map(&self.entries, |_| 0);
        let acts = of_map(&self.campaigns, |_| 0)
            + of_map(&self.campaign_files, |file| file.works.bytes() + file.closures.bytes())
            + of_map(&self.defects, |file| {
                file.deferrals.bytes() + file.closures.bytes() + rows(&file.repairs)
            })
            + of_map(&self.repairs, |file| file.steps.bytes() + file.releases.bytes())
            + of_map(&self.loans, |file| file.returns.bytes())
            + of_map(&self.questions, |file| file.settlements.bytes() + 12 * TEXTS)
            + self.corrections.len() * (size_of::<Recorded<crate::facts::Correction>>() + NODE + 8 * TEXTS);
        let models = of_map(&self.models, |file| {
            file.flights.bytes()
                + file.riggings.bytes()
                + file.inspections.bytes()
                + of_checks(file.inspections.iter())
                + file.weighings.bytes()
                + file.measurements.bytes()
                + file.photos.bytes()
                + file.events.bytes()
                + rows(&file.defects)
                + rows(&file.repairs)
                + rows(&file.loans)
                + rows(&file.occupants)
                + file.occupants.len() * NESTED
                + rows(&file.carried)
        });
        let components = of_map(&self.components, |file| {
            file.conditions.bytes()
                + file.installations.bytes()
                + file.removals.bytes()
                + rows(&file.spans)
                + rows(&file.occupants)
                + (file.spans.len() + file.occupants.len()) * NESTED
                + file.inspections.bytes()
                + of_checks(file.inspections.iter())
                + file.named_in_checks.bytes()
                + of_checks(file.named_in_checks.iter())
                + file.measurements.bytes()
                + file.photos.bytes()
                + file.charges.bytes()
                + file.pairings.bytes()
                + rows(&file.defects)
                + rows(&file.repairs)
                + rows(&file.loans)
        });
        let tags = self.tags.len() * (NODE + 2 * NESTED);
        let all = size_of::<Self>() + master + acts + models + components + tags;
        u64::try_from(all).unwrap_or(u64::MAX)
    }
}

impl Names {
    /// Bytes of memory that they take, by estimate.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        u64::try_from(self.count() * NAME).unwrap_or(u64::MAX)
    }
}
