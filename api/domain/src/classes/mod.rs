//! The classes that come along, as data: `profiles.json`, embedded and read once. None of them is confirmed: editions
//! change, and a person of the club has to compare the limits with the one in force.
//!
//! A club's own class of the same tag takes the place of the one here. Sources stand with each class and limit; where
//! they say "from memory", nobody has read them in a text.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    facts::{ClassProfile, Noun},
    fleet::Fleet,
    ids::ClassId,
    text::Tag,
};

static PROFILES: LazyLock<Vec<ClassProfile>> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "embedded; a test reads it")]
    serde_json::from_str(include_str!("profiles.json")).expect("the embedded classes can be read")
});

/// All of them.
#[must_use]
pub fn all() -> &'static [ClassProfile] {
    &PROFILES
}

/// The classes that come along, as an answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassPresets {
    /// One a class, none of them confirmed.
    pub classes: Vec<ClassProfile>,
}

/// The classes that come along, as an answer.
#[must_use]
pub fn presets() -> ClassPresets {
    ClassPresets { classes: all().to_vec() }
}

/// Their tags, for people.
#[must_use]
pub fn tags() -> String {
    all().iter().map(|class| class.tag.as_str()).collect::<Vec<_>>().join(", ")
}

/// The class of a tag: the club's own, else the one that comes along.
#[must_use]
pub fn of_tag<'a>(fleet: &'a Fleet, tag: &Tag) -> Option<&'a ClassProfile> {
    let own = fleet.id_of_tag(Noun::Classes, tag).and_then(|id| fleet.class(ClassId(id)));
    own.map(|known| &known.fact).or_else(|| all().iter().find(|class| class.tag == *tag))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_classes_are_read_and_none_is_confirmed() {
        let tags: Vec<&str> = all().iter().map(|class| class.tag.as_str()).collect();
        assert_eq!(tags, ["F5J", "F5K", "F5B", "F3J", "F3K", "F3B", "F3F", "free"]);
        for class in all() {
            assert!(!class.is_confirmed(), "{}", class.tag);
            assert!(
                class.limits.iter().all(|limit| limit.min.is_some() || limit.max.is_some()),
                "{}",
                class.tag
            );
        }
    }
}
