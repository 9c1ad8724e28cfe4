//! Work where there is no signal: what is recorded waits in an outbox, what is asked is answered from a copy.
//!
//! * `place`: the folders of a service, club and member · `known`: what was last heard of a club, and the time
//! * `copy`: the copy on disk · `snapshot`: the same arranged already · `from_copy`: questions answered from it
//! * `outbox`: facts that wait · `send`: sending them, and what became of each
//!
//! Not here: rules and verdicts. A copy is asked through the functions by which the service answers.

pub mod copy;
pub mod from_copy;
pub mod known;
pub mod outbox;
pub mod place;
pub mod send;
pub mod snapshot;
