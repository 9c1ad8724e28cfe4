//! Ids and tags of one club's items: which item a name means.
//!
//! Held beside the Fleet, cheap to copy: the items that others point at, and all master data, which is looked up by tag
//! at each new version. Not here: whether a name may be taken, and what a member may see.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Tree;
use crate::facts::{Fact, Noun};

/// The items of one club by id and by tag.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Names {
    by_tag: Tree<(Noun, String), Uuid>,
    by_id: Tree<Uuid, (Noun, Option<String>)>,
}

impl Names {
    /// Whether items of a noun are held.
    #[must_use]
    pub const fn holds(noun: Noun) -> bool {
        noun.is_master_data()
            || matches!(
                noun,
                Noun::Components
                    | Noun::Installations
                    | Noun::Inspections
                    | Noun::Measurements
                    | Noun::Defects
                    | Noun::Repairs
                    | Noun::Campaigns
                    | Noun::Loans
                    | Noun::Questions
            )
    }

    /// How many items have a name here.
    pub(super) fn count(&self) -> usize {
        self.by_id.len()
    }

    /// Takes in a fact; a newer version of an item, or its correction, takes the place of the older.
    pub fn apply(&mut self, fact: &Fact) {
        if let Fact::Correction(correction) = fact {
            let corrected = correction.fact.clone().map(|json| Fact::from_json(correction.noun, json));
            if let Some(Ok(corrected)) = corrected {
                self.apply(&corrected);
            }
            return;
        }
        let (noun, id) = (fact.noun(), fact.id());
        if !Self::holds(noun) {
            return;
        }
        let tag = fact.tag().map(|tag| tag.as_str().to_owned());
        if let Some((_, Some(old))) = self.by_id.get(&id)
            && Some(old) != tag.as_ref()
        {
            let old = (noun, old.clone());
            self.by_tag.remove_cow(&old);
        }
        if let Some(tag) = &tag {
            self.by_tag.insert_cow((noun, tag.clone()), id);
        }
        self.by_id.insert_cow(id, (noun, tag));
    }

    /// Whether an item is held under an id.
    #[must_use]
    pub fn knows(&self, id: Uuid) -> bool {
        self.by_id.get(&id).is_some()
    }

    /// The tag of an item that has one.
    #[must_use]
    pub fn tag_of(&self, id: Uuid) -> Option<&str> {
        self.by_id.get(&id).and_then(|(_, tag)| tag.as_deref())
    }

    /// The item of a noun that an id or a tag means.
    #[must_use]
    pub fn find(&self, noun: Noun, name: &str) -> Option<Uuid> {
        match Uuid::parse_str(name) {
            Ok(id) => self.by_id.get(&id).is_some_and(|(of, _)| *of == noun).then_some(id),
            Err(_not_an_id) => self.by_tag.get(&(noun, name.to_owned())).copied(),
        }
    }

    /// The tags of a noun's items, in no order.
    pub fn tags(&self, noun: Noun) -> impl Iterator<Item = &str> {
        (&self.by_tag).into_iter().filter(move |((of, _), _)| *of == noun).map(|((_, tag), _)| tag.as_str())
    }
}
