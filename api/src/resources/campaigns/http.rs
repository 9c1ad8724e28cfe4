//! Routes of campaigns.

use preen_domain::facts::Campaign;

record_routes! {
    Campaign, "campaigns",
    list list_campaigns "/campaigns" "Lists campaigns.",
    find find_campaign "/campaigns/{id}" "Finds a campaign by id or tag.",
    add open_campaign "/campaigns" "Opens a campaign.",
    correct correct_campaign "/campaigns/{id}/correction" "Corrects a campaign, or says that it never was.",
}
