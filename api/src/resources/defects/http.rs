//! Routes of defects.

use preen_domain::facts::Defect;

record_routes! {
    Defect, "defects",
    list list_defects "/defects" "Lists defects.",
    find find_defect "/defects/{id}" "Finds a defect by id or tag.",
    add report_defect "/defects" "Reports a defect.",
    correct correct_defect "/defects/{id}/correction" "Corrects a defect, or says that it never was.",
}
