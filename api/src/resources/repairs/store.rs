//! The table of repairs.

use preen_domain::facts::Repair;

fact_rows! {
    repairs: Repair, moment: some, {
        tag: MaybeText,
        model: Text,
        components: Json,
        defect: MaybeText,
        kind: Text,
        occurred_at: Moment,
        cure_until_at: MaybeMoment,
        text: Text,
        material_mass_g: Number,
        x_mm: Number,
        y_mm: Number,
        z_mm: Number,
        slack_used_mm: MaybeNumber,
        done_by: MaybeText,
    }
}
