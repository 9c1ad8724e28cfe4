//! The table of defects.

use preen_domain::facts::Defect;

fact_rows! {
    defects: Defect, moment: some, {
        tag: MaybeText,
        model: Text,
        subject: Pointer,
        place: MaybeText,
        occurred_at: Moment,
        severity: Text,
        text: Text,
        restriction: MaybeJson,
        restrictions: Json,
        fix_by_on: MaybeText,
        cause: MaybeText,
        cause_note: MaybeText,
        found_by: MaybeText,
    }
}
