//! What the pilot of an entry needs beside the model: papers that hold through the last day, and loans that last as
//! long.

use super::{
    super::Moment,
    ahead::Ahead,
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    facts::{Contest, Loan},
    finding::Finding,
    fleet::Fleet,
    ids::{ComponentId, LoanId, MemberId, ModelId},
    words::Severity,
};

/// Papers that the contest asks for and that do not hold through its last day; others that end before it.
pub(super) fn permission_findings(
    fleet: &Fleet,
    contest: &Contest,
    pilot: MemberId,
) -> Vec<ReadinessFinding> {
    let tag = fleet.member_tag(pilot);
    let held = fleet.member(pilot).map_or(&[][..], |member| member.fact.permissions.as_slice());
    let asked = contest.permissions.iter().filter_map(|kind| {
        let word = kind.as_str().replace('_', " ");
        let last = held.iter().filter(|one| one.kind == *kind).map(|one| one.until_on).max();
        let (code, text) = match last {
            Some(until_on) if until_on >= contest.last_on => return None,
            Some(until_on) => {
                ("permission_ends", format!("{word} of {tag} ends on {until_on}, before the last day"))
            }
            None => ("permission_unknown", format!("{word} of {tag} is not on record: unknown is not good")),
        };
        Some((code, Severity::Ground, kind.as_str(), word, text))
    });
    let others = held.iter().filter(|one| !contest.permissions.contains(&one.kind)).filter_map(|one| {
        let word = one.kind.as_str().replace('_', " ");
        let text = format!("{word} of {tag} ends on {}, before the last day", one.until_on);
        (one.until_on < contest.last_on)
            .then(|| ("permission_ends", Severity::Watch, one.kind.as_str(), word.clone(), text))
    });
    asked
        .chain(others)
        .map(|(code, severity, kind, word, text)| {
            let clear_by = format!(
                "have {word} renewed and put its new last day ({} or later) on record",
                contest.last_on
            );
            let found = Finding::new(code, severity, kind, text, clear_by);
            let mut found = ReadinessFinding::of(ReadyTask::RenewPermission, "", found).of_pilot(&tag);
            found.model = None;
            found.latest_on = Some(contest.first_on);
            found
        })
        .collect()
}

/// A model or a part that an entry rests on.
#[derive(Debug, Clone, Copy)]
pub(super) enum RestsOn {
    Model(ModelId),
    Part(ComponentId),
}

/// Loans of what an entry rests on that do not last through the last day, or that give it to somebody else.
pub(super) fn loan_findings(
    fleet: &Fleet,
    model: ModelId,
    rests_on: &[RestsOn],
    ahead: &Ahead<'_>,
    moment: Moment,
) -> Vec<ReadinessFinding> {
    let tag = fleet.model_tag(model);
    let mut list = Vec::new();
    for item in rests_on {
        let (name, loans, part): (String, &[LoanId], Option<String>) = match item {
            RestsOn::Model(id) => {
                (fleet.model_tag(*id), fleet.model(*id).map_or(&[], |file| file.loans.as_slice()), None)
            }
            RestsOn::Part(id) => {
                let name = fleet.component_tag(*id);
                let loans = fleet.component(*id).map_or(&[][..], |file| file.loans.as_slice());
                (name.clone(), loans, Some(name))
            }
        };
        let files = loans.iter().filter_map(|id| fleet.loan(*id));
        let open = files.filter(|file| file.returns.until(moment.as_of).is_empty());
        for loan in open.filter_map(|file| file.loan.as_ref()).map(|loan| &loan.fact) {
            let is_known = loan.occurred_at <= moment.as_of && loan.from_on <= ahead.last_on;
            let found = Some(loan)
                .filter(|_| is_known)
                .and_then(|loan| judge(fleet, model, &name, loan, ahead, moment));
            if let Some((found, latest_on)) = found {
                let mut found = ReadinessFinding::of(ReadyTask::SettleLoan, &tag, found).by(latest_on);
                found.parts.extend(part.clone());
                list.push(found);
            }
        }
    }
    list
}

fn judge(
    fleet: &Fleet,
    model: ModelId,
    name: &str,
    loan: &Loan,
    ahead: &Ahead<'_>,
    moment: Moment,
) -> Option<(Finding, chrono::NaiveDate)> {
    let to = fleet.member_tag(loan.lent_to);
    let due = loan.due_back_on;
    let owner = fleet.model_data(model).and_then(|data| data.owner);
    let is_ours =
        moment.pilot == Some(loan.lent_to) || loan.for_model == Some(model) || owner == Some(loan.lent_to);
    let longer = format!("agree a later day than {} for {name}, or do without it", ahead.last_on);
    let by = ahead.ready_on;
    if !is_ours {
        let is_back = due < ahead.ready_on && due >= moment.on;
        let (code, severity) = if is_back {
            ("loan_comes_back_before", Severity::Watch)
        } else {
            ("lent_to_another", Severity::Ground)
        };
        let late = if due < moment.on { ", which is past" } else { "" };
        let text = format!("{name} is lent to {to} from {}, due back {due}{late}", loan.from_on);
        let clear_by = format!("{to} returns {name} before {}", ahead.ready_on);
        return Some((Finding::new(code, severity, name, text, clear_by), by));
    }
    let (code, severity, text) = if due < ahead.first_on {
        (
            "loan_ends_before",
            Severity::Ground,
            format!("{name} is lent to {to} until {due}, before the first day"),
        )
    } else if due < ahead.last_on {
        (
            "loan_ends_in_contest",
            Severity::Ground,
            format!("{name} is lent to {to} until {due}, in the middle of the contest"),
        )
    } else if due == ahead.last_on {
        (
            "loan_ends_on_last_day",
            Severity::Restrict,
            format!(
                "{name} is lent to {to} and due back {due}, the last day: the last rounds may be flown without it"
            ),
        )
    } else {
        let text = format!("{name} is lent to {to} until {due}, after the last day");
        ("loan_lasts", Severity::Watch, text)
    };
    Some((Finding::new(code, severity, name, text, longer), by))
}
