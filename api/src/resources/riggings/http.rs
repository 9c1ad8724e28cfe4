//! Routes of riggings.

use preen_domain::facts::Rigging;

record_routes! {
    Rigging, "riggings",
    list list_riggings "/riggings" "Lists riggings.",
    find find_rigging "/riggings/{id}" "Finds a rigging by id or tag.",
    add log_rigging "/riggings" "Logs the assembly of a model.",
    correct correct_rigging "/riggings/{id}/correction" "Corrects a rigging, or says that it never was.",
}
