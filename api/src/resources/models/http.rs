//! Routes of models.

use preen_domain::facts::Model;

record_routes! {
    Model, "models",
    list list_models "/models" "Lists models.",
    find find_model "/models/{id}" "Finds a model by id or tag.",
    add add_model "/models" "Adds a model aircraft to the fleet.",
    revise revise_model "/models/{id}" "Replaces a model by a new version of itself.",
}
