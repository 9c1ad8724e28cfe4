//! Routes of limits.

use preen_domain::facts::ClubLimit;

record_routes! {
    ClubLimit, "limits",
    list list_limits "/limits" "Lists limits of the club.",
    find find_limit "/limits/{id}" "Finds a limit of the club by id or tag.",
    add set_limit "/limits" "Sets a limit in the place of the programme's.",
    revise revise_limit "/limits/{id}" "Replaces a limit by a new version of itself.",
}
