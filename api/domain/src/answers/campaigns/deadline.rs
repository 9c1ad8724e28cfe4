//! Until when an action of a campaign is to be done: by a day, within flights of the model, before the next flight
//! after a day; whichever comes first.

use chrono::NaiveDate;

use super::super::{Moment, usage::just_after};
use crate::{
    facts::{Campaign, CampaignAction},
    fleet::Fleet,
    ids::ModelId,
    rules::campaign::counts_from,
};

/// How an action stands against its deadlines.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Deadline {
    /// Whether one of them is past on the day asked about.
    pub is_over: bool,
    /// The last day for it; where a flight has to wait for it, the last day that may be flown without.
    pub due_on: Option<NaiveDate>,
    /// Flights of the model since the opening day.
    pub flown: Option<i64>,
    /// Flights left; 0 or less: none.
    pub flights_left: Option<i64>,
}

/// How an action stands. A part in no model has no flights to count and none to wait for: only a day binds it.
pub(super) fn deadline(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    model: Option<ModelId>,
    moment: Moment,
) -> Deadline {
    let flight_after_on = action.before_next_flight_after_on.filter(|_| model.is_some());
    let days = [action.by_on, flight_after_on];
    let counted = action.within_flights.zip(model).map(|(within, model)| {
        let usage = fleet.model_usage(model, counts_from(fleet, campaign), just_after(moment.as_of));
        let flown = i64::try_from(usage.flights).unwrap_or(i64::MAX);
        (flown, i64::from(within).saturating_sub(flown))
    });
    Deadline {
        is_over: days.into_iter().flatten().any(|day| moment.on > day)
            || counted.is_some_and(|(_, left)| left <= 0),
        due_on: days.into_iter().flatten().min(),
        flown: counted.map(|(flown, _)| flown),
        flights_left: counted.map(|(_, left)| left),
    }
}

/// The deadlines of an action in words.
pub(super) fn words(action: &CampaignAction) -> String {
    let mut parts = Vec::new();
    if let Some(within) = action.within_flights {
        parts.push(format!("within {within} flights"));
    }
    if let Some(by_on) = action.by_on {
        parts.push(format!("by {by_on}"));
    }
    if let Some(after_on) = action.before_next_flight_after_on {
        parts.push(format!("before the next flight after {after_on}"));
    }
    if parts.is_empty() { "without a deadline".to_owned() } else { parts.join(" and ") }
}
