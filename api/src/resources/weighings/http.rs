//! Routes of weighings.

use preen_domain::facts::Weighing;

record_routes! {
    Weighing, "weighings",
    list list_weighings "/weighings" "Lists weighings.",
    find find_weighing "/weighings/{id}" "Finds a weighing by id or tag.",
    add record_weighing "/weighings" "Records a weighing.",
    correct correct_weighing "/weighings/{id}/correction" "Corrects a weighing, or says that it never was.",
}
