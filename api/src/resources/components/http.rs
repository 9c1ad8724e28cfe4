//! Routes of components.

use preen_domain::facts::Component;

record_routes! {
    Component, "components",
    list list_components "/components" "Lists components.",
    find find_component "/components/{id}" "Finds a component by id or tag.",
    add add_component "/components" "Adds an individual part.",
    correct correct_component "/components/{id}/correction" "Corrects a component, or says that it never was.",
}
