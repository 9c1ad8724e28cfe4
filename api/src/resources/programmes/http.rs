//! Routes of programmes.

use preen_domain::facts::Programme;

record_routes! {
    Programme, "programmes",
    list list_programmes "/programmes" "Lists programmes.",
    find find_programme "/programmes/{id}" "Finds a programme by id or tag.",
    add add_programme "/programmes" "Adds an inspection programme.",
    revise revise_programme "/programmes/{id}" "Replaces a programme by a new version of itself.",
}
