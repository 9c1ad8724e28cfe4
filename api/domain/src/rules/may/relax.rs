//! Whether a limit, or a new version of a programme, judges more mildly than what is in force.

use crate::{
    facts::{ClubLimit, Limit, Programme},
    fleet::Fleet,
};

/// Whether a limit lets through what the limits in force hold back: its version before, or else the
/// programmes' limits for the same quantity and positions.
pub(super) fn is_relaxed(fleet: &Fleet, new: &ClubLimit) -> bool {
    if let Some(before) = fleet.limit(new.id) {
        return before.fact.limit.quantity != new.limit.quantity
            || before.fact.limit.unit != new.limit.unit
            || is_milder(&before.fact.limit, &new.limit);
    }
    let items = fleet.programmes().flat_map(|(_, programme)| programme.fact.items.iter());
    let mut in_force = items.flat_map(|item| item.limits.iter()).filter(|limit| {
        limit.quantity == new.limit.quantity
            && (limit.position_kinds.is_empty()
                || new.limit.position_kinds.is_empty()
                || limit.position_kinds.iter().any(|kind| new.limit.position_kinds.contains(kind)))
    });
    in_force.any(|limit| is_milder(limit, &new.limit))
}

/// Whether any class of the old limit begins later in the new one, or not at all.
fn is_milder(old: &Limit, new: &Limit) -> bool {
    let pairs = [(old.watch, new.watch), (old.restrict, new.restrict), (old.ground, new.ground)];
    pairs.into_iter().any(|pair| match pair {
        (Some(old_class), Some(new_class)) => {
            new_class != old_class && !new.direction.is_reached(old_class, new_class)
        }
        (Some(_), None) => true,
        (None, _) => false,
    })
}

/// Whether a new version of a programme drops or relaxes a limit of the version before: for any quantity that an
/// item judged, at any kind of position.
pub(super) fn is_programme_relaxed(fleet: &Fleet, new: &Programme) -> bool {
    let Some(before) = fleet.programme(new.id) else { return false };
    before.fact.items.iter().any(|item| {
        let now = new.items.iter().find(|now| now.code == item.code);
        item.limits.iter().any(|limit| !is_kept(limit, now.map_or(&[], |now| now.limits.as_slice())))
    })
}

/// Whether some limit of the list holds wherever the old one held, as strictly.
fn is_kept(old: &Limit, list: &[Limit]) -> bool {
    list.iter().any(|new| {
        let holds_there = new.position_kinds.is_empty()
            || (!old.position_kinds.is_empty()
                && old.position_kinds.iter().all(|kind| new.position_kinds.contains(kind)));
        new.quantity == old.quantity
            && new.unit == old.unit
            && new.direction == old.direction
            && holds_there
            && !is_milder(old, new)
    })
}
