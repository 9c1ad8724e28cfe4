//! What campaigns ask of the parts a model carries, and how each part that one covers stands.

use preen_domain::{
    facts::{Campaign, CampaignAction, Inside, Subject},
    ids::{ComponentId, ModelId},
    time::{Instant, day_of, start_of_day},
    words::{CampaignTask, CheckResult, ComponentState, EventKind, Severity},
};

use super::{
    Asked, Book, each,
    places::{carried, carrier, positions, state_at, stay_at},
    usage,
    verdict::{Reason, running},
};

fn name(campaign: &Campaign) -> String {
    campaign.tag.as_ref().map_or_else(|| campaign.id.to_string(), ToString::to_string)
}

fn is_closed(book: &Book, campaign: &Campaign, at: Instant) -> bool {
    each!(book, CampaignClosure).any(|closing| closing.campaign == campaign.id && closing.occurred_at <= at)
}

/// A serial number with every run of digits brought to the same length, so that texts can be compared.
fn spread(serial: &str) -> String {
    let (mut out, mut digits) = (String::new(), String::new());
    for letter in serial.chars().chain([' ']) {
        if letter.is_ascii_digit() {
            digits.push(letter);
            continue;
        }
        if !digits.is_empty() {
            out += &format!("{:0>20}", std::mem::take(&mut digits));
        }
        out.extend(letter.to_lowercase());
    }
    out.trim_end().to_owned()
}

/// Whether a campaign names a part, wherever it is.
fn names(book: &Book, campaign: &Campaign, component: ComponentId) -> bool {
    let data = book.component(component);
    let serial = spread(data.serial.as_ref().unwrap_or(&data.tag).as_str());
    data.part == campaign.part
        && (campaign.batch.is_none() || campaign.batch == data.batch)
        && campaign.serial_from.as_ref().is_none_or(|from| spread(from.as_str()) <= serial)
        && campaign.serial_to.as_ref().is_none_or(|to| serial <= spread(to.as_str()))
}

/// The kind of the position in which a part sits, where it sits in one that its design knows.
fn kind_of_seat(book: &Book, component: ComponentId, at: Instant) -> Option<String> {
    let stay = stay_at(book, component, at)?;
    let all = positions(book, stay.inside);
    all.into_iter().find(|position| position.path == stay.position).map(|position| position.kind.to_string())
}

fn is_of_kind(book: &Book, campaign: &Campaign, component: ComponentId, at: Instant) -> bool {
    match &campaign.position_kind {
        None => true,
        Some(kind) => kind_of_seat(book, component, at).is_some_and(|seat| seat == kind.as_str()),
    }
}

/// How an action stands on a part: `done`, `open`, `kept_out`, `fail` or `restrict`.
fn done(
    book: &Book,
    campaign: &Campaign,
    action: &CampaignAction,
    component: ComponentId,
    is_seated: bool,
    as_of: Instant,
) -> &'static str {
    let opening_day = start_of_day(day_of(campaign.occurred_at, book.zone), book.zone);
    match action.task {
        CampaignTask::Replace => {
            if is_seated {
                "open"
            } else {
                "kept_out"
            }
        }
        CampaignTask::Measure => {
            let mut newest = None;
            for reading in each!(book, Measurement) {
                let is_it = reading.subject == Subject::Component(component)
                    && Some(&reading.quantity) == action.quantity.as_ref()
                    && (action.unit.is_none() || action.unit.as_ref() == Some(&reading.unit))
                    && reading.occurred_at >= opening_day
                    && reading.occurred_at <= as_of;
                let key = (reading.occurred_at, reading.id);
                if is_it && newest.is_none_or(|(known, _)| key > known) {
                    newest = Some((key, reading));
                }
            }
            let reaches = |value: f64| action.limit.is_some_and(|limit| value >= limit);
            match newest {
                None => "open",
                Some((_, reading)) if reading.values.iter().any(|value| reaches(*value)) => "fail",
                Some(_) => "done",
            }
        }
        CampaignTask::Inspect => {
            let mut newest = None;
            for work in each!(book, CampaignWork) {
                let is_it = work.campaign == campaign.id
                    && work.action == action.number
                    && work.component == component
                    && work.occurred_at <= as_of;
                let key = (work.occurred_at, work.id);
                if is_it && newest.is_none_or(|(known, _)| key > known) {
                    newest = Some((key, work.result));
                }
            }
            match newest.map(|(_, result)| result) {
                None => "open",
                Some(CheckResult::Pass) => "done",
                Some(CheckResult::Restrict) => "restrict",
                Some(CheckResult::Fail) => "fail",
            }
        }
    }
}

