//! Routes of parts.

use preen_domain::facts::Part;

record_routes! {
    Part, "parts",
    list list_parts "/parts" "Lists parts.",
    find find_part "/parts/{id}" "Finds a part by id or tag.",
    add add_part "/parts" "Adds a part type.",
    revise revise_part "/parts/{id}" "Replaces a part by a new version of itself.",
}
