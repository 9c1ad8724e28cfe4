//! The table of pairings.

use preen_domain::facts::Pairing;

fact_rows! {
    pairings: Pairing, moment: some, {
        component: Text,
        mates: Json,
        occurred_at: Moment,
        clearance_mm: MaybeNumber,
        accepted_by: MaybeText,
        note: MaybeText,
    }
}
