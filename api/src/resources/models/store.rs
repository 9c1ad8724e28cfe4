//! The table of models.

use preen_domain::facts::Model;

fact_rows! {
    models: Model, moment: none, {
        tag: Text,
        design: Text,
        owner: MaybeText,
        ownership: Text,
        first_flight_on: Text,
        note: MaybeText,
    }
}
