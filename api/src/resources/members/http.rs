//! Routes of members.

use preen_domain::facts::Member;

record_routes! {
    Member, "members",
    list list_members "/members" "Lists members.",
    find find_member "/members/{id}" "Finds a member by id or tag.",
    add admit_member "/members" "Admits a member.",
    revise revise_member "/members/{id}" "Replaces a member by a new version of itself.",
}
