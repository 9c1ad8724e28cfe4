//! The table of inspections.

use preen_domain::facts::Inspection;

fact_rows! {
    inspections: Inspection, moment: some, {
        tag: MaybeText,
        model: MaybeText,
        component: MaybeText,
        group: Text,
        programme: MaybeText,
        occurred_at: Moment,
        result: Text,
        is_summary: Flag,
        items: Json,
        inspected_by: MaybeText,
        note: MaybeText,
    }
}
