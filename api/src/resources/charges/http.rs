//! Routes of charges.

use preen_domain::facts::Charge;

record_routes! {
    Charge, "charges",
    list list_charges "/charges" "Lists charges.",
    find find_charge "/charges/{id}" "Finds a charge by id or tag.",
    add log_charge "/charges" "Logs a charge of a pack.",
    correct correct_charge "/charges/{id}/correction" "Corrects a charge, or says that it never was.",
}
