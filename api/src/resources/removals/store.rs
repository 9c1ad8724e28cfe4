//! The table of removals.

use preen_domain::facts::Removal;

fact_rows! {
    removals: Removal, moment: some, {
        installation: Text,
        component: Text,
        occurred_at: Moment,
        reason: Text,
        removed_by: MaybeText,
        note: MaybeText,
    }
}
