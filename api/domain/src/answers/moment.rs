//! When a question is asked about, and the frame around every answer.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    fleet::Fleet,
    ids::MemberId,
    time::{Instant, day_of, end_of_day, start_of_day},
};

/// When a question is asked about, and for whom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// What had happened by then counts.
    pub as_of: Instant,
    /// The club day asked about; it may lie ahead of `as_of`.
    pub on: NaiveDate,
    /// The pilot who means to fly, for loans.
    pub pilot: Option<MemberId>,
}

impl Moment {
    /// The club day on which `as_of` falls.
    #[must_use]
    pub fn today(fleet: &Fleet, as_of: Instant) -> Self {
        Self { as_of, on: day_of(as_of, fleet.club().zone), pilot: None }
    }

    /// The first moment of the day asked about that is not past yet: what a clock has to show by then.
    #[must_use]
    pub fn begins_at(self, fleet: &Fleet) -> Instant {
        self.as_of.max(start_of_day(self.on, fleet.club().zone))
    }
}

/// An answer with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Answer<T> {
    /// The club revision it was given at.
    pub revision: i64,
    /// What had happened by then was counted.
    pub as_of: Instant,
    /// When the newest fact used was recorded; absent for an empty club.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inputs_newest_at: Option<Instant>,
    /// When the answer next changes by itself: a cure ends, a day passes.
    pub valid_until: Instant,
    /// The answer.
    #[serde(flatten)]
    pub answer: T,
}

/// Puts the frame around an answer.
pub fn frame<T>(fleet: &Fleet, as_of: Instant, answer: T) -> Answer<T> {
    let midnight = end_of_day(day_of(as_of, fleet.club().zone), fleet.club().zone);
    let cured = fleet
        .repairs()
        .filter(|(_, file)| !file.is_released_at(as_of))
        .filter_map(|(_, file)| file.cure_until(as_of))
        .filter(|until| *until > as_of);
    let valid_until = cured.fold(midnight, Instant::min);
    Answer { revision: fleet.revision(), as_of, inputs_newest_at: fleet.newest_at(), valid_until, answer }
}
