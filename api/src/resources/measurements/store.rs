//! The table of measurements.

use preen_domain::facts::Measurement;

fact_rows! {
    measurements: Measurement, moment: some, {
        tag: MaybeText,
        subject: Pointer,
        quantity: Text,
        values: Json,
        unit: Text,
        occurred_at: Moment,
        method: MaybeText,
        temperature_c: MaybeNumber,
        instrument: MaybeText,
        is_series_start: Flag,
        measured_by: MaybeText,
        note: MaybeText,
    }
}
