//! What counts as a check that was done: a failed one never does, nor one that left items of its group unlooked at.

use super::Fleet;
use crate::{
    facts::{Inspection, Programme},
    words::{CheckResult, ItemResult},
};

impl Fleet {
    /// The programme that a check was done by: the one it names, else the one in force for its model.
    #[must_use]
    pub fn programme_of_check(&self, check: &Inspection) -> Option<&Programme> {
        let found = match check.programme {
            Some(named) => self.programme(named),
            None => self.programme_of(check.model),
        };
        found.map(|recorded| &recorded.fact)
    }

    /// Whether a check counts for its group: not failed, and every item of the group was looked at. A partial check
    /// restarts no interval and closes nothing but the items that it passed.
    #[must_use]
    pub fn is_done(&self, check: &Inspection) -> bool {
        match check.result {
            CheckResult::Fail => false,
            // A pass with an item left out is refused when it is recorded.
            CheckResult::Pass => true,
            CheckResult::Restrict if check.is_summary => true,
            CheckResult::Restrict => {
                let seen = |code| {
                    let mut results = check.items.iter().filter(|done| done.item == code);
                    results.any(|done| done.result != ItemResult::NotLookedAt)
                };
                self.programme_of_check(check).is_none_or(|programme| {
                    let mut asked = programme.items.iter().filter(|item| item.group == check.group);
                    asked.all(|item| seen(item.code.clone()))
                })
            }
        }
    }
}
