//! Which models may fly on a day, and why not: all reasons, the tightest restrictions, what clears each.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    balance::balance_of_fitted,
    campaigns::{CampaignWord, campaign_word},
    check_reasons::check_reasons,
    defects::{OpenDefect, as_number, open_defects},
    due::{DueItem, due_now},
    failed_items::failed_item_reasons,
    first_flight::{FirstFlight, first_flights},
    model_now::ModelNow,
    readings::reading_reasons,
    seats::{empty_positions, pairing_reasons, part_reasons},
    service::{in_service, lent_reason, out_of_use_reason},
    tightest::{Tightest, tightest},
};
use crate::{
    finding::Finding,
    fleet::Fleet,
    ids::ModelId,
    words::{RestrictionKind, Severity, State},
};

/// All models on a day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FleetBoard {
    /// The club day asked about.
    pub on: NaiveDate,
    /// One verdict a model, in order of tags.
    pub models: Vec<ModelVerdict>,
    /// What this answer is and is not.
    pub caution: String,
}

/// May this model fly, and why not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelVerdict {
    /// Tag of the model.
    pub model: String,
    /// Tag of its owner; null for a club model.
    pub owner: Option<String>,
    /// Its state on that day.
    pub state: State,
    /// Whether it may fly, inside its restrictions.
    pub may_fly: bool,
    /// Flights allowed where a campaign or a defect counts them: the smallest of all counts, checks included.
    pub max_flights: Option<i64>,
    /// Flights until anything at all that counts flights stops it.
    pub flights_left: Option<i64>,
    /// Restrictions that hold, each with its source.
    pub restrictions: Vec<RestrictionSaid>,
    /// The same put together: for each kind the tightest.
    #[serde(default)]
    pub tightest: Vec<Tightest>,
    /// Everything that stands against it or is worth watching, the worst first.
    pub reasons: Vec<Finding>,
    /// The check that falls due next.
    pub next_due: Option<NextDue>,
}

/// A restriction and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RestrictionSaid {
    /// What is restricted.
    pub kind: RestrictionKind,
    /// The number that goes with it.
    pub value: Option<f64>,
    /// The day that goes with it.
    pub until_on: Option<NaiveDate>,
    /// Tag of the campaign, defect or check it comes from.
    pub source: String,
}

/// The check that falls due next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NextDue {
    /// Code of the group.
    pub group: String,
    /// The day by calendar or forecast.
    pub on: NaiveDate,
    /// Flights left until its due point.
    pub count_left: Option<i64>,
}

/// What stands under every verdict.
pub const CAUTION: &str = "This is a club record. It does not make a model legal or safe to fly. The pilot decides and is \
                       responsible, every flight.";

/// All models on a day.
#[must_use]
pub fn may_fly(fleet: &Fleet, moment: Moment) -> FleetBoard {
    FleetBoard { on: moment.on, models: in_service_verdicts(fleet, moment), caution: CAUTION.to_owned() }
}

/// One verdict for each model that is still of the fleet, in order of tags.
pub(crate) fn in_service_verdicts(fleet: &Fleet, moment: Moment) -> Vec<ModelVerdict> {
    in_service(fleet, moment).into_iter().filter_map(|(_, model)| may_fly_one(fleet, model, moment)).collect()
}

