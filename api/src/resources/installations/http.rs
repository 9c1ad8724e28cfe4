//! Routes of installations.

use preen_domain::facts::Installation;

record_routes! {
    Installation, "installations",
    list list_installations "/installations" "Lists installations.",
    find find_installation "/installations/{id}" "Finds a installation by id.",
    add install_component "/installations" "Puts a component into a position.",
    correct correct_installation "/installations/{id}/correction" "Corrects a installation, or says that it never was.",
}
