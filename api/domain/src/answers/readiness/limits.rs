//! What ends before the last round though no check does: limits of campaigns, and of defects that were put off. Listed
//! apart from the checks.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::{
        Moment,
        campaigns::{CampaignAhead, campaigns_ahead},
        defects::{OpenDefect, open_defects},
    },
    ahead::Ahead,
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    facts::Subject,
    finding::Finding,
    fleet::{Fitted, Fleet},
    ids::ModelId,
    text_enum,
    words::{RestrictionKind, Severity},
};

text_enum! {
    /// What a limit comes from.
    LimitKind { Campaign = "campaign", Defect = "defect" }
}

/// A limit that is reached before the last round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LimitAhead {
    /// What it comes from.
    pub kind: LimitKind,
    /// Tag of the campaign or defect.
    pub source: String,
    /// Number of the campaign's action.
    pub action: Option<u32>,
    /// Tag of the model.
    pub model: String,
    /// Tags of the parts it sits on.
    pub parts: Vec<String>,
    /// Last day, where one binds.
    pub limit_on: Option<NaiveDate>,
    /// Flights left, where a count binds.
    pub flights_left: Option<i64>,
    /// Whether it is past today.
    pub is_over: bool,
    /// In a sentence.
    pub text: String,
    /// What a person can do.
    pub clear_by: String,
}

/// Limits and findings of campaigns and defects.
pub(super) fn limits_ahead(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    ahead: &Ahead<'_>,
    moment: Moment,
) -> (Vec<LimitAhead>, Vec<ReadinessFinding>) {
    let tag = fleet.model_tag(model);
    let (mut limits, mut findings) = (Vec::new(), Vec::new());
    for open in campaigns_ahead(fleet, model, fitted, moment) {
        findings.push(campaign_finding(&tag, &open, ahead));
        limits.extend(campaign_limit(&tag, &open, ahead));
    }
    let last = Moment { on: ahead.last_on.max(moment.on), ..moment };
    for open in open_defects(fleet, model, fitted, last) {
        findings.push(defect_finding(fleet, &tag, &open, ahead));
        limits.extend(defect_limit(fleet, &tag, &open, ahead, moment.on));
    }
    (limits, findings)
}

fn is_reached(limit_on: Option<NaiveDate>, flights_left: Option<i64>, ahead: &Ahead<'_>) -> bool {
    limit_on.is_some_and(|on| on < ahead.last_on)
        || flights_left.is_some_and(|left| left < i64::from(ahead.flights()))
}

fn campaign_limit(model: &str, open: &CampaignAhead, ahead: &Ahead<'_>) -> Option<LimitAhead> {
    is_reached(open.due_on, open.flights_left, ahead).then(|| LimitAhead {
        kind: LimitKind::Campaign,
        source: open.campaign.clone(),
        action: Some(open.action),
        model: model.to_owned(),
        parts: open.parts.clone(),
        limit_on: open.due_on,
        flights_left: open.flights_left,
        is_over: open.is_over,
        text: open.text.clone(),
        clear_by: open.clear_by.clone(),
    })
}

fn campaign_finding(model: &str, open: &CampaignAhead, ahead: &Ahead<'_>) -> ReadinessFinding {
    let binds = open.is_over || is_reached(open.due_on, open.flights_left, ahead);
    let severity = if binds { Severity::Ground } else { Severity::Watch };
    let left = open.flights_left.map(|left| format!("; {} flights left", left.max(0))).unwrap_or_default();
    let found = Finding::new(
        if open.is_over { "campaign_overdue" } else { "campaign_open" },
        severity,
        &open.campaign,
        format!("{}{left}", open.text),
        &open.clear_by,
    );
    let mut found =
        ReadinessFinding::of(ReadyTask::DoCampaignWork, model, found).with_parts(open.parts.clone());
    if severity == Severity::Ground {
        let in_time = open.due_on.filter(|_| !open.is_over).unwrap_or(ahead.ready_on);
        found.latest_on = Some(in_time.min(ahead.ready_on));
        found.before_flights = open.flights_left.filter(|left| *left >= 0);
    }
    found
}

fn parts_of(fleet: &Fleet, open: &OpenDefect<'_>) -> Vec<String> {
    match open.defect().subject {
        Subject::Model(_) => Vec::new(),
        Subject::Component(part) => vec![fleet.component_tag(part)],
    }
}

/// The flights until it rises or grounds.
fn flights_of(open: &OpenDefect<'_>) -> Option<i64> {
    open.flights_left.into_iter().chain(open.within_left).min()
}

/// The last day under its terms, and that of a restriction that names one.
fn last_day(open: &OpenDefect<'_>) -> Option<NaiveDate> {
    open.last_on.into_iter().chain(open.terms.until_on()).min()
}

fn defect_limit(
    fleet: &Fleet,
    model: &str,
    open: &OpenDefect<'_>,
    ahead: &Ahead<'_>,
    today: NaiveDate,
) -> Option<LimitAhead> {
    let (on, left) = (last_day(open), flights_of(open));
    is_reached(on, left, ahead).then(|| LimitAhead {
        kind: LimitKind::Defect,
        source: open.name(),
        action: None,
        model: model.to_owned(),
        parts: parts_of(fleet, open),
        limit_on: on,
        flights_left: left,
        is_over: on.is_some_and(|on| on < today) || left.is_some_and(|left| left <= 0),
        text: format!("{}: {}", open.name(), open.defect().text),
        clear_by: open.clear_by(fleet),
    })
}

fn defect_finding(fleet: &Fleet, model: &str, open: &OpenDefect<'_>, ahead: &Ahead<'_>) -> ReadinessFinding {
    let mut found = open.finding(fleet);
    let keeps_away =
        ahead.is_contest && open.terms.restrictions.iter().any(|one| one.kind == RestrictionKind::NoContest);
    let runs_out = open.flights_left.is_some_and(|left| left < i64::from(ahead.flights()));
    let rises = open.within_left.is_some_and(|left| left < i64::from(ahead.flights()));
    if keeps_away {
        found.severity = Severity::Ground;
        found.text = format!("{}; not for contests", found.text);
    }
    if runs_out || (rises && open.defect().severity == Severity::Restrict) {
        found.severity = Severity::Ground;
        found.text = format!(
            "{}; {} flights left, {} ahead",
            found.text,
            flights_of(open).unwrap_or_default(),
            ahead.flights()
        );
    } else if rises {
        found.severity = found.severity.max(Severity::Restrict);
    }
    let task = if found.severity == Severity::Watch { ReadyTask::KnowOf } else { ReadyTask::ClearDefect };
    let severity = found.severity;
    let mut found = ReadinessFinding::of(task, model, found).with_parts(parts_of(fleet, open));
    if severity == Severity::Ground {
        found.latest_on = Some(last_day(open).map_or(ahead.ready_on, |on| on.min(ahead.ready_on)));
        found.before_flights = flights_of(open);
    }
    found
}
