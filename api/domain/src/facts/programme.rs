//! An inspection programme: groups with their intervals, items with their limits.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::interval::Rebasing,
    ids::{DesignId, ModelId, ProgrammeId},
    text::{Tag, Text},
    words::{Counter, Direction, Opener, PartKind, Severity},
};

/// An inspection programme. The one naming the model wins over the one naming its design, and that over
/// the one naming neither; among equals the one recorded last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Programme {
    /// Id made by the client (UUIDv7).
    pub id: ProgrammeId,
    /// Short name.
    pub tag: Tag,
    /// Name for people.
    pub title: Text,
    /// The design it is for; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub design: Option<DesignId>,
    /// The single model it is for; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<ModelId>,
    /// Groups of items that are done together.
    pub groups: Vec<Group>,
    /// The items.
    pub items: Vec<Item>,
}

/// A group of items that are done together, at an interval or after an event.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// Code, such as `N25`.
    pub code: Tag,
    /// Name for people.
    pub name: Text,
    /// What the count interval counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counter: Option<Counter>,
    /// Interval in counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100_000)]
    pub every_count: Option<u32>,
    /// Interval in days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100_000)]
    pub every_days: Option<u32>,
    /// Interval in calendar months, pinned to the month's end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100_000)]
    pub every_months: Option<u32>,
    /// Planning aid in counts: between due point and due point plus this it is due, beyond it overdue.
    #[serde(default)]
    pub tolerance_count: u32,
    /// Planning aid in days.
    #[serde(default)]
    pub tolerance_days: u32,
    /// From where the next due point counts.
    #[serde(default)]
    pub rebasing: Rebasing,
    /// What opens it, or asks for it on the day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_by: Option<Opener>,
    /// It applies only where the design has a position for this kind of part.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub applies_to: Option<PartKind>,
    /// Where it is done, how long it takes and with what.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place_and_time: Option<Text>,
}

/// One thing to look at or measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// Code, such as `N25-02`.
    pub code: Tag,
    /// Code of its group.
    pub group: Tag,
    /// What to look at or measure.
    pub text: Text,
    /// What is good.
    pub pass: Text,
    /// What follows if it is not, in words.
    pub if_failed: Text,
    /// The numbers by which a reading is judged.
    #[serde(default)]
    pub limits: Vec<Limit>,
}

/// Limits of one quantity, each with the class that a reading beyond it is in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Which quantity, such as `servo_free_play`.
    pub quantity: Tag,
    /// Kinds of position it holds for; empty: all.
    #[serde(default)]
    pub position_kinds: Vec<Text>,
    /// Unit of the limits.
    pub unit: Text,
    /// On which side the trouble lies.
    pub direction: Direction,
    /// Watch it from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub watch: Option<f64>,
    /// Fly with a restriction from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub restrict: Option<f64>,
    /// Do not fly from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub ground: Option<f64>,
}

impl Limit {
    /// The worst class that a reading in the limit's unit has reached; `None`: it is good.
    #[must_use]
    pub fn severity_of(&self, reading: f64) -> Option<Severity> {
        [(self.ground, Severity::Ground), (self.restrict, Severity::Restrict), (self.watch, Severity::Watch)]
            .into_iter()
            .find_map(|(limit, severity)| {
                limit.filter(|at| self.direction.is_reached(reading, *at)).map(|_| severity)
            })
    }
}
