//! The member who asks, as the table of acts sees them: roles, what they own, what is lent to them.

use crate::{
    facts::{Group, Inside, Model, Subject},
    fleet::{Fleet, Place},
    ids::{ComponentId, MemberId, ModelId},
    time::{Instant, day_of},
    words::{Opener, PartKind, Role},
};

const ONLY_LENT: &str = "A visitor may do this for what is on loan to them.";

/// A member as the table sees them.
pub(super) struct Person<'a> {
    pub(super) fleet: &'a Fleet,
    pub(super) member: MemberId,
    roles: &'a [Role],
    pub(super) now: Instant,
}

impl<'a> Person<'a> {
    pub(super) fn of(fleet: &'a Fleet, member: MemberId, now: Instant) -> Result<Self, String> {
        match fleet.member(member) {
            Some(known) => Ok(Self { fleet, member, roles: &known.fact.roles, now }),
            None if fleet.members().next().is_none() => Ok(Self { fleet, member, roles: &[], now }),
            None => Err("The member behind this access is not in the club.".to_owned()),
        }
    }

    pub(super) fn has(&self, wanted: &[Role]) -> bool {
        self.roles.iter().any(|role| wanted.contains(role))
    }

    pub(super) fn must(&self, wanted: &[Role], sentence: &str) -> Result<(), String> {
        if self.has(wanted) { Ok(()) } else { Err(sentence.to_owned()) }
    }

    pub(super) fn is_member(&self) -> bool {
        self.roles.iter().any(|role| *role != Role::Visitor)
    }

    pub(super) fn is_more_than_helper(&self) -> bool {
        is_more_than_helper(self.roles)
    }

    fn owns(&self, model: ModelId) -> bool {
        self.fleet.model_data(model).is_some_and(|model| model.owner == Some(self.member))
    }

    /// Whether the model is on record under another owner.
    pub(super) fn takes_over(&self, model: &Model) -> bool {
        self.fleet.model_data(model.id).is_some_and(|known| known.owner != Some(self.member))
    }

    /// A pilot on a model of their own, or somebody with one of the roles. What sits in no model is nobody's
    /// own: any pilot may handle it.
    pub(super) fn own_or(
        &self,
        model: Option<ModelId>,
        wanted: &[Role],
        sentence: &str,
    ) -> Result<(), String> {
        if self.has(&[Role::Pilot]) && model.is_none_or(|model| self.owns(model)) {
            return Ok(());
        }
        self.must(wanted, sentence)
    }

    /// The same where several things are worked on at once: each must be the pilot's own, or nobody's.
    pub(super) fn own_each_or(
        &self,
        models: &[Option<ModelId>],
        wanted: &[Role],
        sentence: &str,
    ) -> Result<(), String> {
        models.iter().try_for_each(|model| self.own_or(*model, wanted, sentence))
    }

    /// A member, or a visitor for a part that is on loan to them or sits in what is.
    pub(super) fn unless_visitor_of_part(&self, component: ComponentId) -> Result<(), String> {
        if self.is_member() || self.borrows_part(component) { Ok(()) } else { Err(ONLY_LENT.to_owned()) }
    }

    /// A member, or a visitor for a model that is on loan to them.
    pub(super) fn unless_visitor(&self, model: ModelId) -> Result<(), String> {
        if self.is_member() || self.borrows(model) { Ok(()) } else { Err(ONLY_LENT.to_owned()) }
    }

    /// Whether a check is one that is ticked at the field by whoever is there: after a flight, or before the
    /// first of the day.
    pub(super) fn is_field_check(&self, group: &str) -> bool {
        self.has_group(group, |known| {
            matches!(known.opened_by, Some(Opener::EachFlight | Opener::EachFlyingDay))
        })
    }

    /// Whether a check is the fitness check of packs, which stores do wherever the pack sits.
    pub(super) fn is_pack_check(&self, group: &str) -> bool {
        self.has_group(group, |known| known.applies_to == Some(PartKind::Pack))
    }

    fn has_group(&self, code: &str, is_wanted: impl Fn(&Group) -> bool) -> bool {
        self.fleet
            .programmes()
            .flat_map(|(_, programme)| programme.fact.groups.iter())
            .any(|group| group.code.as_str() == code && is_wanted(group))
    }

    /// Whether a part is a pack.
    pub(super) fn is_pack(&self, component: ComponentId) -> bool {
        self.fleet.part_of(component).is_some_and(|part| part.kind == PartKind::Pack)
    }

    pub(super) fn model_of(&self, component: ComponentId) -> Option<ModelId> {
        match self.fleet.place_at(component, self.now) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        }
    }

    pub(super) fn model_of_inside(&self, inside: Inside) -> Option<ModelId> {
        match inside {
            Inside::Model(model) => Some(model),
            Inside::Component(component) => self.model_of(component),
        }
    }

    pub(super) fn model_of_subject(&self, subject: Subject) -> Option<ModelId> {
        match subject {
            Subject::Model(model) => Some(model),
            Subject::Component(component) => self.model_of(component),
        }
    }

    fn is_lent_here(&self, item: Subject) -> bool {
        let today = day_of(self.now, self.fleet.club().zone);
        self.fleet.loans().any(|(_, file)| {
            file.returns.until(self.now).is_empty()
                && file.loan.as_ref().is_some_and(|loan| {
                    loan.fact.item == item && loan.fact.lent_to == self.member && loan.fact.from_on <= today
                })
        })
    }

    pub(super) fn borrows(&self, model: ModelId) -> bool {
        self.is_lent_here(Subject::Model(model))
    }

    /// Whether anything at all is on loan to them.
    pub(super) fn borrows_something(&self) -> bool {
        self.fleet.loans().any(|(_, file)| {
            file.loan.as_ref().is_some_and(|loan| match loan.fact.item {
                Subject::Model(model) => loan.fact.lent_to == self.member && self.borrows(model),
                Subject::Component(part) => loan.fact.lent_to == self.member && self.borrows_part(part),
            })
        })
    }

    pub(super) fn borrows_subject(&self, subject: Subject) -> bool {
        match subject {
            Subject::Model(model) => self.borrows(model),
            Subject::Component(component) => self.borrows_part(component),
        }
    }

    /// A member, or a visitor for what is on loan to them.
    pub(super) fn unless_visitor_of_subject(&self, subject: Subject) -> Result<(), String> {
        if self.is_member() || self.borrows_subject(subject) { Ok(()) } else { Err(ONLY_LENT.to_owned()) }
    }

    pub(super) fn borrows_part(&self, component: ComponentId) -> bool {
        self.is_lent_here(Subject::Component(component))
            || self.model_of(component).is_some_and(|model| self.borrows(model))
    }
}

pub(super) fn is_more_than_helper(roles: &[Role]) -> bool {
    roles.iter().any(|role| !matches!(role, Role::Visitor | Role::Helper))
}
