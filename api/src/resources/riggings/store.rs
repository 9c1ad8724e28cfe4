//! The table of riggings.

use preen_domain::facts::Rigging;

fact_rows! {
    riggings: Rigging, moment: some, {
        tag: MaybeText,
        model: Text,
        occurred_at: Moment,
        cycles: Count,
        note: MaybeText,
    }
}
