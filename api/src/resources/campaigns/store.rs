//! The table of campaigns.

use preen_domain::facts::Campaign;

fact_rows! {
    campaigns: Campaign, moment: some, {
        tag: MaybeText,
        occurred_at: Moment,
        part: Text,
        batch: MaybeText,
        serial_from: MaybeText,
        serial_to: MaybeText,
        position_kind: MaybeText,
        actions: Json,
        text: MaybeText,
        opened_by: MaybeText,
    }
}
