//! Routes of deferrals.

use preen_domain::facts::Deferral;

record_routes! {
    Deferral, "deferrals",
    list list_deferrals "/deferrals" "Lists deferrals.",
    find find_deferral "/deferrals/{id}" "Finds a deferral by id or tag.",
    add add_deferral "/deferrals" "Defers a defect, or extends its deferral.",
    correct correct_deferral "/deferrals/{id}/correction" "Corrects a deferral, or says that it never was.",
}
