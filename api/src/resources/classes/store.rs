//! The table of classes.

use preen_domain::facts::ClassProfile;

fact_rows! {
    classes: ClassProfile, moment: none, {
        tag: Text,
        title: Text,
        edition: Text,
        source: Text,
        in_force_on: MaybeText,
        area: Text,
        limits: Json,
        measuring_tolerance_pct: Number,
        confirmed_by: MaybeText,
        confirmed_on: MaybeText,
        note: MaybeText,
    }
}
