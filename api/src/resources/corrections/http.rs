//! Routes of corrections.

use preen_domain::facts::Correction;

record_routes! {
    Correction, "corrections",
    list list_corrections "/corrections" "Lists corrections.",
    find find_correction "/corrections/{id}" "Finds a correction.",
}
