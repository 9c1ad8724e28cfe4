//! The days that a member's calendar shows: checks as they fall due or are expected, last days of deferred defects,
//! of campaigns and of loans.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment, campaign_progress, defect_standing,
    due::{DueItem, due_of_model},
    service::in_service,
    whereabouts::running_loan,
};
use crate::{
    facts::{Noun, Subject},
    fleet::Fleet,
    ids::{LoanId, MemberId, ModelId},
    time::Instant,
    words::Severity,
};

/// One day to remember.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DayAhead {
    /// The same for the same thing at every asking, so that a day that moves is moved and not doubled.
    pub key: String,
    /// The club day.
    pub on: NaiveDate,
    /// In a few words.
    pub summary: String,
    /// In sentences, with what is sure and what is a forecast.
    pub text: String,
    /// Whether the day is a forecast from the rate of use.
    pub is_forecast: bool,
}

/// Whose days are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Those of every model.
    All,
    /// Those of the models that a member flies or has in hand: their own, the club's, and those lent to them.
    Mine(MemberId),
    /// Those of what is lent to a member alone.
    Lent(MemberId),
}

/// The days of models and of what is lent. Past days of what is still open stay where they are. In order of days.
#[must_use]
pub fn days_ahead(fleet: &Fleet, whose: Whose, moment: Moment) -> Vec<DayAhead> {
    let mut days = Vec::new();
    for (tag, model) in in_service(fleet, moment) {
        if !is_asked_for(fleet, model, whose, moment) {
            continue;
        }
        days.extend(
            due_of_model(fleet, model, moment).iter().filter_map(|item| day_of_check(tag.as_str(), item)),
        );
    }
    days.extend(last_days_of_defects(fleet, whose, moment));
    days.extend(ends_of_loans(fleet, whose, moment));
    days.extend(ends_of_campaigns(fleet, whose, moment));
    days.sort_by(|a, b| (a.on, &a.key).cmp(&(b.on, &b.key)));
    days
}

/// Whether the days of a model are asked for.
fn is_asked_for(fleet: &Fleet, model: ModelId, whose: Whose, moment: Moment) -> bool {
    let owner = fleet.model_data(model).and_then(|data| data.owner);
    match whose {
        Whose::All => true,
        Whose::Mine(member) => {
            owner.is_none_or(|owner| owner == member) || is_lent(fleet, model, member, moment)
        }
        Whose::Lent(member) => is_lent(fleet, model, member, moment),
    }
}

/// Whether a model is lent to a member on that day.
fn is_lent(fleet: &Fleet, model: ModelId, member: MemberId, moment: Moment) -> bool {
    let loans = fleet.model(model).map_or(&[][..], |file| &file.loans);
    let running = running_loan(fleet, loans, moment).and_then(|file| file.loan.as_ref());
    running.is_some_and(|loan| loan.fact.lent_to == member)
}

fn day_of_check(model: &str, item: &DueItem) -> Option<DayAhead> {
    let sure = item.due_on;
    let (on, is_forecast) = match (sure, item.forecast_on) {
        (Some(sure), Some(forecast)) if forecast < sure => (forecast, true),
        (Some(sure), _) => (sure, false),
        (None, Some(forecast)) => (forecast, true),
        (None, None) => return None,
    };
    let mut sentences = vec![format!("{} on {model}.", item.name)];
    if let (Some(at), Some(left), Some(counter)) = (item.due_at_count, item.count_left, item.counter) {
        sentences.push(format!("Due at {at} {}, {left} left.", counter.as_str().replace('_', " ")));
    }
    if let Some(sure) = sure {
        sentences.push(format!("Due by the calendar on {sure}."));
    }
    if is_forecast {
        if let (Some(from), Some(to)) = (item.forecast_from, item.forecast_to) {
            sentences.push(format!("Expected between {from} and {to}."));
        }
        sentences.extend(item.forecast_method.clone().map(|method| format!("How: {method}.")));
    }
    let word = if is_forecast { "expected" } else { "due" };
    Some(DayAhead {
        key: format!("check-{model}-{}-{}", item.group, item.subject),
        on,
        summary: format!("{} {word}: {model}", item.group),
        text: sentences.join(" "),
        is_forecast,
    })
}

