//! The table of parts.

use preen_domain::facts::Part;

fact_rows! {
    parts: Part, moment: none, {
        tag: Text,
        kind: Text,
        maker: MaybeText,
        tracking: Text,
        nominal_mass_g: Number,
        rated_capacity_mah: MaybeNumber,
        new_cell_mohm: Json,
        section: MaybeJson,
        cells: MaybeCount,
        accepted_in: Json,
        note: MaybeText,
    }
}
