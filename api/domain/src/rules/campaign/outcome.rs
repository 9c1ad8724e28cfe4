//! What came of an action of a campaign on one part: measuring is answered by a reading, inspecting by a work that
//! names the campaign and its action, replacing by nothing but the part's leaving.

use super::rule::counts_from;
use crate::{
    facts::{Campaign, CampaignAction, CampaignWork, Measurement, Recorded},
    fleet::Fleet,
    ids::ComponentId,
    time::Instant,
    words::{CampaignTask, CheckResult, Direction, Standing},
};

/// What came of it, deadlines left aside: never overdue.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Outcome<'a> {
    /// How it stands.
    pub standing: Standing,
    /// The reading that answers it.
    pub reading: Option<(&'a Recorded<Measurement>, f64)>,
    /// The work that answers it.
    pub work: Option<&'a Recorded<CampaignWork>>,
}

/// What came of an action on a part; `is_in_position` says whether it sits where the campaign covers it.
pub(crate) fn outcome<'a>(
    fleet: &'a Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    component: ComponentId,
    is_in_position: bool,
    as_of: Instant,
) -> Outcome<'a> {
    let nothing = |standing| Outcome { standing, reading: None, work: None };
    match action.task {
        CampaignTask::Replace if is_in_position => nothing(Standing::Open),
        CampaignTask::Replace => nothing(Standing::KeptOut),
        CampaignTask::Measure => match reading(fleet, campaign, action, component, as_of) {
            None => nothing(Standing::Open),
            Some((recorded, worst)) => {
                let is_beyond = action.limit.is_some_and(|limit| side(action).is_reached(worst, limit));
                let standing = if is_beyond { Standing::Failed } else { Standing::Done };
                Outcome { standing, reading: Some((recorded, worst)), work: None }
            }
        },
        CampaignTask::Inspect => {
            let works = fleet.campaign_file(campaign.id).map_or(&[][..], |file| file.works.until(as_of));
            let newest = works
                .iter()
                .rev()
                .find(|work| work.fact.action == action.number && work.fact.component == component);
            let standing = match newest.map(|work| work.fact.result) {
                None => Standing::Open,
                Some(CheckResult::Pass) => Standing::Done,
                Some(CheckResult::Restrict | CheckResult::Fail) => Standing::Failed,
            };
            Outcome { standing, reading: None, work: newest }
        }
    }
}

/// On which side of the limit a reading has reached it.
fn side(action: &CampaignAction) -> Direction {
    action.direction.unwrap_or(Direction::AtOrAbove)
}

/// The newest reading since the opening day of what is to be measured, in the unit asked for, with its worst value.
fn reading<'a>(
    fleet: &'a Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    component: ComponentId,
    as_of: Instant,
) -> Option<(&'a Recorded<Measurement>, f64)> {
    let quantity = action.quantity.as_ref()?;
    let from = counts_from(fleet, campaign);
    let newest = fleet.component(component)?.measurements.until(as_of).iter().rev().find(|reading| {
        reading.fact.occurred_at >= from
            && reading.fact.quantity == *quantity
            && action.unit.as_ref().is_none_or(|unit| *unit == reading.fact.unit)
    })?;
    let values = newest.fact.values.iter().copied();
    let worst = match side(action) {
        Direction::AtOrAbove | Direction::Above => values.max_by(f64::total_cmp),
        Direction::AtOrBelow | Direction::Below => values.min_by(f64::total_cmp),
    };
    Some((newest, worst?))
}