/// One model on a day. `None` if the Fleet does not know it.
#[must_use]
pub fn may_fly_one(fleet: &Fleet, model: ModelId, moment: Moment) -> Option<ModelVerdict> {
    let data = fleet.model_data(model)?;
    let now = ModelNow::new(fleet, model, moment.as_of)?;
    let fitted = now.fitted();
    let due = due_now(&now, moment.on);
    let defects = open_defects(fleet, model, fitted, moment);
    let campaigns = campaign_word(fleet, model, fitted, moment);

    let mut reasons = Vec::new();
    let lent = lent_reason(fleet, model, moment, &mut reasons);
    let missing = empty_positions(fleet, model, fitted, moment);
    let is_incomplete = !missing.is_empty();
    reasons.extend(missing);
    let is_laid_up = out_of_use_reason(fleet, model, moment, &mut reasons);
    reasons.extend(part_reasons(fleet, fitted, moment));
    if !is_incomplete {
        reasons.extend(pairing_reasons(fleet, fitted, moment));
    }
    reasons.extend(check_reasons(&now, &due, moment));
    reasons.extend(failed_item_reasons(fleet, model, fitted, moment));
    reasons.extend(defects.iter().map(|open| open.finding(fleet)));
    let first = first_flights(fleet, model, fitted, now.repairs(), moment.as_of);
    reasons.extend(first.iter().map(FirstFlight::finding));
    reasons.extend(reading_reasons(fleet, model, fitted, moment));
    // The balance of a model with an empty seat says nothing about how it would fly.
    if let Some(balanced) = balance_of_fitted(fleet, model, moment.as_of, fitted).filter(|_| !is_incomplete) {
        reasons.extend(balanced.findings);
    }
    let mut restrictions = restrictions(&defects, &campaigns);
    restrictions.extend(first.iter().map(FirstFlight::restriction));
    let (max_flights, flights_left) = flight_counts(&due, &defects, &campaigns);
    reasons.extend(campaigns.findings);
    reasons.sort_by_key(|reason| std::cmp::Reverse(reason.severity));

    let worst = reasons.iter().map(|reason| reason.severity).max();
    let state = if lent {
        State::OnLoan
    } else if is_laid_up {
        State::LaidUp
    } else if is_incomplete {
        State::Incomplete
    } else if worst == Some(Severity::Ground) {
        State::Grounded
    } else if restricts(&reasons, &defects) {
        State::Restricted
    } else {
        State::Fit
    };
    let may_fly = matches!(state, State::Fit | State::Restricted);
    Some(ModelVerdict {
        model: data.tag.to_string(),
        owner: data.owner.map(|owner| fleet.member_tag(owner)),
        state,
        may_fly,
        max_flights: max_flights.filter(|_| may_fly),
        flights_left,
        tightest: tightest(&restrictions),
        restrictions,
        reasons,
        next_due: next_due(&due),
    })
}

/// Limits on a count of flights alone leave a model fit; every other restriction or restricting reason restricts it.
fn restricts(reasons: &[Finding], defects: &[OpenDefect<'_>]) -> bool {
    let counted_only: Vec<String> =
        defects.iter().filter(|open| open.only_counts_flights()).map(OpenDefect::name).collect();
    let says_more = |open: &OpenDefect<'_>| {
        open.restrictions().iter().any(|restriction| restriction.kind != RestrictionKind::MaxFlights)
    };
    defects.iter().any(says_more)
        || reasons
            .iter()
            .any(|reason| reason.severity == Severity::Restrict && !counted_only.contains(&reason.subject))
}

fn restrictions(defects: &[OpenDefect<'_>], campaigns: &CampaignWord) -> Vec<RestrictionSaid> {
    let mut list: Vec<RestrictionSaid> = campaigns
        .flights_left
        .iter()
        .map(|(left, source)| RestrictionSaid {
            kind: RestrictionKind::MaxFlights,
            value: Some(as_number(*left)),
            until_on: None,
            source: source.clone(),
        })
        .collect();
    list.extend(defects.iter().flat_map(OpenDefect::restrictions));
    list
}

/// The flights allowed where somebody counts them, and the flights until anything stops the model.
fn flight_counts(
    due: &[DueItem],
    defects: &[OpenDefect<'_>],
    campaigns: &CampaignWord,
) -> (Option<i64>, Option<i64>) {
    let said = campaigns.flights_left.iter().map(|(left, _)| *left);
    let said = said.chain(defects.iter().filter_map(|open| open.flights_left)).min();
    let by_checks = due.iter().filter_map(DueItem::flights_left).min();
    let left = match (said, by_checks) {
        (Some(said), Some(checks)) => Some(said.min(checks)),
        (one, None) | (None, one) => one,
    };
    (said.and(left), left)
}

fn next_due(due: &[DueItem]) -> Option<NextDue> {
    due.iter()
        .filter_map(|item| {
            let forecast = item.forecast_on.or(item.due_on)?;
            Some(NextDue { group: item.group.clone(), on: forecast, count_left: item.count_left })
        })
        .min_by_key(|next| (next.on, next.count_left.unwrap_or(i64::MAX), next.group.clone()))
}
