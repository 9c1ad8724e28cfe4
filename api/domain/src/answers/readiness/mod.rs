//! Which of the club's models can go to a contest, and what must be done first: of one model, of an entry, of a pilot,
//! of the team.
//!
//! Everything is looked at as it will stand at the last round, after training and every round that may be flown
//! ([`Ahead`]). When the work is done, and by whom, is another question; findings carry what a plan needs for it.

mod ahead;
mod checks;
mod claims;
mod class;
mod gear;
mod limits;
mod model;
mod people;
mod told;

pub use ahead::{Ahead, FlightsAhead};
pub use checks::{CheckAhead, DoEarly, DoneThen, DueCause};
pub use claims::{Claim, ClaimHow, ClaimedTwice};
pub use class::ClassWord;
pub use gear::{AltimeterAhead, PackAhead};
pub use limits::{LimitAhead, LimitKind};
pub use model::{ModelReadiness, model_readiness};
pub use told::{Readiness, ReadinessFinding, ReadyTask};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use claims::{claim_findings, claimed_twice};
use people::permission_findings;
use told::{in_order, readiness_of};

use super::Moment;
use crate::{
    facts::{Contest, Entry},
    fleet::Fleet,
    ids::{ContestId, EntryId, MemberId},
    time::Instant,
    words::{EntryState, Severity},
};

/// What stands under every answer.
const CAUTION: &str = "This is a club record. It does not make a model legal or safe to fly. The pilot decides and is \
                       responsible, every flight. Rules of the class in force at the event and the contest director \
                       come first.";

/// How ready the team is for a contest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ContestReadiness {
    /// Tag of the contest.
    pub contest: String,
    /// Its name.
    pub title: String,
    /// Tag of its class.
    pub class: String,
    /// By when everything has to be ready.
    pub check_in_at: Instant,
    /// First day of flying.
    pub first_on: NaiveDate,
    /// Last day of flying.
    pub last_on: NaiveDate,
    /// How ready it all is.
    pub readiness: Readiness,
    /// How many entries are how ready.
    pub counts: ReadinessCounts,
    /// The entries that stand, by pilot.
    pub entries: Vec<EntryReadiness>,
    /// What more than one entry counts on.
    pub claimed_twice: Vec<ClaimedTwice>,
    /// What stands against the whole team: the class, what is claimed twice.
    pub findings: Vec<ReadinessFinding>,
    /// What all of it rests on.
    pub assumptions: Vec<String>,
    /// What every reader should know.
    pub caution: String,
}

/// How many entries are how ready.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReadinessCounts {
    /// Nothing stands against them.
    pub ready: usize,
    /// They can go with something in mind.
    pub limited: usize,
    /// Something has to be done first.
    pub work_to_do: usize,
}

/// How ready an entry is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct EntryReadiness {
    /// Id of the entry.
    pub entry: EntryId,
    /// Tag of the contest.
    pub contest: String,
    /// Tag of the pilot.
    pub pilot: String,
    /// How ready it is: by the model that is flown first, and by what is about the pilot.
    pub readiness: Readiness,
    /// Identification marks, as entered.
    pub marks: Option<String>,
    /// The model that is flown first.
    pub model: ModelReadiness,
    /// Models in reserve.
    pub reserves: Vec<ModelReadiness>,
    /// What stands against the entry beside its models.
    pub findings: Vec<ReadinessFinding>,
}

/// How ready the team is for a contest, or the entries of one pilot. `None` if the contest is not on record.
#[must_use]
pub fn contest_readiness(
    fleet: &Fleet,
    contest: ContestId,
    pilot: Option<MemberId>,
    moment: Moment,
) -> Option<ContestReadiness> {
    let fact = &fleet.contest(contest)?.fact;
    let ahead = Ahead::of_contest(fleet, fact);
    let claimed = claimed_twice(fleet, &ahead, moment);
    let mut entries: Vec<EntryReadiness> = fleet
        .contest_entries()
        .map(|(_, entry)| &entry.fact)
        .filter(|entry| entry.contest == contest && entry.state == EntryState::Entered)
        .filter(|entry| pilot.is_none_or(|pilot| pilot == entry.pilot))
        .filter_map(|entry| one_entry(fleet, fact, entry, &ahead, &claimed, moment))
        .collect();
    entries.sort_by(|one, other| (&one.pilot, one.entry).cmp(&(&other.pilot, other.entry)));
    let mut findings = class::confirmation(fleet, fact, &ahead);
    let tag = pilot.map(|pilot| fleet.member_tag(pilot));
    findings.extend(claim_findings(&claimed, tag.as_deref(), &ahead));
    in_order(&mut findings);
    let mut counts = ReadinessCounts::default();
    for entry in &entries {
        match entry.readiness {
            Readiness::Ready => counts.ready += 1,
            Readiness::Limited => counts.limited += 1,
            Readiness::WorkToDo => counts.work_to_do += 1,
        }
    }
    let worst = entries.iter().map(|entry| entry.readiness).max();
    Some(ContestReadiness {
        contest: fact.tag.to_string(),
        title: fact.title.to_string(),
        class: fact.class.to_string(),
        check_in_at: fact.check_in_at,
        first_on: fact.first_on,
        last_on: fact.last_on,
        readiness: worst.into_iter().chain([readiness_of(&findings)]).max().unwrap_or(Readiness::Ready),
        counts,
        entries,
        claimed_twice: claimed,
        findings,
        assumptions: assumptions(fact),
        caution: CAUTION.to_owned(),
    })
}

