//! Corrections: tried on a copy of the Fleet, refused if the record would no longer hold together.
//!
//! # Who corrects, and what stays
//!
//! One's own entry may be corrected for seven days, and only into one that the member might have made; later, and
//! those of others, by an inspector ([`super::may`]). The original stays on record for ever, and so does every
//! correction of it, each with its reason and with who made it. Whoever corrects an entry has not thereby done what
//! it tells: who flew, read, worked or released stays named, so that nobody becomes their own second person by a
//! correction. Common practice of clubs, no source.
//!
//! # Nobody edits a measurement
//!
//! A reading is what an instrument said to somebody at a moment. No operation replaces it and none deletes it, not for
//! an inspector and not for the safety officer. A reading that was typed wrong is answered by a correction beside
//! it: an entry of its own, with its reason and the name of who made it. Trends, limits, due points and verdicts are
//! computed from the corrected reading for all moments after it was read; what was known before the correction can be
//! asked as before. One that never was taken is said to be void the same way, with the reason, and stays to be read.

use super::{
    Broken, Kind, Verdict,
    campaign::rests_on_its_campaign,
    check_by,
    defect::check_closure,
    deferral::{check_kept, signer_of},
    photo, release,
    repair_step::{check_slack, sanding_life},
};
use crate::{
    facts::{Correction, Fact, Noun, Recorded},
    fleet::{ComponentFile, Fleet},
    formulas::joiner::sanding::SandingLife,
    ids::{ComponentId, RepairStepId},
    time::Instant,
};

/// Everything that stands against a correction whose original is on record.
///
/// `recorded` is the correction as it would be recorded. The corrected fact keeps noun and id of the
/// original, obeys every rule a new fact obeys, leaves no part in two places and no position with two, and takes
/// the ground from no later fact.
#[must_use]
pub fn check_correction(fleet: &Fleet, recorded: &Recorded<Correction>, now: Instant) -> Vec<Broken> {
    let mut verdict = Verdict::default();
    let correction = &recorded.fact;
    if correction.noun.is_master_data() {
        verdict.value(
            "new_version_instead",
            "/noun",
            format!("{} are changed by a new version, not by a correction", correction.noun),
        );
        return verdict.into_inner();
    }
    let fact = match (correction.is_void, &correction.fact) {
        (true, None) => None,
        (false, Some(json)) => match Fact::from_json(correction.noun, json.clone()) {
            Ok(fact) => Some(fact),
            Err(error) => {
                verdict.value("not_a_fact", "/fact", error.to_string());
                return verdict.into_inner();
            }
        },
        (true, Some(_)) | (false, None) => {
            verdict.value(
                "fact_or_void",
                "/fact",
                "give the whole corrected fact, or say `is_void` if it never happened",
            );
            return verdict.into_inner();
        }
    };
    if fact.as_ref().is_some_and(|fact| fact.id() != correction.original) {
        verdict.value("other_id", "/fact/id", "the corrected fact keeps the id of its original");
        return verdict.into_inner();
    }
    let mut without = fleet.clone();
    without.apply(&recorded.with(Fact::Correction(Correction {
        is_void: true,
        fact: None,
        ..correction.clone()
    })));
    let mut broken: Vec<Broken> =
        fact.map_or_else(Vec::new, |fact| check_by(&without, &fact, recorded.recorded_by, now));
    for rule in &mut broken {
        rule.pointer = format!("/fact{}", rule.pointer);
    }
    let mut with = fleet.clone();
    with.apply(&recorded.with(Fact::Correction(correction.clone())));
    // What did not hold together before, by a role given up or a programme changed, is not this correction's doing.
    let mut before = torn(fleet);
    let mut after = torn(&with);
    // A reading that was wrong is corrected whatever it shows of the cuts made since.
    if matches!(correction.noun, Noun::Repairs | Noun::RepairSteps) {
        before.extend(cut_too_far(fleet));
        after.extend(cut_too_far(&with));
    }
    broken.extend(after.into_iter().filter(|rule| !before.contains(rule)));
    broken
}

/// Cuts of a lead for which nothing was left when they were made.
fn cut_too_far(fleet: &Fleet) -> Vec<Broken> {
    let mut list = Vec::new();
    let mut ask = |half: ComponentId,
                   used_mm: f64,
                   at: Instant,
                   name: &str,
                   without: Option<RepairStepId>| {
        let mut verdict = Verdict::default();
        check_slack(fleet, half, used_mm, at, without, "/fact", &mut verdict);
        if !verdict.into_inner().is_empty() {
            list.push(Broken {
                code: "later_facts_break",
                kind: Kind::Record,
                pointer: "/fact".to_owned(),
                text: format!(
                    "{name} would have cut the lead of {} with no slack left for it: correct what was used, or measure \
                     `lead_slack` again",
                    fleet.component_tag(half)
                ),
            });
        }
    };
    for (id, file) in fleet.repairs() {
        let Some(repair) = file.repair.as_ref().map(|repair| &repair.fact) else { continue };
        let name = repair.tag.as_ref().map_or_else(|| id.to_string(), ToString::to_string);
        // Just before, so that a cut does not stand against itself.
        let just_before = Instant::from_micros(repair.occurred_at.micros().saturating_sub(1));
        if let Some(used_mm) = repair.slack_used_mm {
            repair.components.iter().for_each(|half| ask(*half, used_mm, just_before, &name, None));
        }
        for entry in file.steps.iter().map(|entry| &entry.fact) {
            if let Some(work) = &entry.connector
                && let Some(half) = file.part_of_detail(work.component)
            {
                ask(half, work.slack_used_mm, entry.occurred_at, &name, Some(entry.id));
            }
        }
    }
    list
}