fn last_days_of_defects(fleet: &Fleet, whose: Whose, moment: Moment) -> Vec<DayAhead> {
    let open = fleet.defects().filter_map(|(id, file)| {
        let model = file.defect.as_ref()?.fact.model;
        let standing = defect_standing(fleet, id, moment).filter(|standing| standing.is_open)?;
        let on = standing.limit_on?;
        if !is_asked_for(fleet, model, whose, moment) {
            return None;
        }
        let then = match standing.becomes {
            Some(Severity::Ground) => "From the next day on it grounds.",
            Some(_) => "From the next day on its class rises.",
            None => "",
        };
        Some(DayAhead {
            key: format!("defect-{}", standing.defect),
            on,
            summary: format!("{}: last day on {}", standing.defect, standing.model),
            text: format!("{} {} {then}", standing.text, standing.clear_by).trim().to_owned(),
            is_forecast: false,
        })
    });
    open.collect()
}

fn ends_of_loans(fleet: &Fleet, whose: Whose, moment: Moment) -> Vec<DayAhead> {
    let open = fleet.loans().filter_map(|(id, file)| {
        let loan = &file.loan.as_ref()?.fact;
        if !file.returns.until(moment.as_of).is_empty() || loan.occurred_at > moment.as_of {
            return None;
        }
        let (tag, owner) = match loan.item {
            Subject::Model(model) => {
                (fleet.model_tag(model), fleet.model_data(model).and_then(|data| data.owner))
            }
            Subject::Component(component) => (fleet.component_tag(component), None),
        };
        let is_asked_for = match whose {
            Whose::All => true,
            Whose::Mine(member) => loan.lent_to == member || owner == Some(member),
            Whose::Lent(member) => loan.lent_to == member,
        };
        if !is_asked_for {
            return None;
        }
        Some(DayAhead {
            key: format!("loan-{}", name_of_loan(id, loan.tag.as_ref())),
            on: loan.due_back_on,
            summary: format!("{tag} back"),
            text: format!("The loan of {tag} to {} ends.", fleet.member_tag(loan.lent_to)),
            is_forecast: false,
        })
    });
    open.collect()
}

fn name_of_loan(id: LoanId, tag: Option<&crate::text::Tag>) -> String {
    tag.map_or_else(|| id.to_string(), ToString::to_string)
}

fn ends_of_campaigns(fleet: &Fleet, whose: Whose, moment: Moment) -> Vec<DayAhead> {
    let mut days = Vec::new();
    let open = fleet.campaigns().filter_map(|(id, _)| campaign_progress(fleet, id, None, moment));
    for progress in open.filter(|progress| progress.is_open) {
        let mut last: BTreeMap<(String, NaiveDate), Vec<String>> = BTreeMap::new();
        for target in progress.targets {
            let (Some(model), Some(on)) = (target.model, target.due_on) else { continue };
            last.entry((model, on)).or_default().push(target.component);
        }
        for ((model, on), parts) in last {
            let id = model.parse().ok().and_then(|tag| fleet.id_of_tag(Noun::Models, &tag)).map(ModelId);
            if !id.is_some_and(|id| is_asked_for(fleet, id, whose, moment)) {
                continue;
            }
            days.push(DayAhead {
                key: format!("campaign-{}-{model}-{on}", progress.campaign),
                on,
                summary: format!("{}: last day on {model}", progress.campaign),
                text: format!("Still to be done on {}.", parts.join(", ")),
                is_forecast: false,
            });
        }
    }
    days
}

/// When the days were worked out, as calendars want to know it: the newest entry that was used.
#[must_use]
pub fn worked_out_at(fleet: &Fleet, moment: Moment) -> Instant {
    fleet.newest_at().map_or(moment.as_of, |newest| newest.min(moment.as_of))
}
