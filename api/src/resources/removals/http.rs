//! Routes of removals.

use preen_domain::facts::Removal;

record_routes! {
    Removal, "removals",
    list list_removals "/removals" "Lists removals.",
    find find_removal "/removals/{id}" "Finds a removal by id.",
    add remove_component "/removals" "Takes a component out of its position.",
    correct correct_removal "/removals/{id}/correction" "Corrects a removal, or says that it never was.",
}
