//! What lies ahead of an entry until its last round: flights in the worst case and by the rate of the last weeks, and
//! what they bring of every counter.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::{due::FORECAST_WINDOW_DAYS, usage::just_after};
use crate::{
    facts::{ClassProfile, Contest},
    fleet::{Fleet, Usage},
    formulas::{calendar::days_between, forecast::counting_rate},
    ids::ModelId,
    time::{Instant, day_of},
    words::Counter,
};

/// What readiness is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Ahead<'a> {
    /// Flights of training before the first round.
    pub training: u32,
    /// Flights of the contest if every round is flown.
    pub rounds: u32,
    /// Flights of the contest at least, where that is known.
    pub rounds_min: Option<u32>,
    /// First day of flying.
    pub first_on: NaiveDate,
    /// Last day of flying.
    pub last_on: NaiveDate,
    /// The day on which everything has to be ready.
    pub ready_on: NaiveDate,
    /// The class, where there is one.
    pub class: Option<&'a ClassProfile>,
    /// Whether it is a contest: then tolerance is not used, and the check before contests is asked for.
    pub is_contest: bool,
}

impl<'a> Ahead<'a> {
    /// What a contest brings.
    #[must_use]
    pub fn of_contest(fleet: &'a Fleet, contest: &'a Contest) -> Self {
        Self {
            training: contest.training_flights,
            rounds: contest.flights_max(),
            rounds_min: contest.rounds_min.map(|rounds| rounds.saturating_mul(contest.flights_per_round)),
            first_on: contest.first_on,
            last_on: contest.last_on,
            ready_on: day_of(contest.check_in_at, fleet.club().zone),
            class: crate::classes::of_tag(fleet, &contest.class),
            is_contest: true,
        }
    }

    /// So many flights until a day, for no contest.
    #[must_use]
    pub const fn of_flights(flights: u32, until_on: NaiveDate) -> Self {
        Self {
            training: 0,
            rounds: flights,
            rounds_min: None,
            first_on: until_on,
            last_on: until_on,
            ready_on: until_on,
            class: None,
            is_contest: false,
        }
    }

    /// Flights in all if every round is flown.
    #[must_use]
    pub const fn flights(&self) -> u32 {
        self.training.saturating_add(self.rounds)
    }
}

/// Flights of a model until the last round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FlightsAhead {
    /// Flights on record now.
    pub now_flights: i64,
    /// Flights of training before the first round.
    pub training_flights: i64,
    /// Flights of the contest if every round is flown.
    pub contest_flights_max: i64,
    /// Flights of the contest at least; null where that is not known.
    pub contest_flights_min: Option<i64>,
    /// Flights at the last round in the worst case: now, training and every round.
    pub last_round_flights: i64,
    /// Flights at the last round at the rate of the last weeks; null where none were flown in them.
    pub forecast_flights: Option<i64>,
    /// The same at the lower 90 % bound of the rate.
    pub forecast_flights_from: Option<i64>,
    /// The same at the upper 90 % bound of the rate.
    pub forecast_flights_to: Option<i64>,
    /// What that rests on.
    pub assumption: String,
}

/// What one flight brings of a counter, by the model's own record.
#[derive(Debug, Clone, Copy)]
pub(super) struct Habit {
    flights: u64,
    usage: Usage,
    training: u32,
    rounds: u32,
    contest_days: u32,
}

impl Habit {
    pub(super) fn of(fleet: &Fleet, model: ModelId, ahead: &Ahead<'_>, as_of: Instant) -> Self {
        let usage = fleet.model_usage(model, Instant::from_micros(i64::MIN), just_after(as_of));
        let days = days_between(ahead.first_on, ahead.last_on).saturating_add(1).max(1);
        Self {
            flights: usage.flights,
            usage,
            training: ahead.training,
            rounds: ahead.rounds,
            contest_days: u32::try_from(days).unwrap_or(u32::MAX),
        }
    }

    /// What training and then the contest bring of a counter, and what that rests on.
    pub(super) fn coming(&self, counter: Counter) -> (i64, i64, String) {
        let (training, rounds) = (i64::from(self.training), i64::from(self.rounds));
        let scaled = |total: u64, word: &str| {
            let each = |flights: i64| {
                let total = i128::from(total) * i128::from(flights);
                // Rounded up: a started hour counts.
                let per = i128::from(self.flights.max(1));
                i64::try_from((total + per - 1) / per).unwrap_or(i64::MAX)
            };
            (each(training), each(rounds), format!("{word} per flight as on its own record so far"))
        };
        match counter {
            Counter::Flights => {
                (training, rounds, "every training flight and every round is flown".to_owned())
            }
            Counter::Launches => (training, rounds, "each flight ahead is one launch".to_owned()),
            Counter::AirtimeH => scaled(self.usage.airtime_s / 3600 + 1, "hours"),
            Counter::MotorS => scaled(self.usage.motor_s, "motor seconds"),
            Counter::Riggings | Counter::Matings => {
                let (rigged, _, _) = scaled(self.usage.riggings, "");
                (
                    rigged,
                    i64::from(self.contest_days),
                    "rigged for training as on its own record, and once on each day of the contest"
                        .to_owned(),
                )
            }
            Counter::Charges => (training, rounds, "one charge for each flight".to_owned()),
        }
    }
}

/// Flights of a model until the last round.
pub(super) fn flights_ahead(
    fleet: &Fleet,
    model: ModelId,
    ahead: &Ahead<'_>,
    habit: &Habit,
    as_of: Instant,
) -> FlightsAhead {
    let now = i64::try_from(habit.flights).unwrap_or(i64::MAX);
    let from = just_after(as_of.plus_days(-i64::from(FORECAST_WINDOW_DAYS)));
    let flown = fleet.model_usage(model, from, just_after(as_of)).flights;
    let days = days_between(day_of(as_of, fleet.club().zone), ahead.last_on).max(0);
    let rate = u32::try_from(flown).ok().filter(|flown| *flown > 0);
    let rate = rate.and_then(|flown| counting_rate(flown, FORECAST_WINDOW_DAYS).ok());
    let at = |per_day: f64| {
        now.saturating_add(whole(per_day * f64::from(i32::try_from(days).unwrap_or(i32::MAX))))
    };
    let said = match &rate {
        Some(rate) => format!(
            "at {:.2} flights a day ({:.2} to {:.2}, 90 % bounds of the rate over {FORECAST_WINDOW_DAYS} days; the scatter of the coming flights comes on top)",
            rate.per_day, rate.low_per_day, rate.high_per_day
        ),
        None => format!("no flights in {FORECAST_WINDOW_DAYS} days, so no forecast by rate"),
    };
    FlightsAhead {
        now_flights: now,
        training_flights: i64::from(ahead.training),
        contest_flights_max: i64::from(ahead.rounds),
        contest_flights_min: ahead.rounds_min.map(i64::from),
        last_round_flights: now.saturating_add(i64::from(ahead.flights())),
        forecast_flights: rate.map(|rate| at(rate.per_day)),
        forecast_flights_from: rate.map(|rate| at(rate.low_per_day)),
        forecast_flights_to: rate.map(|rate| at(rate.high_per_day)),
        assumption: format!(
            "worst case: {} of training and all {} of the contest with this one model; {said}",
            ahead.training, ahead.rounds
        ),
    }
}

/// A number of flights rounded up to whole ones.
fn whole(flights: f64) -> i64 {
    let up = flights.ceil();
    if !up.is_finite() || up < 0.0 {
        return 0;
    }
    // Beyond any life of a model the count no longer matters.
    format!("{:.0}", up.min(1e9)).parse().unwrap_or(0)
}
