//! The club release of a repair: cured, its sheet complete, looked at after the repair, and by whom.
//!
//! Club practice, modelled on independent checks of control work elsewhere; it grants nothing under any law.

use super::{Verdict, repair_step::worker_looks};
use crate::{
    facts::{Release, Repair},
    fleet::{Fleet, RepairFile},
    ids::MemberId,
    time::Instant,
    words::{Opener, RepairKind, Role},
    worksheets::{SheetDetail, WorkClass, worksheet},
};

/// All work on a repair was done before its release.
const EVER: Instant = Instant::from_micros(i64::MAX);

/// Everything that stands against a release. `releaser`: who gives it, where that is known.
pub(super) fn check(fleet: &Fleet, release: &Release, releaser: Option<MemberId>, verdict: &mut Verdict) {
    if let Some(second) = release.second_person {
        verdict.member(fleet, "/second_person", second);
    }
    let file = fleet.repair(release.repair);
    let Some((file, repair)) = file.and_then(|file| file.repair.as_ref().map(|repair| (file, &repair.fact)))
    else {
        verdict.value("unknown_reference", "/repair", format!("no repair `{}` in this club", release.repair));
        return;
    };
    if file.releases.iter().any(|known| known.fact.id != release.id) {
        verdict.record("already_released", "/repair", "the repair is released already");
    }
    if release.occurred_at < repair.occurred_at {
        verdict.record("released_before_start", "/occurred_at", "a repair is released after it was started");
    } else if let Some(last) = file.steps.iter().map(|entry| entry.fact.occurred_at).max()
        && release.occurred_at < last
    {
        verdict.record(
            "released_before_end",
            "/occurred_at",
            format!("work on it went on until {last}: release it after that"),
        );
    }
    if let Some(until) = file.cure_until(EVER).filter(|until| release.occurred_at < *until) {
        verdict.record(
            "still_curing",
            "/occurred_at",
            format!("it cures until {until}: release it after that"),
        );
    }
    check_sheet(file, repair, verdict);
    check_looked_at(fleet, file, repair, release, verdict);
    check_people(fleet, file, repair, release, releaser, verdict);
}

/// What is still open on a sheet that is kept: steps without a tick, and what it keeps beside them.
#[must_use]
pub fn open_on_sheet(file: &RepairFile, repair: &Repair, at: Instant) -> (Vec<u32>, Option<SheetDetail>) {
    if !file.keeps_sheet(at) {
        return (Vec::new(), None);
    }
    let sheet = worksheet(repair.kind);
    let asked = sheet.steps.iter().filter(|step| !step.is_optional && file.tick(step.number, at).is_none());
    let open = asked.map(|step| step.number).collect();
    let has = |detail: SheetDetail| {
        file.steps.until(at).iter().any(|entry| match detail {
            SheetDetail::Joiner => entry.fact.joiner.is_some(),
            SheetDetail::Connector => entry.fact.connector.is_some(),
            SheetDetail::Cover => entry.fact.cover.is_some(),
            SheetDetail::Servo => entry.fact.servo.is_some(),
        })
    };
    (open, sheet.keeps.filter(|detail| !has(*detail)))
}

fn check_sheet(file: &RepairFile, repair: &Repair, verdict: &mut Verdict) {
    let (open, missing) = open_on_sheet(file, repair, EVER);
    if !open.is_empty() {
        let numbers: Vec<String> = open.iter().map(ToString::to_string).collect();
        verdict.record(
            "steps_open",
            "/repair",
            format!(
                "sheet {} is not complete: tick step {}, or say why one is not applicable",
                repair.kind,
                numbers.join(", ")
            ),
        );
    }
    if let Some(detail) = missing {
        verdict.record(
            "detail_missing",
            "/repair",
            format!("sheet {} keeps `{detail}`: record it", repair.kind),
        );
    }
}

/// Whether a repair has to pass the check after repairs before its release: where its sheet is kept, and boom and spar
/// always. Others were entered from older papers, on which a release stands for the check.
#[must_use]
pub fn needs_check_before(file: &RepairFile, repair: &Repair, at: Instant) -> bool {
    file.keeps_sheet(at) || matches!(repair.kind, RepairKind::BoomOrFuselage | RepairKind::SparOrSocket)
}

/// The group of the check after repairs in the programme of the repair's model, and whether it was passed since the
/// work was over; `None` where the programme has none.
#[must_use]
pub fn checked_after<'a>(
    fleet: &'a Fleet,
    file: &RepairFile,
    repair: &Repair,
    at: Instant,
) -> Option<(&'a str, bool)> {
    let programme = fleet.programme_of(Some(repair.model))?;
    let group = programme.fact.groups.iter().find(|group| group.opened_by == Some(Opener::Repair))?;
    let over = file.worked_until(at)?;
    let on_model = fleet.model(repair.model).map(|model| &*model.inspections);
    let on_parts =
        repair.components.iter().filter_map(|part| fleet.component(*part)).map(|part| &part.inspections);
    let logs = on_model.into_iter().chain(on_parts);
    let done = logs
        .flat_map(|log| log.until(at))
        .filter(|done| done.fact.group == group.code && done.fact.occurred_at >= over);
    let last = done.max_by_key(|done| (done.fact.occurred_at, done.fact.id));
    Some((group.code.as_str(), last.is_some_and(|done| fleet.is_done(&done.fact))))
}

