//! Routes of entries.

use preen_domain::facts::Entry;

record_routes! {
    Entry, "entries",
    list list_entries "/entries" "Lists entries to contests.",
    find find_entry "/entries/{id}" "Finds an entry by id or tag.",
    add enter_contest "/entries" "Enters a pilot for a contest.",
    revise revise_entry "/entries/{id}" "Replaces an entry by a new version of itself.",
}
