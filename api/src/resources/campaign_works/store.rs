//! The table of works on campaigns.

use preen_domain::facts::CampaignWork;

fact_rows! {
    campaign_works: CampaignWork, moment: some, {
        campaign: Text,
        action: Count,
        component: Text,
        occurred_at: Moment,
        result: Text,
        done_by: MaybeText,
        note: MaybeText,
    }
}
