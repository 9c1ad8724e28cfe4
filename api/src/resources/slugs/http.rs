//! Routes of slugs.

use preen_domain::facts::Slug;

record_routes! {
    Slug, "slugs",
    list list_slugs "/slugs" "Lists counted slugs.",
    find find_slug "/slugs/{id}" "Finds slugs by id or tag.",
    add add_slug "/slugs" "Adds slugs of one stamped mass.",
    revise revise_slug "/slugs/{id}" "Replaces slugs by a new version of themselves.",
}
