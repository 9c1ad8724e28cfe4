//! What readiness has to say: one thing each, with the work that clears it, so that a plan can be made of it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{finding::Finding, text_enum, words::Severity};

text_enum! {
    /// What kind of work clears a finding of readiness.
    ReadyTask {
        /// Do a check.
        DoCheck = "do_check",
        /// Mend a defect, or have it put off past the contest.
        ClearDefect = "clear_defect",
        /// Release a repair, once it is cured.
        ReleaseRepair = "release_repair",
        /// Do what a campaign asks.
        DoCampaignWork = "do_campaign_work",
        /// Fit something into an empty seat.
        FitPart = "fit_part",
        /// Exchange a part, or have it put back into service.
        SwapPart = "swap_part",
        /// Have a fit outside the set measured and accepted.
        AcceptPairing = "accept_pairing",
        /// Weigh, or move weight.
        Weigh = "weigh",
        /// Agree on a loan, or have it back.
        SettleLoan = "settle_loan",
        /// Decide between two entries that claim the same.
        SettleClaim = "settle_claim",
        /// Have a paper of a member renewed.
        RenewPermission = "renew_permission",
        /// Find out whether the organiser accepts a part.
        AcceptPart = "accept_part",
        /// Compare the limits of the class with the edition in force.
        ConfirmClass = "confirm_class",
        /// Bring the model back inside the limits of its class, or measure what is not known.
        MeetClass = "meet_class",
        /// Bring the model back into use.
        BringBack = "bring_back",
        /// Nothing but to keep an eye on it.
        KnowOf = "know_of",
    }
}

text_enum! {
    /// How ready a model, an entry or a team is.
    Readiness {
        /// Nothing stands against it.
        Ready = "ready",
        /// It can go, with what is listed in mind.
        Limited = "limited",
        /// Something has to be done first.
        WorkToDo = "work_to_do",
    }
}

/// One thing that stands against going to a contest, and what clears it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReadinessFinding {
    /// Stable code for programs.
    pub code: String,
    /// How it will stand at the last round if nothing is done.
    pub severity: Severity,
    /// What kind of work clears it.
    pub task: ReadyTask,
    /// Tag of the model, where it is about one.
    pub model: Option<String>,
    /// Tag of the pilot, where it is about one.
    pub pilot: Option<String>,
    /// Tag, code or path of what it sits on: the group of a check, a part, a defect, a seat.
    pub subject: String,
    /// Tags of the parts that it touches.
    pub parts: Vec<String>,
    /// One sentence for people, with the numbers.
    pub text: String,
    /// What a person can do to clear it.
    pub clear_by: String,
    /// First day on which that can be done; null: now.
    pub not_before_on: Option<NaiveDate>,
    /// Last day on which that is in time; null where no day binds it.
    pub latest_on: Option<NaiveDate>,
    /// Flights that may be flown before it; null where no count binds it.
    pub before_flights: Option<i64>,
}

impl ReadinessFinding {
    /// From a finding of the board.
    pub(super) fn of(task: ReadyTask, model: &str, found: Finding) -> Self {
        Self {
            code: found.code,
            severity: found.severity,
            task,
            model: Some(model.to_owned()),
            pilot: None,
            subject: found.subject,
            parts: Vec::new(),
            text: found.text,
            clear_by: found.clear_by,
            not_before_on: None,
            latest_on: None,
            before_flights: None,
        }
    }

    /// The same, to be done by a day.
    pub(super) const fn by(mut self, latest_on: NaiveDate) -> Self {
        self.latest_on = Some(latest_on);
        self
    }

    /// The same, about a pilot.
    pub(super) fn of_pilot(mut self, pilot: &str) -> Self {
        self.pilot = Some(pilot.to_owned());
        self
    }

    /// The same, touching parts.
    pub(super) fn with_parts(mut self, parts: Vec<String>) -> Self {
        self.parts = parts;
        self
    }
}

/// How ready that is against which these things stand.
pub(super) fn readiness_of<'a>(findings: impl IntoIterator<Item = &'a ReadinessFinding>) -> Readiness {
    match findings.into_iter().map(|found| found.severity).max() {
        None | Some(Severity::Watch) => Readiness::Ready,
        Some(Severity::Restrict) => Readiness::Limited,
        Some(Severity::Ground) => Readiness::WorkToDo,
    }
}

/// The worst first; of one class what is due first.
pub(super) fn in_order(findings: &mut [ReadinessFinding]) {
    findings.sort_by(|one, other| {
        let key = |found: &ReadinessFinding| {
            (
                std::cmp::Reverse(found.severity),
                found.latest_on.unwrap_or(NaiveDate::MAX),
                found.model.clone(),
            )
        };
        key(one).cmp(&key(other)).then_with(|| (&one.code, &one.subject).cmp(&(&other.code, &other.subject)))
    });
}