/// How ready one entry is. `None` if it, or its contest, is not on record.
#[must_use]
pub fn entry_readiness(fleet: &Fleet, entry: EntryId, moment: Moment) -> Option<EntryReadiness> {
    let entry = &fleet.contest_entry(entry)?.fact;
    let contest = &fleet.contest(entry.contest)?.fact;
    let ahead = Ahead::of_contest(fleet, contest);
    let claimed = claimed_twice(fleet, &ahead, moment);
    one_entry(fleet, contest, entry, &ahead, &claimed, moment)
}

fn one_entry(
    fleet: &Fleet,
    contest: &Contest,
    entry: &Entry,
    ahead: &Ahead<'_>,
    claimed: &[ClaimedTwice],
    moment: Moment,
) -> Option<EntryReadiness> {
    let moment = Moment { pilot: Some(entry.pilot), ..moment };
    let pilot = fleet.member_tag(entry.pilot);
    let model = model_readiness(fleet, entry.model, ahead, &entry.parts, moment)?;
    let reserves =
        entry.reserves.iter().filter_map(|model| model_readiness(fleet, *model, ahead, &[], moment));
    let reserves: Vec<ModelReadiness> = reserves.collect();
    let mut findings = permission_findings(fleet, contest, entry.pilot);
    findings.extend(claim_findings(claimed, Some(&pilot), ahead));
    findings.extend(marks_finding(entry, &pilot, ahead));
    in_order(&mut findings);
    // A reserve that waits for something keeps nobody at home.
    let own = readiness_of(findings.iter().filter(|found| found.severity != Severity::Watch));
    Some(EntryReadiness {
        entry: entry.id,
        contest: contest.tag.to_string(),
        readiness: model.readiness.max(own),
        marks: entry.marks.as_ref().map(ToString::to_string),
        pilot,
        model,
        reserves,
        findings,
    })
}

/// Marks are not on record, or lower than the class asks.
fn marks_finding(entry: &Entry, pilot: &str, ahead: &Ahead<'_>) -> Option<ReadinessFinding> {
    use crate::{finding::Finding, words::ClassQuantity};

    let least_mm = ahead.class?.limit(ClassQuantity::MarkHeight)?.min?;
    let (code, severity, text) = match (&entry.marks, entry.mark_height_mm) {
        (None, _) => ("marks_unknown", Severity::Watch, "no identification marks are on record".to_owned()),
        (Some(_), None) => {
            ("marks_unknown", Severity::Watch, "the height of the marks is not on record".to_owned())
        }
        (Some(_), Some(height)) if height < least_mm => (
            "marks_too_low",
            Severity::Restrict,
            format!("marks of {height} mm: {least_mm} mm are asked for"),
        ),
        (Some(_), Some(_)) => return None,
    };
    let clear_by =
        format!("put marks of at least {least_mm} mm on the model and their text and height into the entry");
    let found = Finding::new(code, severity, pilot, text, clear_by);
    let mut found = ReadinessFinding::of(ReadyTask::MeetClass, "", found).by(ahead.ready_on).of_pilot(pilot);
    found.model = None;
    Some(found)
}

fn assumptions(contest: &Contest) -> Vec<String> {
    let each = if contest.flights_per_round == 1 { "" } else { " of several flights" };
    vec![
        format!(
            "each model flies all {} training flights and every round{each}, {} preliminary and {} fly-off: the worst case",
            contest.training_flights, contest.prelim_rounds_max, contest.flyoff_rounds_max
        ),
        "tolerance of a check is never used across a contest".to_owned(),
        "everything is judged as it would stand on the last day if nothing were done".to_owned(),
        "a reserve that waits for something keeps its entry from nothing".to_owned(),
    ]
}
