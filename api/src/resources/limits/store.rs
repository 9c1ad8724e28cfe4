//! The table of limits.

use preen_domain::facts::ClubLimit;

fact_rows! {
    limits: ClubLimit, moment: none, {
        tag: Text,
        limit: Json,
        reason: Text,
    }
}
