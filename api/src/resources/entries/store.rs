//! The table of entries.

use preen_domain::facts::Entry;

fact_rows! {
    entries: Entry, moment: none, {
        tag: MaybeText,
        contest: Text,
        pilot: Text,
        model: Text,
        reserves: Json,
        parts: Json,
        state: Text,
        marks: MaybeText,
        mark_height_mm: MaybeNumber,
        note: MaybeText,
    }
}
