//! More families of the records audit: what the board says, defects that nobody put off, that near their limit, came
//! back or ask for a campaign, repairs that are not released, checks without items or about parts that were elsewhere.

use chrono::{Days, NaiveDate};
use preen_domain::{
    facts::{Defect, Fact, Noun, Subject},
    ids::{ComponentId, MemberId, ModelId},
    time::Instant,
    words::{CheckState, ComponentState, Role, Severity},
};

use super::{
    Asked, Book, balance, checks, defects, each,
    findings::is_gone,
    places::{carrier, state_at},
    repairs,
    verdict::{self, Reason, has_empty_seat},
};

/// The codes that are found here.
pub const CODES: &[&str] = &[
    "position_empty",
    "part_not_serviceable",
    "part_type_not_taken",
    "never_weighed",
    "unweighed_moves",
    "cg_outside_range",
    "campaign_limit",
    "campaign_limit_reading",
    "campaign_open",
    "campaign_overdue",
    "campaign_work_failed",
    "check_due",
    "check_failed",
    "check_grounds_soon",
    "check_never_done",
    "check_overdue",
    "check_soon",
    "hard_landing_unchecked",
    "radio_change_unchecked",
    "return_unchecked",
    "swap_unchecked",
    "transport_unchecked",
    "defect_open",
    "defect_not_deferred",
    "defect_near_limit",
    "defect_raised",
    "defect_repeats",
    "campaign_suggested",
    "repair_curing",
    "repair_unreleased",
    "second_person_did_the_work",
    "summary_without_items",
    "checked_elsewhere",
    "part_untested",
];

/// Code, severity and subject of every finding of these families.
pub fn all(book: &Book, asked: Asked) -> Vec<Reason> {
    let mut list = Vec::new();
    let models: Vec<ModelId> =
        book.models().into_iter().filter(|model| !is_gone(book, *model, asked)).collect();
    for model in &models {
        for reason in verdict::of_model(book, *model, asked).reasons {
            let is_of_another_family = reason.code.starts_with("pairing_")
                || (reason.code == "defect_open" && reason.severity != Severity::Ground)
                || reason.code.starts_with("repair_");
            if !is_of_another_family && CODES.contains(&reason.code.as_str()) {
                list.push(reason);
            }
        }
        if has_empty_seat(book, *model, asked) {
            let of_balance = balance::reasons(book, *model, asked.as_of);
            list.extend(of_balance.into_iter().filter(|reason| reason.code == "never_weighed"));
        }
        of_checks(book, *model, asked, &mut list);
        for open in defects::open_on(book, *model, asked) {
            if open.severity == Severity::Restrict && open.defect.severity == Severity::Watch {
                list.push(Reason::new("defect_raised", Severity::Restrict, open.name()));
            }
        }
    }
    for defect in each!(book, Defect).filter(|defect| defects::is_open(book, defect, asked.as_of)) {
        let standing = standing(book, defect, asked);
        let name = defects::name(defect);
        let class = standing.severity.unwrap();
        if standing.deferrals == 0 && defect.severity == Severity::Restrict && class != Severity::Ground {
            list.push(Reason::new("defect_not_deferred", class, name.as_str()));
        }
        let is_near_by_day = standing.limit_on.is_some_and(|on| on <= asked.on + Days::new(7));
        let is_near_by_count = standing.flights_left.is_some_and(|left| left <= 5);
        if class == defect.severity && (is_near_by_day || is_near_by_count) {
            list.push(Reason::new("defect_near_limit", Severity::Watch, name));
        }
    }
    let watch = |code: &str, names: Vec<String>| {
        names.into_iter().map(|name| Reason::new(code, Severity::Watch, name)).collect::<Vec<_>>()
    };
    list.extend(watch("defect_repeats", defects::came_back(book, asked.as_of)));
    list.extend(watch("campaign_suggested", defects::campaigns_suggested(book, asked.as_of)));
    of_repairs(book, &models, asked, &mut list);
    for component in book.components() {
        let is_fitted = carrier(book, component, asked.as_of).is_some();
        if state_at(book, component, asked.as_of) == ComponentState::NewUntested && !is_fitted {
            list.push(Reason::new("part_untested", Severity::Watch, book.component(component).tag.as_str()));
        }
    }
    list.sort();
    list
}

