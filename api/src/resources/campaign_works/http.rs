//! Routes of works on campaigns.

use preen_domain::facts::CampaignWork;

record_routes! {
    CampaignWork, "campaign-works",
    list list_campaign_works "/campaign-works" "Lists parts looked at for campaigns.",
    find find_campaign_work "/campaign-works/{id}" "Finds a work on a campaign by id.",
    add record_campaign_work "/campaign-works"
        "Records that a part was looked at for an action of a campaign that asks for an inspection.",
    correct correct_campaign_work "/campaign-works/{id}/correction"
        "Corrects a work on a campaign, or says that it never was.",
}
