//! The table of corrections.

use preen_domain::facts::Correction;

fact_rows! {
    corrections: Correction, moment: none, {
        noun: Text,
        original: Text,
        reason: Text,
        is_void: Flag,
        fact: MaybeJson,
    }
}
