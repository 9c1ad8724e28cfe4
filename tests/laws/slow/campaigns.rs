//! What campaigns ask of the parts a model carries.

use preen_domain::{
    ids::{ComponentId, ModelId},
    time::{day_of, start_of_day},
    words::{CampaignTask, Severity},
};

use super::{
    Asked, Book, each,
    places::{Carried, carried, position_of},
    usage,
    verdict::Reason,
};

/// Reasons, and flights left with the campaign that counts them.
pub fn words(book: &Book, model: ModelId, asked: Asked) -> (Vec<Reason>, Vec<(i64, String)>) {
    let mut reasons = Vec::new();
    let mut counts = Vec::new();
    for campaign in each!(book, Campaign) {
        if campaign.occurred_at > asked.as_of {
            continue;
        }
        let name = campaign.tag.as_ref().map_or_else(|| campaign.id.to_string(), ToString::to_string);
        let covers = |part: &Carried| {
            let data = book.component(part.component);
            data.part == campaign.part
                && (campaign.batch.is_none() || campaign.batch == data.batch)
                && match &campaign.position_kind {
                    None => true,
                    Some(kind) => position_of(book, part).is_some_and(|position| position.kind == *kind),
                }
        };
        let covered: Vec<ComponentId> = carried(book, model, asked.as_of)
            .iter()
            .filter(|part| covers(part))
            .map(|part| part.component)
            .collect();
        let opening_day = start_of_day(day_of(campaign.occurred_at, book.zone), book.zone);
        for action in &campaign.actions {
            let mut is_open = false;
            for component in &covered {
                let mut newest = None;
                let mut is_looked_at = false;
                for reading in each!(book, Measurement) {
                    let of = preen_domain::facts::Subject::Component(*component);
                    let fits = reading.subject == of && Some(&reading.quantity) == action.quantity.as_ref();
                    if !fits || reading.occurred_at > asked.as_of {
                        continue;
                    }
                    is_looked_at |= reading.occurred_at >= opening_day;
                    let key = (reading.occurred_at, reading.id);
                    if newest.is_none_or(|(known, _)| key > known) {
                        newest = Some((key, reading));
                    }
                }
                if action.quantity.is_none() {
                    is_looked_at = each!(book, Inspection).any(|inspection| {
                        inspection.component == Some(*component)
                            && inspection.occurred_at >= opening_day
                            && inspection.occurred_at <= asked.as_of
                    });
                }
                is_open |= action.task == CampaignTask::Replace || !is_looked_at;
                if let (Some((_, reading)), Some(limit)) = (newest, action.limit)
                    && reading.occurred_at >= campaign.occurred_at
                    && reading.values.iter().any(|value| *value >= limit)
                {
                    let tag = book.component(*component).tag.to_string();
                    reasons.push(Reason::new("campaign_limit_reading", Severity::Ground, tag));
                }
            }
            if !is_open {
                continue;
            }
            let flown = usage::of_model(book, model, |at| opening_day <= at && at <= asked.as_of).flights;
            let left = action.within_flights.map(|within| i64::from(within) - i64::try_from(flown).unwrap());
            let is_late = action.by_on.is_some_and(|by| asked.on > by)
                || action.before_next_flight_after_on.is_some_and(|after| asked.on > after)
                || left.is_some_and(|left| left <= 0);
            if is_late {
                reasons.push(Reason::new("campaign_overdue", Severity::Ground, name.clone()));
            } else if let Some(left) = left {
                counts.push((left, name.clone()));
                reasons.push(Reason::new("campaign_limit", Severity::Watch, name.clone()));
            } else {
                reasons.push(Reason::new("campaign_open", Severity::Watch, name.clone()));
            }
        }
    }
    (reasons, counts)
}
