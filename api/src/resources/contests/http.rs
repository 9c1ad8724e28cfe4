//! Routes of contests.

use preen_domain::facts::Contest;

record_routes! {
    Contest, "contests",
    list list_contests "/contests" "Lists contests.",
    find find_contest "/contests/{id}" "Finds a contest by id or tag.",
    add add_contest "/contests" "Adds a contest.",
    revise revise_contest "/contests/{id}" "Replaces a contest by a new version of itself.",
}
