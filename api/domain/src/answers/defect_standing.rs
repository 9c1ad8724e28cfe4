//! How one defect stands: its class on a day, on what terms it is flown with and until when, who may put it off, what
//! happened to it. Deferring it is planned here, too: the standing before and after.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    defects::{OpenDefect, judge},
    may_fly::RestrictionSaid,
    repeats::repeats_of,
};
use crate::{
    facts::{Defect, Deferral, Fact, Inside, Recorded, Restriction, Subject},
    fleet::{
        DefectFile, Fleet, Place,
        terms::{MOST_DEFERRALS, Terms, is_deferred_when_found, is_open, name_of},
    },
    ids::{DefectId, MemberId, ModelId},
    rules::{Broken, check_by},
    time::{Instant, day_of},
    words::{DefectCause, Role, Severity},
};

/// How a defect stands on a day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DefectStanding {
    /// Tag of the defect, or its id.
    pub defect: String,
    /// The club day asked about.
    pub on: NaiveDate,
    /// Tag of the model on which it was found.
    pub model: String,
    /// Tag of what it sits on.
    pub subject: String,
    /// Tag of the model that has it now; null while its part is in none.
    pub carried_by: Option<String>,
    /// What is wrong.
    pub text: String,
    /// What is behind it, as far as somebody can tell.
    pub cause: Option<DefectCause>,
    /// Why it came, or came back.
    pub cause_note: Option<String>,
    /// When it was found. A deferral never changes that.
    pub found_at: Instant,
    /// Tag of who found it.
    pub found_by: String,
    /// Club days since it was found.
    pub days_since_found: i64,
    /// The class with which it was recorded.
    pub severity_found: Severity,
    /// Its class on the day asked about; null once it is closed.
    pub severity: Option<Severity>,
    /// Whether it is open.
    pub is_open: bool,
    /// The restrictions in force.
    pub restrictions: Vec<RestrictionSaid>,
    /// Last day before its class rises by itself; null where no day does that.
    pub limit_on: Option<NaiveDate>,
    /// Days left until that, 0 on it; null without such a day.
    pub days_left: Option<i64>,
    /// Flights left before its class rises by itself; null where no count does that.
    pub flights_left: Option<i64>,
    /// What it becomes by itself at its limit; null where it does not.
    pub becomes: Option<Severity>,
    /// Its deferrals, the first one first.
    pub deferrals: Vec<DeferralSaid>,
    /// Whether it can be put off, for the first time or once more.
    pub can_be_deferred: bool,
    /// Tags of those who may sign for that.
    pub may_sign: Vec<String>,
    /// Tags of earlier defects that it repeats.
    pub repeats: Vec<String>,
    /// What a person can do about it; empty once it is closed.
    pub clear_by: String,
    /// What happened to it, oldest first.
    pub events: Vec<DefectEvent>,
}

/// One deferral of a defect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DeferralSaid {
    /// From when its terms hold.
    pub at: Instant,
    /// Tag of who signed for it.
    pub by: String,
    /// Whether it extends an earlier one.
    pub is_extension: bool,
    /// Whether it was stated with the defect itself.
    pub is_stated_with_defect: bool,
    /// Its restrictions.
    pub restrictions: Vec<Restriction>,
    /// Last day before the class rises, where one is stated.
    pub fix_by_on: Option<NaiveDate>,
    /// Flights before the class rises, where they are stated.
    pub within_flights: Option<u32>,
    /// Why it can wait.
    pub reason: Option<String>,
}

/// One thing that happened to a defect or to the part that it sits on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DefectEvent {
    /// When.
    pub at: Instant,
    /// Noun it is recorded under, singular.
    pub kind: String,
    /// Tag of the member who did it.
    pub by: String,
    /// What happened, in a sentence.
    pub text: String,
}

/// How each open defect stands that a model carries, on itself or on what is fitted: the worst first, of one class the
/// oldest first.
#[must_use]
pub fn open_defects_of_model(fleet: &Fleet, model: ModelId, moment: Moment) -> Vec<DefectStanding> {
    let fitted = fleet.fitted(model, moment.as_of);
    let on_model = fleet.model(model).into_iter().flat_map(|file| file.defects.iter());
    let on_parts =
        fitted.iter().filter_map(|one| fleet.component(one.id)).flat_map(|file| file.defects.iter());
    let mut ids: Vec<DefectId> = on_model.chain(on_parts).copied().collect();
    ids.sort_unstable();
    ids.dedup();
    let standing = ids.into_iter().filter_map(|id| defect_standing(fleet, id, moment));
    let mut open: Vec<DefectStanding> = standing.filter(|one| one.is_open).collect();
    open.sort_by_key(|one| (std::cmp::Reverse(one.severity), one.found_at));
    open
}

