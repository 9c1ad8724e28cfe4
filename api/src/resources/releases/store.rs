//! The table of releases.

use preen_domain::facts::Release;

fact_rows! {
    releases: Release, moment: some, {
        repair: Text,
        occurred_at: Moment,
        second_person: MaybeText,
        released_by: MaybeText,
        note: MaybeText,
    }
}