fn of_checks(book: &Book, model: ModelId, asked: Asked, list: &mut Vec<Reason>) {
    for check in checks::of_model(book, model, asked) {
        let is_asked = check.opened_by.is_empty()
            && check.state != CheckState::Overdue
            && check.state != CheckState::NeverDone;
        let Some(due_on) = check.due_on.filter(|_| is_asked) else { continue };
        let last_on = due_on + Days::new(u64::from(check.tolerance_days));
        if asked.on <= last_on && last_on <= asked.on + Days::new(7) {
            list.push(Reason::new("check_grounds_soon", Severity::Watch, check.group.as_str()));
        }
    }
    let mut has_summary = false;
    for done in each!(book, Inspection) {
        if done.model != Some(model) || done.occurred_at > asked.as_of {
            continue;
        }
        let is_newest = !each!(book, Inspection).any(|other| {
            other.model == Some(model)
                && other.group == done.group
                && other.occurred_at <= asked.as_of
                && (other.occurred_at, other.id) > (done.occurred_at, done.id)
        });
        has_summary |= is_newest && done.is_summary;
        let mut parts: Vec<ComponentId> =
            done.items.iter().filter_map(|item| item.component).chain(done.component).collect();
        parts.sort();
        parts.dedup();
        for part in parts {
            if carrier(book, part, done.occurred_at).is_none_or(|(holder, _)| holder != model) {
                let name = done.tag.as_ref().map_or_else(|| done.group.to_string(), ToString::to_string);
                list.push(Reason::new("checked_elsewhere", Severity::Watch, name));
            }
        }
    }
    if has_summary {
        let tag = book.model(model).tag.as_str();
        list.push(Reason::new("summary_without_items", Severity::Watch, tag));
    }
}

fn of_repairs(book: &Book, models: &[ModelId], asked: Asked, list: &mut Vec<Reason>) {
    for recorded in book.of_noun(Noun::Repairs) {
        let Fact::Repair(repair) = &recorded.fact else { continue };
        if repair.occurred_at > asked.as_of || !models.contains(&repair.model) {
            continue;
        }
        let name = repairs::name(repair);
        let mut first: Option<(Instant, Option<MemberId>)> = None;
        for release in each!(book, Release) {
            let is_it = release.repair == repair.id && release.occurred_at <= asked.as_of;
            if is_it && first.is_none_or(|(at, _)| release.occurred_at < at) {
                first = Some((release.occurred_at, release.second_person));
            }
        }
        match first {
            Some((_, second)) => {
                if second == Some(repair.done_by.unwrap_or(recorded.recorded_by)) {
                    list.push(Reason::new("second_person_did_the_work", Severity::Restrict, name));
                }
            }
            None => {
                let is_off = |part: &ComponentId| carrier(book, *part, asked.as_of).is_none();
                let is_on_bench = !repair.components.is_empty() && repair.components.iter().all(is_off);
                let severity = if is_on_bench { Severity::Watch } else { Severity::Ground };
                let is_curing =
                    repairs::cures_until(book, repair, asked.as_of).is_some_and(|until| asked.as_of < until);
                let code = if is_curing { "repair_curing" } else { "repair_unreleased" };
                list.push(Reason::new(code, severity, name));
            }
        }
    }
}

/// How a defect stands, in what can be compared.
#[derive(Debug, PartialEq)]
pub struct Standing {
    pub is_open: bool,
    pub severity: Option<Severity>,
    pub becomes: Option<Severity>,
    pub limit_on: Option<NaiveDate>,
    pub flights_left: Option<i64>,
    pub deferrals: usize,
    pub can_be_deferred: bool,
    pub may_sign: Vec<String>,
}

pub fn standing(book: &Book, defect: &Defect, asked: Asked) -> Standing {
    let is_open = defects::is_open(book, defect, asked.as_of);
    let judged = defects::judge(book, defect, asked);
    let signers = defects::signers(book, defect, asked.as_of);
    let can_be_deferred = is_open
        && match signers.len() {
            0 => judged.severity != Severity::Ground,
            1 => defect.severity != Severity::Ground,
            _ => false,
        };
    let becomes = match defect.severity {
        Severity::Watch => Some(Severity::Restrict),
        Severity::Restrict => Some(Severity::Ground),
        Severity::Ground => None,
    };
    Standing {
        is_open,
        severity: is_open.then_some(judged.severity),
        becomes: becomes.filter(|_| is_open && judged.severity == defect.severity),
        limit_on: judged.limit_on.filter(|_| is_open),
        flights_left: judged.any_flights_left.filter(|_| is_open),
        deferrals: signers.len(),
        can_be_deferred,
        may_sign: if can_be_deferred {
            may_sign(book, defect, signers.first().copied(), asked)
        } else {
            vec![]
        },
    }
}

/// For the first time the owner of the model that has it and every inspector, then every inspector but the first signer.
fn may_sign(book: &Book, defect: &Defect, first: Option<MemberId>, asked: Asked) -> Vec<String> {
    let model = match defect.subject {
        Subject::Model(model) => model,
        Subject::Component(part) => carrier(book, part, asked.as_of).map_or(defect.model, |(model, _)| model),
    };
    let owner = book.model(model).owner;
    let mut tags = Vec::new();
    for member in book.members() {
        let is_inspector = member.roles.contains(&Role::Inspector);
        let is_owner = owner == Some(member.id) && member.roles.contains(&Role::Pilot);
        let may = match first {
            None => is_inspector || is_owner,
            Some(first) => is_inspector && member.id != first,
        };
        if may {
            tags.push(member.tag.to_string());
        }
    }
    tags.sort();
    tags
}
