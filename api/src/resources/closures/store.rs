//! The table of closures.

use preen_domain::facts::Closure;

fact_rows! {
    closures: Closure, moment: some, {
        defect: Text,
        occurred_at: Moment,
        kind: Text,
        text: Text,
        measurement: MaybeText,
        closed_by: MaybeText,
    }
}
