//! Routes of designs.

use preen_domain::facts::Design;

record_routes! {
    Design, "designs",
    list list_designs "/designs" "Lists designs.",
    find find_design "/designs/{id}" "Finds a design by id or tag.",
    add add_design "/designs" "Adds a design.",
    revise revise_design "/designs/{id}" "Replaces a design by a new version of itself.",
}
