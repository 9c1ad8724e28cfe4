//! How the life of one part in one kind of position ended, or did not. What the lives tell together is elsewhere.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::exposure::Exposure;
use crate::answers::readings::class_of;
use crate::facts::{Limit, Measurement};
use crate::fleet::Fleet;
use crate::fleet::limits_of;
use crate::formulas::life::{Life, LifeEnd};
use crate::time::Instant;
use crate::words::{ComponentState, RemovalReason, Severity};

/// How a life stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LifeOutcome {
    /// In use, and good.
    Running,
    /// Taken off while good, or for a reason that is no failure.
    TakenOff,
    /// Failed, and noticed at once.
    Failed,
    /// Found failed, some time since the last good reading.
    FoundFailed,
}

impl LifeOutcome {
    /// The outcome in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Running => "running",
            Self::TakenOff => "taken off",
            Self::Failed => "failed",
            Self::FoundFailed => "found failed",
        }
    }
}

/// One part in one kind of position. Ages in the unit of the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PartLifeRow {
    /// Tag of the part.
    pub component: String,
    /// Its batch.
    pub batch: Option<String>,
    /// Which of its lives: 1, or more where it was fitted again after a failure.
    pub life: u32,
    /// How its life stands.
    pub outcome: LifeOutcome,
    /// Stated age when it came on record, 0 for new; for a later life the age at the failure before.
    pub entered: f64,
    /// Age now, or when it failed or was found failed.
    pub age: f64,
    /// Age at the last good reading, for a part found failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub good_at_age: Option<f64>,
    /// When it failed, was found failed or was taken off.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended_at: Option<Instant>,
    /// Why, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// A part's row, and the life it adds to the statistics: none without use.
pub(super) struct PartEnd {
    pub row: PartLifeRow,
    pub life: Option<Life>,
}

/// What ended a life.
struct Failure {
    at: Instant,
    why: String,
    /// Noticed at once, or found at a look.
    is_exact: bool,
}

/// How the lives of a part in positions of a kind ended. A part that is fitted again after a failure is no new one:
/// its next life enters at the age at which it failed.
pub(super) fn ends_of(fleet: &Fleet, exposure: &Exposure<'_>, kind: &str) -> Vec<PartEnd> {
    let mut list: Vec<PartEnd> = Vec::new();
    let mut since = None;
    // Each life begins with a span of its own, so there are no more lives than spans.
    for number in (1..).take(exposure.file.spans.len().max(1)) {
        let end = end_of(fleet, exposure, kind, number, since);
        let failed_at = end
            .row
            .ended_at
            .filter(|_| matches!(end.row.outcome, LifeOutcome::Failed | LifeOutcome::FoundFailed));
        list.push(end);
        since = failed_at.and_then(|failed_at| fitted_again(exposure, kind, failed_at));
        if since.is_none() {
            break;
        }
    }
    list
}

/// When a part was next put into a position of the kind after it had failed.
fn fitted_again(exposure: &Exposure<'_>, kind: &str, failed_at: Instant) -> Option<Instant> {
    let spans = exposure.file.spans.iter().filter(|span| exposure.kind_of(span) == Some(kind));
    spans.map(|span| span.from).filter(|from| failed_at <= *from && *from <= exposure.as_of).min()
}

fn end_of(
    fleet: &Fleet,
    exposure: &Exposure<'_>,
    kind: &str,
    number: u32,
    since: Option<Instant>,
) -> PartEnd {
    let opening = exposure.opening(kind);
    let entered = opening + since.map_or(0.0, |since| exposure.before(kind, since));
    let is_of_life = |at: Instant| since.is_none_or(|since| since <= at);
    let mut readings = readings_at(fleet, exposure, kind);
    readings.retain(|reading| is_of_life(reading.measurement.occurred_at));
    let failures = [over_limit(&readings), came_off_failed(exposure, kind, since)];
    let failure = failures.into_iter().flatten().min_by_key(|failure| failure.at);
    let component = exposure.data.tag.to_string();
    let batch = exposure.data.batch.as_ref().map(ToString::to_string);
    let Some(failure) = failure else {
        let age = opening + exposure.total(kind);
        let (outcome, ended_at, why) = standing(exposure, kind);
        let row = PartLifeRow {
            component,
            batch,
            life: number,
            outcome,
            entered,
            age,
            good_at_age: None,
            ended_at,
            why,
        };
        let life = (age > entered).then_some(Life { entered, end: LifeEnd::Running { at: age } });
        return PartEnd { row, life };
    };
    let age = opening + exposure.before(kind, failure.at);
    let last_good = readings
        .iter()
        .rev()
        .find(|reading| reading.measurement.occurred_at < failure.at && !reading.is_ground)
        .map_or(entered, |reading| opening + exposure.before(kind, reading.measurement.occurred_at));
    // Found without use since the last good look: as good as seen.
    let is_exact = failure.is_exact || last_good >= age;
    let (outcome, end) = if is_exact {
        (LifeOutcome::Failed, LifeEnd::Failed { at: age })
    } else {
        (LifeOutcome::FoundFailed, LifeEnd::FailedBetween { good_at: last_good, found_at: age })
    };
    let row = PartLifeRow {
        component,
        batch,
        life: number,
        outcome,
        entered,
        age,
        good_at_age: (!is_exact).then_some(last_good),
        ended_at: Some(failure.at),
        why: Some(failure.why),
    };
    PartEnd { row, life: (age > entered).then_some(Life { entered, end }) }
}

