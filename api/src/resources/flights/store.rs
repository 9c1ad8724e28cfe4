//! The table of flights.

use preen_domain::facts::Flight;

fact_rows! {
    flights: Flight, moment: some, {
        tag: MaybeText,
        model: Text,
        pilot: Text,
        occurred_at: Moment,
        launches: Count,
        airtime_min: Number,
        motor_s: Count,
        is_landing_flap_used: Flag,
        landing: Text,
        is_post_flight_logged: Flag,
        note: MaybeText,
    }
}
