//! What the asker may know of: everything of their club, or, for a visitor, what is on loan to them.
//!
//! A name is looked up through here wherever a request names something, so that what is not shown is answered like what
//! is not there. Who may do what with it is decided in [`crate::rules::may`].

use uuid::Uuid;

use crate::{
    facts::Noun,
    fleet::{Fleet, Names},
    ids::MemberId,
    rules::may::may_see_item,
    time::Instant,
};

/// What can say which item a name means.
pub trait Finds {
    /// The item of a noun that an id or a tag means.
    fn find(&self, noun: Noun, name: &str) -> Option<Uuid>;
}

impl Finds for Names {
    fn find(&self, noun: Noun, name: &str) -> Option<Uuid> {
        Self::find(self, noun, name)
    }
}

/// The items of a club as one of its members sees them.
#[derive(Clone, Copy)]
pub struct Sight<'a> {
    fleet: &'a Fleet,
    names: &'a Names,
    member: MemberId,
    now: Instant,
}

impl<'a> Sight<'a> {
    /// What a member sees of a club at a moment.
    #[must_use]
    pub fn new(fleet: &'a Fleet, names: &'a Names, member: MemberId, now: Instant) -> Self {
        Self { fleet, names, member, now }
    }
}

impl Finds for Sight<'_> {
    fn find(&self, noun: Noun, name: &str) -> Option<Uuid> {
        let id = self.names.find(noun, name)?;
        may_see_item(self.fleet, self.member, noun, id, self.now).then_some(id)
    }
}
