//! The table of conditions.

use preen_domain::facts::Condition;

fact_rows! {
    conditions: Condition, moment: some, {
        component: Text,
        occurred_at: Moment,
        state: Text,
        location: MaybeText,
        reason: Text,
    }
}
