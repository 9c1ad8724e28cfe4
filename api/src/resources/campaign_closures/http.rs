//! Routes of closings of campaigns.

use preen_domain::facts::CampaignClosure;

record_routes! {
    CampaignClosure, "campaign-closures",
    list list_campaign_closures "/campaign-closures" "Lists closings of campaigns.",
    find find_campaign_closure "/campaign-closures/{id}" "Finds the closing of a campaign by id.",
    add add_campaign_closure "/campaign-closures" "Closes a campaign; `POST /campaigns/{id}/close` does it too.",
    correct correct_campaign_closure "/campaign-closures/{id}/correction"
        "Corrects the closing of a campaign, or says that it never was: the campaign is open again.",
}
