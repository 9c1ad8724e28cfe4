//! The table of events.

use preen_domain::facts::Event;

fact_rows! {
    events: Event, moment: some, {
        tag: MaybeText,
        model: Text,
        kind: Text,
        occurred_at: Moment,
        note: MaybeText,
    }
}