/// A reading taken in, or after, a position of the kind, against its limits there.
struct JudgedReading<'a> {
    measurement: &'a Measurement,
    is_ground: bool,
    ground: Option<f64>,
    value: f64,
}

fn readings_at<'a>(fleet: &'a Fleet, exposure: &Exposure<'a>, kind: &str) -> Vec<JudgedReading<'a>> {
    exposure
        .file
        .measurements
        .until(exposure.as_of)
        .iter()
        .filter_map(|recorded| {
            let measurement = &recorded.fact;
            let (model, seat) =
                exposure.seat_at(measurement.occurred_at).filter(|(_, seat)| *seat == kind)?;
            let programme = &fleet.programme_of(Some(model))?.fact;
            let limits = limits_of(
                fleet,
                programme,
                Some(seat),
                measurement.quantity.as_str(),
                measurement.unit.as_str(),
            );
            let grounds = |limit: &&Limit, value: f64| class_of(limit, value) == Some(Severity::Ground);
            let beyond = measurement.values.iter().find_map(|value| {
                limits.iter().find(|limit| grounds(limit, *value)).map(|limit| (*value, limit.ground))
            });
            // A quantity without limits says nothing about good or failed.
            limits.first()?;
            let (value, ground) = beyond.unwrap_or_default();
            Some(JudgedReading { measurement, is_ground: beyond.is_some(), ground, value })
        })
        .collect()
}

fn over_limit(readings: &[JudgedReading<'_>]) -> Option<Failure> {
    let found = readings.iter().find(|reading| reading.is_ground)?;
    let limit = found.ground.map(|limit| format!(", limit {limit}")).unwrap_or_default();
    let measurement = found.measurement;
    Some(Failure {
        at: measurement.occurred_at,
        why: format!("{} read {} {}{limit}", measurement.quantity, found.value, measurement.unit),
        is_exact: false,
    })
}

/// The first removal from a position of the kind that is a failure, of what sat there since a moment.
fn came_off_failed(exposure: &Exposure<'_>, kind: &str, since: Option<Instant>) -> Option<Failure> {
    exposure.file.removals.until(exposure.as_of).iter().find_map(|recorded| {
        let removal = &recorded.fact;
        let span = exposure.file.spans.iter().find(|span| span.installation == removal.installation)?;
        if exposure.kind_of(span) != Some(kind) || since.is_some_and(|since| span.from < since) {
            return None;
        }
        let note = removal.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        let (why, is_exact) = match removal.reason {
            RemovalReason::Failed => ("came off as failed", true),
            RemovalReason::OverLimit => ("came off over its limit", false),
            RemovalReason::Suspected if scrapped_after(exposure, removal.occurred_at) => {
                ("came off on suspicion and was scrapped", false)
            }
            RemovalReason::Suspected
            | RemovalReason::Preventive
            | RemovalReason::Borrowed
            | RemovalReason::Upgrade => return None,
        };
        Some(Failure { at: removal.occurred_at, why: format!("{why}{note}"), is_exact })
    })
}

/// Whether a part was scrapped after it came off, without having been fitted again.
fn scrapped_after(exposure: &Exposure<'_>, off_at: Instant) -> bool {
    let fitted_again = exposure.file.spans.iter().map(|span| span.from).filter(|from| *from >= off_at).min();
    exposure.file.conditions.until(exposure.as_of).iter().any(|condition| {
        condition.fact.state == ComponentState::Scrapped
            && condition.fact.occurred_at >= off_at
            && fitted_again.is_none_or(|again| condition.fact.occurred_at < again)
    })
}

/// Whether a good part is in use, and if not, since when and why.
fn standing(exposure: &Exposure<'_>, kind: &str) -> (LifeOutcome, Option<Instant>, Option<String>) {
    let seated = exposure.file.span_at(exposure.as_of).and_then(|span| exposure.kind_of(span));
    if seated == Some(kind) {
        return (LifeOutcome::Running, None, None);
    }
    let removal =
        exposure.file.removals.until(exposure.as_of).iter().rev().map(|recorded| &recorded.fact).find(
            |removal| {
                let span = exposure.file.spans.iter().find(|span| span.installation == removal.installation);
                span.and_then(|span| exposure.kind_of(span)) == Some(kind)
            },
        );
    let why = removal.map(|removal| {
        let note = removal.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        format!("{}{note}", removal.reason)
    });
    (LifeOutcome::TakenOff, removal.map(|removal| removal.occurred_at), why)
}