fn check_looked_at(
    fleet: &Fleet,
    file: &RepairFile,
    repair: &Repair,
    release: &Release,
    verdict: &mut Verdict,
) {
    if !needs_check_before(file, repair, EVER) {
        return;
    }
    if let Some((group, false)) = checked_after(fleet, file, repair, release.occurred_at) {
        verdict.record(
            "not_checked_after_repair",
            "/repair",
            format!("{group} was not passed since the work was over and cured: pass {group} first"),
        );
    }
}

/// The owner of the repair's model.
fn owner_of(fleet: &Fleet, repair: &Repair) -> Option<MemberId> {
    fleet.model_data(repair.model)?.owner
}

fn check_people(
    fleet: &Fleet,
    file: &RepairFile,
    repair: &Repair,
    release: &Release,
    releaser: Option<MemberId>,
    verdict: &mut Verdict,
) {
    let workers = file.workers(EVER);
    let is_worker = |member: MemberId| workers.contains(&member);
    if let Some(second) = release.second_person.filter(|second| is_worker(*second)) {
        verdict.record("worker_as_second_person", "/second_person", worker_looks(&fleet.member_tag(second)));
    }
    if let Some(second) = release.second_person
        && file.keeps_sheet(EVER)
        && releaser.is_some_and(|releaser| releaser != second)
        && !is_worker(second)
        && !file.lookers(EVER).contains(&second)
    {
        verdict.record(
            "second_look_missing",
            "/second_person",
            format!("{} has not signed the sheet: nobody speaks for another", fleet.member_tag(second)),
        );
    }
    let Some(releaser) = releaser else { return };
    let name = fleet.member_tag(releaser);
    let has = |role: Role| fleet.member(releaser).is_some_and(|member| member.fact.roles.contains(&role));
    match worksheet(repair.kind).class_of_work {
        WorkClass::Ordinary => {}
        WorkClass::Connector => {
            if release.second_person.is_none() && is_worker(releaser) && file.lookers(EVER).is_empty() {
                verdict.record(
                    "reader_missing",
                    "/second_person",
                    format!("{name} did the work: another member reads it back and signs the sheet"),
                );
            }
            let reads = release.second_person.is_none_or(|second| second == releaser);
            let owner = owner_of(fleet, repair);
            if !reads && owner.is_some_and(|owner| owner != releaser) {
                verdict.record(
                    "owner_or_reader_releases",
                    "/released_by",
                    "a fit or a connector is released by the owner, or by who read it back",
                );
            }
        }
        WorkClass::Control => {
            if is_worker(releaser) {
                verdict.record(
                    "worker_releases",
                    "/released_by",
                    format!(
                        "{name} did the work: control work is released by the second person, who looked at it"
                    ),
                );
            } else if release.second_person.is_some_and(|second| second != releaser) {
                verdict.record(
                    "second_person_releases",
                    "/released_by",
                    "control work is released by the second person, who looked at it",
                );
            }
        }
        WorkClass::Structure => {
            if is_worker(releaser) {
                verdict.record(
                    "worker_releases",
                    "/released_by",
                    format!("{name} did the work: structure is released by an inspector who did not"),
                );
            }
            if !has(Role::Inspector) {
                verdict.record(
                    "inspector_needed",
                    "/released_by",
                    format!("structure is released by an inspector, and {name} is none"),
                );
            }
        }
    }
}

/// What stands against a member giving a release, as far as that depends on who it is.
#[must_use]
pub(super) fn against(fleet: &Fleet, release: &Release, releaser: MemberId) -> Vec<String> {
    let mut verdict = Verdict::default();
    if let Some(file) = fleet.repair(release.repair)
        && let Some(repair) = &file.repair
    {
        check_people(fleet, file, &repair.fact, release, Some(releaser), &mut verdict);
    }
    // That the second person did the work is a fault of the entry, whoever gives the release.
    let about_releaser = |code: &str| code != "worker_as_second_person";
    verdict.into_inner().into_iter().filter(|rule| about_releaser(rule.code)).map(|rule| rule.text).collect()
}

/// The members who may release a repair by its class, as far as its owner, its workers and roles decide.
#[must_use]
pub fn who_may(fleet: &Fleet, file: &RepairFile, repair: &Repair, at: Instant) -> Vec<MemberId> {
    let workers = file.workers(at);
    let class = worksheet(repair.kind).class_of_work;
    let may_release = [Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer];
    let fits = |id: MemberId, roles: &[Role]| {
        let is_worker = workers.contains(&id);
        match class {
            WorkClass::Structure => roles.contains(&Role::Inspector) && !is_worker,
            WorkClass::Control => roles.iter().any(|role| may_release.contains(role)) && !is_worker,
            WorkClass::Ordinary | WorkClass::Connector => roles.iter().any(|role| may_release.contains(role)),
        }
    };
    fleet.members().filter(|(id, member)| fits(*id, &member.fact.roles)).map(|(id, _)| id).collect()
}
