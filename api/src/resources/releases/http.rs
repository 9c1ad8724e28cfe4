//! Routes of releases.

use preen_domain::facts::Release;

record_routes! {
    Release, "releases",
    list list_releases "/releases" "Lists releases.",
    find find_release "/releases/{id}" "Finds a release by id.",
    add release_repair "/releases" "Gives the club release of a repair.",
    correct correct_release "/releases/{id}/correction" "Corrects a release, or says that it never was.",
}