/// How a defect stands on a day; `None` if it is not on record or was not found by then.
#[must_use]
pub fn defect_standing(fleet: &Fleet, defect: DefectId, moment: Moment) -> Option<DefectStanding> {
    let file = fleet.defect(defect)?;
    let judged = judge(fleet, file, moment)?;
    let recorded = judged.recorded;
    let fact = &recorded.fact;
    if fact.occurred_at > moment.as_of {
        return None;
    }
    let is_open = is_open(fleet, file, moment.as_of);
    let zone = fleet.club().zone;
    let can_be_deferred = is_open && judged.can_be_deferred();
    let is_raised = judged.is_raised();
    let limit_on = judged.last_on.filter(|_| is_open);
    Some(DefectStanding {
        defect: name_of(fact),
        on: moment.on,
        model: fleet.model_tag(fact.model),
        subject: subject_tag(fleet, fact.subject),
        carried_by: carrier(fleet, fact, moment.as_of).map(|model| fleet.model_tag(model)),
        text: fact.text.to_string(),
        cause: fact.cause,
        cause_note: fact.cause_note.as_ref().map(ToString::to_string),
        found_at: fact.occurred_at,
        found_by: fleet.member_tag(fact.found_by.unwrap_or(recorded.recorded_by)),
        days_since_found: (moment.on - day_of(fact.occurred_at, zone)).num_days(),
        severity_found: fact.severity,
        severity: is_open.then_some(judged.severity),
        is_open,
        restrictions: if is_open { judged.restrictions() } else { Vec::new() },
        limit_on,
        days_left: limit_on.map(|on| (on - moment.on).num_days().max(0)),
        flights_left: judged.within_left.into_iter().chain(judged.flights_left).min().filter(|_| is_open),
        becomes: becomes(fact.severity).filter(|_| is_open && !is_raised),
        deferrals: judged
            .deferrals
            .iter()
            .enumerate()
            .map(|(place, terms)| said(fleet, terms, place))
            .collect(),
        can_be_deferred,
        may_sign: if can_be_deferred { may_sign(fleet, &judged, moment.as_of) } else { Vec::new() },
        repeats: repeats_of(fleet, defect, moment.as_of).into_iter().map(|(earlier, _)| earlier).collect(),
        clear_by: if is_open { judged.clear_by(fleet) } else { String::new() },
        events: events(fleet, file, recorded, moment.as_of),
    })
}

const fn becomes(severity: Severity) -> Option<Severity> {
    match severity {
        Severity::Watch => Some(Severity::Restrict),
        Severity::Restrict => Some(Severity::Ground),
        Severity::Ground => None,
    }
}

fn subject_tag(fleet: &Fleet, subject: Subject) -> String {
    match subject {
        Subject::Model(model) => fleet.model_tag(model),
        Subject::Component(component) => fleet.component_tag(component),
    }
}

/// The model that has the defect at a moment.
fn carrier(fleet: &Fleet, defect: &Defect, at: Instant) -> Option<ModelId> {
    match defect.subject {
        Subject::Model(model) => Some(model),
        Subject::Component(component) => match fleet.place_at(component, at) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        },
    }
}

fn said(fleet: &Fleet, terms: &Terms<'_>, place: usize) -> DeferralSaid {
    DeferralSaid {
        at: terms.at,
        by: fleet.member_tag(terms.signed_by),
        is_extension: place > 0,
        is_stated_with_defect: terms.deferral.is_none(),
        restrictions: terms.restrictions.clone(),
        fix_by_on: terms.fix_by_on,
        within_flights: terms.within_flights,
        reason: terms.deferral.map(|recorded| recorded.fact.reason.to_string()),
    }
}

/// For the first time the owner of the model that has it and every inspector, then every other inspector.
fn may_sign(fleet: &Fleet, open: &OpenDefect<'_>, as_of: Instant) -> Vec<String> {
    let model = carrier(fleet, open.defect(), as_of).unwrap_or(open.defect().model);
    let owner = fleet.model_data(model).and_then(|data| data.owner);
    let first = open.deferrals.first().map(|terms| terms.signed_by);
    let mut tags: Vec<String> = fleet
        .members()
        .filter(|(id, member)| {
            let roles = &member.fact.roles;
            let is_owner = owner == Some(*id) && roles.contains(&Role::Pilot);
            match first {
                None => is_owner || roles.contains(&Role::Inspector),
                Some(first) => *id != first && roles.contains(&Role::Inspector),
            }
        })
        .map(|(id, _)| fleet.member_tag(id))
        .collect();
    tags.sort();
    tags
}

