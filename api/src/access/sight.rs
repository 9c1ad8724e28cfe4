//! What the asker of a request may know of: [`Sight`] of the domain, from what is held.

use preen_domain::time::Instant;

use super::actor::Actor;
use crate::db::fleet::Held;

pub use preen_domain::asked::{Finds, Sight};

/// What the asker sees of what is held.
pub fn sight_of<'a>(actor: &Actor, held: &'a Held, now: Instant) -> Sight<'a> {
    Sight::new(&held.fleet, &held.names, actor.member, now)
}
