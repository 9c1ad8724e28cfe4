//! Routes of settlements.

use preen_domain::facts::Settlement;

record_routes! {
    Settlement, "settlements",
    list list_settlements "/settlements" "Lists settlements.",
    find find_settlement "/settlements/{id}" "Finds a settlement by id.",
    add settle_question "/settlements" "Settles a question.",
    correct correct_settlement "/settlements/{id}/correction" "Corrects a settlement, or says that it never was.",
}
