//! The table of contests.

use preen_domain::facts::Contest;

fact_rows! {
    contests: Contest, moment: none, {
        tag: Text,
        title: Text,
        place: MaybeText,
        class: Text,
        check_in_at: Moment,
        first_on: Text,
        last_on: Text,
        rounds_min: MaybeCount,
        prelim_rounds_max: Count,
        flyoff_rounds_max: Count,
        flights_per_round: Count,
        training_flights: Count,
        permissions: Json,
        note: MaybeText,
    }
}
