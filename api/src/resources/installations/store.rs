//! The table of installations.

use preen_domain::facts::Installation;

fact_rows! {
    installations: Installation, moment: some, {
        component: Text,
        inside: Pointer,
        position: Text,
        occurred_at: Moment,
        is_start_of_record: Flag,
        fitted_by: MaybeText,
        note: MaybeText,
    }
}
