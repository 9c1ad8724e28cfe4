//! Routes of inspections.

use preen_domain::facts::Inspection;

record_routes! {
    Inspection, "inspections",
    list list_inspections "/inspections" "Lists inspections.",
    find find_inspection "/inspections/{id}" "Finds a inspection by id or tag.",
    add record_inspection "/inspections" "Records a check that was done.",
    correct correct_inspection "/inspections/{id}/correction" "Corrects a inspection, or says that it never was.",
}
