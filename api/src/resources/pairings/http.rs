//! Routes of pairings.

use preen_domain::facts::Pairing;

record_routes! {
    Pairing, "pairings",
    list list_pairings "/pairings" "Lists accepted pairings.",
    find find_pairing "/pairings/{id}" "Finds a pairing by id.",
    add accept_pairing "/pairings" "Accepts the fit of a part outside its set.",
    correct correct_pairing "/pairings/{id}/correction" "Corrects a pairing, or says that it never was.",
}
