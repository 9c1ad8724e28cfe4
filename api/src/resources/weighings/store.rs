//! The table of weighings.

use preen_domain::facts::Weighing;

fact_rows! {
    weighings: Weighing, moment: some, {
        tag: MaybeText,
        model: Text,
        occurred_at: Moment,
        configuration: MaybeText,
        mass_g: Number,
        x_mm: Number,
        u_x_mm: Number,
        y_mm: MaybeNumber,
        supports: Json,
        weighed_by: MaybeText,
        note: MaybeText,
    }
}
