//! What open campaigns still ask of the parts that a model carries, action by action with its deadlines: for those who
//! look ahead. What stands against flying today is said by [`super::campaign_word`].

use chrono::NaiveDate;

use super::{super::Moment, clearing, covers, deadline::deadline, deadline::words};
use crate::{
    fleet::{Fitted, Fleet},
    ids::ModelId,
    rules::campaign::{name, open_at, outcome},
    words::Standing,
};

/// An action that is open on parts of a model.
#[derive(Debug, Clone)]
pub(crate) struct CampaignAhead {
    /// Tag of the campaign.
    pub campaign: String,
    /// Number of the action.
    pub action: u32,
    /// Tags of the parts.
    pub parts: Vec<String>,
    /// The last day, where one binds.
    pub due_on: Option<NaiveDate>,
    /// Flights left, where a count binds.
    pub flights_left: Option<i64>,
    /// Whether a deadline is past on the day asked about.
    pub is_over: bool,
    /// What is asked, in a sentence.
    pub text: String,
    /// What a person does.
    pub clear_by: String,
}

/// All actions that are open on a model.
pub(crate) fn campaigns_ahead(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<CampaignAhead> {
    let mut list = Vec::new();
    for campaign in open_at(fleet, moment.as_of) {
        let campaign = &campaign.fact;
        let covered: Vec<&Fitted<'_>> =
            fitted.iter().filter(|fitted| covers(fleet, campaign, fitted)).collect();
        for action in &campaign.actions {
            let is_open = |fitted: &&&Fitted<'_>| {
                let came = outcome(fleet, campaign, action, fitted.id, true, moment.as_of);
                matches!(came.standing, Standing::Open | Standing::Failed)
            };
            let parts: Vec<String> =
                covered.iter().filter(is_open).map(|fitted| fleet.component_tag(fitted.id)).collect();
            if parts.is_empty() {
                continue;
            }
            let until = deadline(fleet, campaign, action, Some(model), moment);
            let tags = parts.join(", ");
            list.push(CampaignAhead {
                campaign: name(campaign),
                action: action.number,
                due_on: until.due_on,
                flights_left: until.flights_left,
                is_over: until.is_over,
                text: format!(
                    "{} action {}: {} ({tags}), {}",
                    name(campaign),
                    action.number,
                    action.text,
                    words(action)
                ),
                clear_by: clearing(campaign, action, &tags),
                parts,
            });
        }
    }
    list
}
