//! The table of components.

use preen_domain::facts::Component;

fact_rows! {
    components: Component, moment: none, {
        tag: Text,
        part: Text,
        batch: MaybeText,
        serial: MaybeText,
        seat: MaybeText,
        design: MaybeText,
        mass_g: Number,
        acquired_on: MaybeText,
        state: Text,
        location: MaybeText,
        opening: MaybeJson,
        note: MaybeText,
    }
}
