//! Routes of matched sets.

use preen_domain::facts::MatchedSet;

record_routes! {
    MatchedSet, "matched-sets",
    list list_matched_sets "/matched-sets" "Lists matched sets.",
    find find_matched_set "/matched-sets/{id}" "Finds a matched set by id or tag.",
    add add_matched_set "/matched-sets" "Adds a matched set.",
    revise revise_matched_set "/matched-sets/{id}" "Replaces a matched set by a new version of itself.",
}
