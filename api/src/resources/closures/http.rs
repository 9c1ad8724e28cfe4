//! Routes of closures.

use preen_domain::facts::Closure;

record_routes! {
    Closure, "closures",
    list list_closures "/closures" "Lists closures.",
    find find_closure "/closures/{id}" "Finds a closure by id.",
    add close_defect "/closures" "Closes a defect without a repair.",
    correct correct_closure "/closures/{id}/correction" "Corrects a closure, or says that it never was.",
}
