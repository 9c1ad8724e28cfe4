//! The table of slugs.

use preen_domain::facts::Slug;

fact_rows! {
    slugs: Slug, moment: none, {
        tag: Text,
        mass_g: Number,
        count: Count,
        purpose: Text,
        design: MaybeText,
    }
}
