//! The table of closings of campaigns.

use preen_domain::facts::CampaignClosure;

fact_rows! {
    campaign_closures: CampaignClosure, moment: some, {
        campaign: Text,
        occurred_at: Moment,
        waived: Json,
        text: MaybeText,
        closed_by: MaybeText,
    }
}
