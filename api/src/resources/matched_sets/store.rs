//! The table of matched sets.

use preen_domain::facts::MatchedSet;

fact_rows! {
    matched_sets: MatchedSet, moment: none, {
        tag: Text,
        component: Text,
        mates: Json,
        marks: MaybeText,
        orientation: MaybeText,
    }
}
