//! Routes of flights.

use preen_domain::facts::Flight;

record_routes! {
    Flight, "flights",
    list list_flights "/flights" "Lists flights.",
    find find_flight "/flights/{id}" "Finds a flight by id or tag.",
    add log_flight "/flights" "Logs a flight.",
    correct correct_flight "/flights/{id}/correction" "Corrects a flight, or says that it never was.",
}
