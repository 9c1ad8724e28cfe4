//! Routes of classes.

use preen_domain::facts::ClassProfile;

record_routes! {
    ClassProfile, "classes",
    list list_classes "/classes" "Lists contest classes of the club's own.",
    find find_class "/classes/{id}" "Finds a contest class by id or tag.",
    add add_class "/classes" "Adds a contest class.",
    revise revise_class "/classes/{id}" "Replaces a contest class by a new version of itself.",
}
