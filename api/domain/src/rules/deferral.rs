//! Deferrals: may this defect be put off, on these terms, and once more? Who may sign is asked in [`super::may`].

use super::{Verdict, defect::check_restriction};
use crate::{
    facts::{Deferral, Recorded},
    fleet::{
        DefectFile, Fleet,
        terms::{MOST_DEFERRALS, is_deferred_when_found, is_open, is_run_out_undeferred, name_of, own_terms},
    },
    ids::MemberId,
    time::{Instant, day_of},
    words::{RestrictionKind, Severity},
};

pub(super) fn check(fleet: &Fleet, deferral: &Deferral, verdict: &mut Verdict) {
    check_kept(fleet, deferral, deferral.deferred_by, verdict);
    check_terms(fleet, deferral, verdict);
    let Some(file) = fleet.defect(deferral.defect) else { return };
    let Some(recorded) = file.defect.as_ref() else { return };
    let (defect, at) = (&recorded.fact, deferral.occurred_at);
    if defect.severity == Severity::Ground || at < defect.occurred_at {
        return;
    }
    let name = name_of(defect);
    if !is_open(fleet, file, at) {
        verdict.record(
            "not_open",
            "/defect",
            format!("{name} was closed by {at}: there is nothing to defer"),
        );
    } else if is_run_out_undeferred(fleet, file, at) {
        verdict.record(
            "time_is_over",
            "/defect",
            format!("{name} was never deferred and grounds since its time ran out: repair and release it"),
        );
    }
}

/// What holds for a deferral for as long as it stands, whatever is recorded or corrected later: its defect is there,
/// can be deferred, was found before, and this is its first deferral or its one extension, signed by another.
pub(super) fn check_kept(
    fleet: &Fleet,
    deferral: &Deferral,
    signer: Option<MemberId>,
    verdict: &mut Verdict,
) {
    let file = fleet.defect(deferral.defect);
    let Some((file, recorded)) = file.and_then(|file| Some((file, file.defect.as_ref()?))) else {
        verdict.value(
            "unknown_reference",
            "/defect",
            format!("no defect `{}` in this club", deferral.defect),
        );
        return;
    };
    let (defect, name) = (&recorded.fact, name_of(&recorded.fact));
    if let Some(cause) = defect.cause.filter(|cause| cause.is_never_deferred()) {
        verdict.record(
            "cause_is_never_deferred",
            "/defect",
            format!("{name} is a matter of `{cause}`, which is never deferred: repair and release it"),
        );
    } else if defect.severity == Severity::Ground {
        verdict.record(
            "ground_is_never_deferred",
            "/defect",
            format!("{name} grounds, and what grounds is never deferred: repair and release it"),
        );
    }
    if deferral.occurred_at < defect.occurred_at {
        verdict.record(
            "deferred_before_found",
            "/occurred_at",
            format!("{name} was found at {}: it is deferred after that", defect.occurred_at),
        );
    }
    if defect.severity == Severity::Restrict && deferral.restrictions.is_empty() {
        verdict.value(
            "restriction_missing",
            "/restrictions",
            format!("{name} restricts: say at least one restriction under which it may be flown"),
        );
    }
    let signed = signers(file, deferral, signer);
    if signed.len() > MOST_DEFERRALS {
        verdict.record(
            "already_extended",
            "/defect",
            format!(
                "{name} was deferred and extended already, and is extended once only: repair and release it"
            ),
        );
    } else if let [first, second] = signed.as_slice()
        && let (Some(first), Some(second)) = (first, second)
        && first == second
    {
        verdict.record(
            "extension_by_first_signer",
            "/deferred_by",
            format!("{} signed for {name} first: another inspector extends it", fleet.member_tag(*first)),
        );
    }
}

/// Who signed for a defect, in order, as if this deferral were on record.
fn signers(file: &DefectFile, deferral: &Deferral, signer: Option<MemberId>) -> Vec<Option<MemberId>> {
    let own = file.defect.iter().filter(|defect| is_deferred_when_found(&defect.fact));
    let mut later: Vec<_> = file
        .deferrals
        .iter()
        .filter(|known| known.fact.id != deferral.id)
        .map(|known| ((known.fact.occurred_at, known.fact.id), Some(signer_of(known))))
        .collect();
    later.push(((deferral.occurred_at, deferral.id), signer));
    later.sort_by_key(|(key, _)| *key);
    own.map(|defect| Some(own_terms(defect).signed_by)).chain(later.into_iter().map(|(_, by)| by)).collect()
}

/// Who signed a deferral.
pub(super) fn signer_of(recorded: &Recorded<Deferral>) -> MemberId {
    recorded.fact.deferred_by.unwrap_or(recorded.recorded_by)
}

/// Whether the defect is deferred by somebody else's word before this one counts, so that this one extends it.
pub(super) fn is_extension(file: &DefectFile, deferral: &Deferral) -> bool {
    let key = (deferral.occurred_at, deferral.id);
    file.defect.as_ref().is_some_and(|defect| is_deferred_when_found(&defect.fact))
        || file.deferrals.iter().any(|known| (known.fact.occurred_at, known.fact.id) < key)
}

/// The rule that needs to know who records: nobody extends what they deferred themselves.
pub(super) fn check_recorder(fleet: &Fleet, deferral: &Deferral, by: MemberId, verdict: &mut Verdict) {
    if deferral.deferred_by.is_some() {
        return;
    }
    let mut with_signer = Verdict::default();
    check_kept(fleet, deferral, Some(by), &mut with_signer);
    let found = with_signer.into_inner().into_iter().find(|rule| rule.code == "extension_by_first_signer");
    if let Some(rule) = found {
        verdict.record(rule.code, rule.pointer, rule.text);
    }
}

/// The terms themselves: readable restrictions, and a last day or a count that does not lie in the past.
fn check_terms(fleet: &Fleet, deferral: &Deferral, verdict: &mut Verdict) {
    for (index, restriction) in deferral.restrictions.iter().enumerate() {
        check_restriction(restriction, &format!("/restrictions/{index}"), verdict);
    }
    if deferral.within_flights.is_some_and(|flights| !(1..=1000).contains(&flights)) {
        verdict.value("out_of_range", "/within_flights", "give 1 to 1000 flights, or leave the count out");
    }
    let has_limit = deferral.fix_by_on.is_some()
        || deferral.within_flights.is_some()
        || deferral
            .restrictions
            .iter()
            .any(|one| one.until_on.is_some() || one.kind == RestrictionKind::MaxFlights);
    if !has_limit {
        verdict.value(
            "limit_missing",
            "/fix_by_on",
            "say until when: a last day (`fix_by_on`) or a number of flights (`within_flights`)",
        );
    }
    not_past(fleet, deferral.occurred_at, deferral.fix_by_on, "/fix_by_on", verdict);
    for (index, restriction) in deferral.restrictions.iter().enumerate() {
        let pointer = format!("/restrictions/{index}/until_on");
        not_past(fleet, deferral.occurred_at, restriction.until_on, &pointer, verdict);
    }
}

fn not_past(
    fleet: &Fleet,
    at: Instant,
    last_on: Option<chrono::NaiveDate>,
    pointer: &str,
    verdict: &mut Verdict,
) {
    let signed_on = day_of(at, fleet.club().zone);
    if let Some(last_on) = last_on.filter(|last_on| *last_on < signed_on) {
        verdict.value(
            "last_day_past",
            pointer,
            format!(
                "{last_on} lies before {signed_on}, the day of the deferral: give a day that is still to come"
            ),
        );
    }
}
