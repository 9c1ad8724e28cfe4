//! Routes of conditions.

use preen_domain::facts::Condition;

record_routes! {
    Condition, "conditions",
    list list_conditions "/conditions" "Lists conditions.",
    find find_condition "/conditions/{id}" "Finds a condition by id.",
    add change_condition "/conditions" "Changes the kept state of a component.",
    correct correct_condition "/conditions/{id}/correction" "Corrects a condition, or says that it never was.",
}
