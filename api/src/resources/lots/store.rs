//! The table of lots.

use preen_domain::facts::Lot;

fact_rows! {
    lots: Lot, moment: none, {
        tag: Text,
        item: Text,
        opened_on: MaybeText,
        use_by_on: MaybeText,
        quantity: Number,
        unit: Text,
    }
}
