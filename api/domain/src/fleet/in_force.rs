//! Which limits hold for a quantity in a kind of position: the club's own where it has one, else the programme's.

use super::Fleet;
use crate::facts::{ClubLimit, Limit, Programme};

/// A limit that holds, and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InForce<'a> {
    /// The limit.
    pub limit: &'a Limit,
    /// Where it comes from.
    pub source: LimitSource<'a>,
}

/// Where a limit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitSource<'a> {
    /// An item of a programme.
    Programme {
        /// Tag of the programme.
        programme: &'a str,
        /// Code of the item.
        item: &'a str,
    },
    /// A limit of the club's own.
    Club {
        /// Its tag.
        tag: &'a str,
    },
}

/// The limits of a quantity in its unit on a part in a kind of position: the club's own where it has one, else the
/// programme's.
#[must_use]
pub fn limits_in_force<'a>(
    fleet: &'a Fleet,
    programme: &'a Programme,
    position_kind: Option<&str>,
    quantity: &str,
    unit: &str,
) -> Vec<InForce<'a>> {
    limits_with(fleet.limits().map(|(_, limit)| &limit.fact), programme, position_kind, quantity, unit)
}

/// The same with another list of the club's own limits.
pub(crate) fn limits_with<'a>(
    of_club: impl Iterator<Item = &'a ClubLimit>,
    programme: &'a Programme,
    position_kind: Option<&str>,
    quantity: &str,
    unit: &str,
) -> Vec<InForce<'a>> {
    let holds = |limit: &Limit| {
        limit.quantity.as_str() == quantity
            && limit.unit.as_str() == unit
            && (limit.position_kinds.is_empty()
                || position_kind
                    .is_some_and(|kind| limit.position_kinds.iter().any(|of| of.as_str() == kind)))
    };
    let own: Vec<InForce<'a>> = of_club
        .filter(|club| holds(&club.limit))
        .map(|club| InForce { limit: &club.limit, source: LimitSource::Club { tag: club.tag.as_str() } })
        .collect();
    if !own.is_empty() {
        return own;
    }
    programme
        .items
        .iter()
        .flat_map(|item| item.limits.iter().map(move |limit| (item, limit)))
        .filter(|(_, limit)| holds(limit))
        .map(|(item, limit)| InForce {
            limit,
            source: LimitSource::Programme { programme: programme.tag.as_str(), item: item.code.as_str() },
        })
        .collect()
}

/// The limits alone.
#[must_use]
pub fn limits_of<'a>(
    fleet: &'a Fleet,
    programme: &'a Programme,
    position_kind: Option<&str>,
    quantity: &str,
    unit: &str,
) -> Vec<&'a Limit> {
    limits_in_force(fleet, programme, position_kind, quantity, unit)
        .into_iter()
        .map(|in_force| in_force.limit)
        .collect()
}
