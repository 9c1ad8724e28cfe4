//! Routes of repairs.

use preen_domain::facts::Repair;

record_routes! {
    Repair, "repairs",
    list list_repairs "/repairs" "Lists repairs.",
    find find_repair "/repairs/{id}" "Finds a repair by id or tag.",
    add start_repair "/repairs" "Starts a repair.",
    correct correct_repair "/repairs/{id}/correction" "Corrects a repair, or says that it never was.",
}