/// Flights left, and whether any deadline is past. A part in no model is bound by its day alone.
fn deadline(
    book: &Book,
    campaign: &Campaign,
    action: &CampaignAction,
    model: Option<ModelId>,
    asked: Asked,
) -> (Option<i64>, bool) {
    let opening_day = start_of_day(day_of(campaign.occurred_at, book.zone), book.zone);
    let mut is_late = action.by_on.is_some_and(|by| asked.on > by);
    let Some(model) = model else { return (None, is_late) };
    is_late |= action.before_next_flight_after_on.is_some_and(|after| asked.on > after);
    let Some(within) = action.within_flights else { return (None, is_late) };
    let flown = usage::of_model(book, model, |at| opening_day <= at && at <= asked.as_of).flights;
    let left = i64::from(within) - i64::try_from(flown).unwrap();
    (Some(left), is_late || left <= 0)
}

/// Reasons, and flights left with the campaign that counts them.
pub fn words(book: &Book, model: ModelId, asked: Asked) -> (Vec<Reason>, Vec<(i64, String)>) {
    let mut reasons = Vec::new();
    let mut counts = Vec::new();
    for campaign in each!(book, Campaign) {
        if campaign.occurred_at > asked.as_of || is_closed(book, campaign, asked.as_of) {
            continue;
        }
        let name = name(campaign);
        let covered: Vec<ComponentId> = carried(book, model, asked.as_of)
            .iter()
            .map(|part| part.component)
            .filter(|part| names(book, campaign, *part) && is_of_kind(book, campaign, *part, asked.as_of))
            .collect();
        for action in &campaign.actions {
            let mut is_open = false;
            for component in &covered {
                let tag = book.component(*component).tag.to_string();
                match done(book, campaign, action, *component, true, asked.as_of) {
                    "open" => is_open = true,
                    "fail" if action.task == CampaignTask::Measure => {
                        reasons.push(Reason::new("campaign_limit_reading", Severity::Ground, tag));
                    }
                    "fail" => reasons.push(Reason::new("campaign_work_failed", Severity::Ground, tag)),
                    "restrict" => reasons.push(Reason::new("campaign_work_failed", Severity::Restrict, tag)),
                    _ => {}
                }
            }
            if !is_open {
                continue;
            }
            let (left, is_late) = deadline(book, campaign, action, Some(model), asked);
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

/// A part that a campaign covers: tag, place, and the word and flights left of each action.
pub type Covered = (String, &'static str, Vec<(&'static str, Option<i64>)>);

/// Every part that a campaign covers, in order of tags.
pub fn covered(book: &Book, campaign: &Campaign, asked: Asked) -> Vec<Covered> {
    let mut list = Vec::new();
    for component in book.components() {
        let state = state_at(book, component, asked.as_of);
        let seat = stay_at(book, component, asked.as_of);
        if !names(book, campaign, component) || state == ComponentState::Scrapped {
            continue;
        }
        if seat.is_some() && !is_of_kind(book, campaign, component, asked.as_of) {
            continue;
        }
        let model = carrier(book, component, asked.as_of).map(|(model, _)| model);
        let is_gone = each!(book, Event).any(|event| {
            Some(event.model) == model
                && event.occurred_at <= asked.as_of
                && matches!(event.kind, EventKind::Sold | EventKind::Lost | EventKind::WrittenOff)
        });
        if is_gone {
            continue;
        }
        let place = if model.is_some() {
            "fitted"
        } else if is_lent(book, component, asked) {
            "loaned"
        } else if seat.is_some() {
            "fitted"
        } else {
            match state {
                ComponentState::Held => "held",
                ComponentState::Unserviceable => "quarantine",
                _ => "shelf",
            }
        };
        let actions = campaign.actions.iter().map(|action| {
            let word = done(book, campaign, action, component, seat.is_some(), asked.as_of);
            let (left, is_late) = deadline(book, campaign, action, model, asked);
            match word {
                "open" if is_late => ("overdue", left),
                "open" => ("open", left),
                "fail" | "restrict" => ("failed", None),
                other => (other, None),
            }
        });
        list.push((book.component(component).tag.to_string(), place, actions.collect()));
    }
    list.sort();
    list
}

/// Whether a loose part, or a loose panel around it, is lent.
fn is_lent(book: &Book, component: ComponentId, asked: Asked) -> bool {
    let mut current = component;
    loop {
        if running(book, Subject::Component(current), asked).is_some() {
            return true;
        }
        match stay_at(book, current, asked.as_of).map(|stay| stay.inside) {
            Some(Inside::Component(holder)) => current = holder,
            _ => return false,
        }
    }
}
