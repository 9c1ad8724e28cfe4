//! The table of repair steps.

use preen_domain::facts::RepairStep;

fact_rows! {
    repair_steps: RepairStep, moment: some, {
        repair: Text,
        occurred_at: Moment,
        steps: Json,
        materials: Json,
        resin: MaybeText,
        temperature_c: MaybeNumber,
        cure_started_at: MaybeMoment,
        cure_until_at: MaybeMoment,
        mass_added_g: Number,
        x_mm: Number,
        y_mm: Number,
        z_mm: Number,
        parts_off: Json,
        parts_on: Json,
        readings_before: Json,
        readings_after: Json,
        joiner: MaybeJson,
        connector: MaybeJson,
        cover: MaybeJson,
        servo: MaybeJson,
        is_second_look: Flag,
        done_by: MaybeText,
        note: MaybeText,
    }
}