fn events(fleet: &Fleet, file: &DefectFile, recorded: &Recorded<Defect>, as_of: Instant) -> Vec<DefectEvent> {
    let mut list = Vec::new();
    let mut say = |at: Instant, kind: &str, by: MemberId, text: String| {
        if at <= as_of {
            list.push(DefectEvent { at, kind: kind.to_owned(), by: fleet.member_tag(by), text });
        }
    };
    let fact = &recorded.fact;
    let found = format!("found on {}, class {}: {}", fleet.model_tag(fact.model), fact.severity, fact.text);
    say(fact.occurred_at, "defect", fact.found_by.unwrap_or(recorded.recorded_by), found);
    let stated = usize::from(is_deferred_when_found(fact));
    for (place, deferral) in file.deferrals.iter().enumerate() {
        let word = if place + stated + 1 == MOST_DEFERRALS { "extended" } else { "deferred" };
        let until = deferral.fact.fix_by_on.map(|on| format!(" to {on}")).unwrap_or_default();
        let by = deferral.fact.deferred_by.unwrap_or(deferral.recorded_by);
        say(deferral.fact.occurred_at, "deferral", by, format!("{word}{until}: {}", deferral.fact.reason));
    }
    for repair in file.repairs.iter().filter_map(|id| fleet.repair(*id)) {
        if let Some(started) = &repair.repair {
            let by = started.fact.done_by.unwrap_or(started.recorded_by);
            say(started.fact.occurred_at, "repair", by, started.fact.text.to_string());
        }
        for release in repair.releases.iter() {
            let by = release.fact.released_by.unwrap_or(release.recorded_by);
            say(release.fact.occurred_at, "release", by, "released, which closes it".to_owned());
        }
    }
    for closure in file.closures.iter() {
        let by = closure.fact.closed_by.unwrap_or(closure.recorded_by);
        let kind = closure.fact.kind.as_str().replace('_', " ");
        say(closure.fact.occurred_at, "closure", by, format!("closed, {kind}: {}", closure.fact.text));
    }
    if let Subject::Component(component) = fact.subject
        && let Some(part) = fleet.component(component)
    {
        let holder = |inside: Inside| match inside {
            Inside::Model(model) => fleet.model_tag(model),
            Inside::Component(parent) => fleet.component_tag(parent),
        };
        for fitted in part.installations.iter().filter(|fitted| fitted.fact.occurred_at > fact.occurred_at) {
            let by = fitted.fact.fitted_by.unwrap_or(fitted.recorded_by);
            let text = format!("its part went into {} {}", holder(fitted.fact.inside), fitted.fact.position);
            say(fitted.fact.occurred_at, "installation", by, text);
        }
        for removal in part.removals.iter().filter(|removal| removal.fact.occurred_at > fact.occurred_at) {
            let by = removal.fact.removed_by.unwrap_or(removal.recorded_by);
            let reason = removal.fact.reason.as_str().replace('_', " ");
            say(removal.fact.occurred_at, "removal", by, format!("its part came off, {reason}"));
        }
    }
    list.sort_by_key(|event| event.at);
    list
}

/// What a deferral does: how the defect stands before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DeferralAnswer {
    /// Whether nothing was recorded.
    pub is_preview: bool,
    /// How the defect stands without it.
    pub before: DefectStanding,
    /// How it stands with it.
    pub after: DefectStanding,
}

/// A deferral that nothing stands against.
#[derive(Debug, Clone, PartialEq)]
pub struct DeferralPlan {
    /// The fact to record.
    pub fact: Fact,
    /// What it does.
    pub answer: DeferralAnswer,
}

/// Plans a deferral: the rules are asked, and the standing is told as of the service's clock, before and after.
///
/// # Errors
/// Everything that stands against it.
pub fn plan_deferral(
    fleet: &Fleet,
    deferral: &Deferral,
    by: MemberId,
    now: Instant,
) -> Result<DeferralPlan, Vec<Broken>> {
    let fact = Fact::Deferral(deferral.clone());
    let broken = check_by(fleet, &fact, by, now);
    if !broken.is_empty() {
        return Err(broken);
    }
    let mut with = fleet.clone();
    let revision = fleet.revision().saturating_add(1);
    with.apply(&Recorded { fact: fact.clone(), recorded_at: now, recorded_by: by, revision });
    let moment = Moment::today(fleet, now.max(deferral.occurred_at));
    let standing = |fleet: &Fleet| defect_standing(fleet, deferral.defect, moment);
    match (standing(fleet), standing(&with)) {
        (Some(before), Some(after)) => {
            Ok(DeferralPlan { fact, answer: DeferralAnswer { is_preview: false, before, after } })
        }
        _ => Err(Vec::new()),
    }
}
