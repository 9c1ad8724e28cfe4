//! The table of deferrals.

use preen_domain::facts::Deferral;

fact_rows! {
    deferrals: Deferral, moment: some, {
        tag: MaybeText,
        defect: Text,
        occurred_at: Moment,
        restrictions: Json,
        fix_by_on: MaybeText,
        within_flights: MaybeCount,
        reason: Text,
        deferred_by: MaybeText,
    }
}
