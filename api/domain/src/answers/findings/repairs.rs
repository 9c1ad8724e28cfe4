//! Repairs that were begun and not released, on a model or on the bench, and releases that name the worker as the
//! second person.

use super::{Audit, Family, PlacedFinding};
use crate::{
    facts::Repair, finding::Finding, fleet::RepairFile, ids::MemberId, time::day_of, words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let as_of = audit.moment.as_of;
    for (_, file) in audit.fleet.repairs() {
        let Some(repair) = file.repair.as_ref().filter(|repair| repair.fact.occurred_at <= as_of) else {
            continue;
        };
        let Some((tag, _)) = audit.models.iter().find(|(_, id)| *id == repair.fact.model) else { continue };
        let worker = repair.fact.done_by.unwrap_or(repair.recorded_by);
        let finding = if file.is_released_at(as_of) {
            signed_by_worker(audit, file, &repair.fact, worker)
        } else {
            Some(unreleased(audit, file, &repair.fact))
        };
        list.extend(finding.map(|finding| PlacedFinding::new(Family::Repairs, finding).in_model(tag)));
    }
}

/// It grounds while what it was done on is in a model; on the bench it is only not to be forgotten.
fn unreleased(audit: &Audit<'_>, file: &RepairFile, repair: &Repair) -> Finding {
    let as_of = audit.moment.as_of;
    let name = repair.name();
    let is_off = |id: &_| audit.whereabouts(*id).is_none_or(|where_it_is| where_it_is.model.is_none());
    let is_on_bench = !repair.components.is_empty() && repair.components.iter().all(is_off);
    let severity = if is_on_bench { Severity::Watch } else { Severity::Ground };
    let place = if is_on_bench { ", on the bench" } else { "" };
    let text = &repair.text;
    // As the board has it: the latest of all cures, those of single steps included.
    let cure_until = file.cure_until(as_of);
    match cure_until.filter(|until| as_of < *until) {
        Some(until) => Finding::new(
            "repair_curing",
            severity,
            &name,
            format!("{name} cures until {until}{place}: {text}"),
            format!("wait until {until}, then pass RP and release {name}"),
        ),
        None => {
            let since = cure_until.map_or_else(
                || format!("begun {}", day_of(repair.occurred_at, audit.fleet.club().zone)),
                |until| format!("cured since {until}"),
            );
            Finding::new(
                "repair_unreleased",
                severity,
                &name,
                format!("{name} is {since} and not released{place}: {text}"),
                format!("pass RP and release {name}"),
            )
        }
    }
}

fn signed_by_worker(
    audit: &Audit<'_>,
    file: &RepairFile,
    repair: &Repair,
    worker: MemberId,
) -> Option<Finding> {
    let release = file.releases.until(audit.moment.as_of).first()?;
    (release.fact.second_person == Some(worker)).then(|| {
        let (name, who) = (repair.name(), audit.fleet.member_tag(worker));
        Finding::new(
            "second_person_did_the_work",
            Severity::Restrict,
            &name,
            format!("{who} did the work of {name} and stands as its second person, too"),
            format!("have somebody other than {who} look at {name}, and correct its release"),
        )
    })
}
