//! Routes of lots.

use preen_domain::facts::Lot;

record_routes! {
    Lot, "lots",
    list list_lots "/lots" "Lists lots of consumables.",
    find find_lot "/lots/{id}" "Finds a lot by id or tag.",
    add add_lot "/lots" "Adds a lot of consumables.",
    revise revise_lot "/lots/{id}" "Replaces a lot by a new version of itself.",
}
