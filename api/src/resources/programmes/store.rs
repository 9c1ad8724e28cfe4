//! The table of programmes.

use preen_domain::facts::Programme;

fact_rows! {
    programmes: Programme, moment: none, {
        tag: Text,
        title: Text,
        design: MaybeText,
        model: MaybeText,
        groups: Json,
        items: Json,
    }
}
