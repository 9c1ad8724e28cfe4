//! Routes of repair steps.

use preen_domain::facts::RepairStep;

record_routes! {
    RepairStep, "repair-steps",
    list list_repair_steps "/repair-steps" "Lists work done on repairs.",
    find find_repair_step "/repair-steps/{id}" "Finds an entry of work by id.",
    add work_on_repair "/repair-steps" "Records work on a repair: steps ticked, material, cure, mass, readings.",
    correct correct_repair_step "/repair-steps/{id}/correction" "Corrects an entry of work, or says that it never was.",
}
