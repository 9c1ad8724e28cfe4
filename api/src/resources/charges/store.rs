//! The table of charges.

use preen_domain::facts::Charge;

fact_rows! {
    charges: Charge, moment: some, {
        tag: MaybeText,
        component: Text,
        occurred_at: Moment,
        charged_mah: MaybeNumber,
        note: MaybeText,
    }
}
