//! Routes of events.

use preen_domain::facts::Event;

record_routes! {
    Event, "events",
    list list_events "/events" "Lists events.",
    find find_event "/events/{id}" "Finds an event by id or tag.",
    add record_event "/events" "Records what else happened to a model.",
    correct correct_event "/events/{id}/correction" "Corrects an event, or says that it never was.",
}