/// Where the record no longer holds together: a part in two places, a position with two parts, a removal
/// without its installation.
fn torn(fleet: &Fleet) -> Vec<Broken> {
    let mut list = Vec::new();
    let mut say = |text: String| {
        list.push(Broken {
            code: "later_facts_break",
            kind: Kind::Record,
            pointer: "/fact".to_owned(),
            text,
        });
    };
    for (id, file) in fleet.components() {
        for removal in file.removals.iter() {
            if file.installations.get(removal.fact.installation.0).is_none() {
                say(format!(
                    "{} would have come off at {} without having been fitted",
                    fleet.component_tag(id),
                    removal.fact.occurred_at
                ));
            }
        }
        if overlaps(file) {
            say(format!("{} would be in two places at once", fleet.component_tag(id)));
        }
    }
    let holders = fleet
        .models()
        .map(|(id, file)| (fleet.model_tag(id), file.occupants.as_slice()))
        .chain(fleet.components().map(|(id, file)| (fleet.component_tag(id), file.occupants.as_slice())));
    for (holder, occupants) in holders {
        for (index, one) in occupants.iter().enumerate() {
            let clash = occupants.iter().skip(index + 1).find(|other| {
                other.span.position == one.span.position && other.span.overlaps(one.span.from, one.span.to)
            });
            if clash.is_some() {
                say(format!("{holder} `{}` would hold two parts at once", one.span.position));
            }
        }
    }
    for text in without_ground(fleet) {
        say(text);
    }
    list
}

/// Facts that rest on another which is not there any more, or which would not be allowed beside what it has become:
/// a release by the second person who now did the work, a closing before its defect was found, a deferral of what now
/// grounds.
fn without_ground(fleet: &Fleet) -> Vec<String> {
    let mut list = Vec::new();
    for (id, _) in fleet.components().filter(|(_, file)| file.component.is_none()) {
        list.push(format!("the component `{id}` would be missing, and other entries speak of it"));
    }
    for (id, file) in fleet.defects() {
        if file.defect.is_none() {
            list.push(format!(
                "the defect `{id}` would be missing, and its deferral, closing or repair speaks of it"
            ));
        }
        for deferral in file.deferrals.iter() {
            let mut verdict = Verdict::default();
            check_kept(fleet, &deferral.fact, Some(signer_of(deferral)), &mut verdict);
            list.extend(verdict.into_inner().into_iter().map(|rule| format!("its deferral: {}", rule.text)));
        }
        for closure in file.closures.iter() {
            let mut verdict = Verdict::default();
            check_closure(fleet, &closure.fact, &mut verdict);
            list.extend(verdict.into_inner().into_iter().map(|rule| format!("its closing: {}", rule.text)));
        }
    }
    for (id, file) in fleet.repairs() {
        if file.repair.is_none() {
            list.push(format!("the repair `{id}` would be missing, and its work or release speaks of it"));
        }
        for entry in file.steps.iter() {
            let started = file.repair.as_ref().map(|repair| repair.fact.occurred_at);
            if started.is_some_and(|started| entry.fact.occurred_at < started) {
                list.push(format!(
                    "work of {} would be done before its repair `{id}` was started",
                    entry.fact.occurred_at
                ));
            }
            if let Some((joiner, SandingLife::Never)) = sanding_life(fleet, &entry.fact) {
                list.push(format!(
                    "{} would have lost more from a face than ever goes",
                    fleet.component_tag(joiner)
                ));
            }
        }
        for given in file.releases.iter() {
            let mut verdict = Verdict::default();
            let releaser = given.fact.released_by.unwrap_or(given.recorded_by);
            release::check(fleet, &given.fact, Some(releaser), &mut verdict);
            list.extend(verdict.into_inner().into_iter().map(|rule| format!("its release: {}", rule.text)));
        }
    }
    for photo in fleet.photos() {
        let mut verdict = Verdict::default();
        photo::check(fleet, &photo.fact, &mut verdict);
        list.extend(verdict.into_inner().into_iter().map(|rule| format!("its photo: {}", rule.text)));
    }
    for (id, _) in fleet.campaign_files() {
        list.extend(rests_on_its_campaign(fleet, id));
    }
    for (id, _) in fleet.loans().filter(|(_, file)| file.loan.is_none()) {
        list.push(format!("the loan `{id}` would be missing, and its return speaks of it"));
    }
    list
}

fn overlaps(file: &ComponentFile) -> bool {
    file.spans.iter().enumerate().any(|(index, one)| {
        one.to.is_some_and(|to| to <= one.from)
            || file.spans.iter().skip(index + 1).any(|other| other.overlaps(one.from, one.to))
    })
}
