//! The answers against the slow evaluator, question by question.

use chrono::Days;
use preen_domain::{
    answers::{
        Ahead, CampaignProgress, ComponentUsage, DueItem, Findings, ModelVerdict, Moment, campaign_progress,
        component_usage, defect_standing, due_of_model, findings, may_fly_one, model_readiness, model_usage,
        repeat_defects,
    },
    facts::{Fact, Recorded},
    fleet::Fleet,
    ids::{ComponentId, ModelId},
    time::Instant,
};

use crate::slow::{
    Asked, Book, audit, campaigns, checks, defects, each, findings as slow_findings, readiness, usage,
    verdict::{self, Reason},
};

/// Every difference between the answers and the slow evaluator, for all models and components.
pub fn differences(fleet: &Fleet, book: &Book, moments: &[Moment]) -> Vec<String> {
    differences_among(fleet, book, moments, &book.models(), &book.components())
}

/// The same with some of the models and components alone; defects, campaigns and the audit are always those of all.
pub fn differences_among(
    fleet: &Fleet,
    book: &Book,
    moments: &[Moment],
    models: &[ModelId],
    components: &[ComponentId],
) -> Vec<String> {
    let mut list = Vec::new();
    let mut as_ofs: Vec<Instant> = moments.iter().map(|moment| moment.as_of).collect();
    as_ofs.sort();
    as_ofs.dedup();
    for as_of in as_ofs {
        usage_differences(fleet, book, as_of, (models, components), &mut list);
    }
    for moment in moments {
        let mut fast: Vec<String> = repeat_defects(fleet, *moment)
            .into_iter()
            .filter(|finding| finding.code == "defect_repeats")
            .map(|finding| finding.subject)
            .collect();
        fast.sort();
        let slow = defects::came_back(book, moment.as_of);
        if fast != slow {
            list.push(format!("{}: came back {fast:?}, slow {slow:?}", moment.as_of));
        }
        standing_differences(fleet, book, *moment, &mut list);
        campaign_differences(fleet, book, *moment, &mut list);
        findings_difference(fleet, book, *moment, &mut list);
        for model in models.iter().copied() {
            let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
            let tag = fleet.model_tag(model);
            let slow = checks::of_model(book, model, asked);
            let fast = due_of_model(fleet, model, *moment);
            if let Some(text) = due_difference(&fast, &slow) {
                list.push(format!("{tag} {asked:?}: due: {text}"));
            }
            readiness_difference(fleet, book, model, *moment, &mut list);
            let slow = verdict::of_model(book, model, asked);
            let fast = may_fly_one(fleet, model, *moment).unwrap();
            if let Some(text) = verdict_difference(&fast, &slow) {
                list.push(format!("{tag} {asked:?}: {text}"));
            }
        }
    }
    list
}

/// What differs between a verdict and that of the slow evaluator.
pub fn verdict_difference(fast: &ModelVerdict, slow: &verdict::Verdict) -> Option<String> {
    let mut reasons: Vec<Reason> =
        fast.reasons.iter().map(|r| Reason::new(&r.code, r.severity, r.subject.as_str())).collect();
    reasons.sort();
    let number = |value: Option<f64>| value.map(|value| format!("{value:.3}"));
    let mut restrictions: Vec<_> = fast
        .restrictions
        .iter()
        .map(|said| (said.kind, said.source.clone(), number(said.value), said.until_on))
        .collect();
    restrictions.sort();
    let fast = verdict::Verdict {
        state: fast.state,
        may_fly: fast.may_fly,
        max_flights: fast.max_flights,
        flights_left: fast.flights_left,
        restrictions,
        tightest: fast
            .tightest
            .iter()
            .map(|said| (said.kind, number(said.value), said.until_on, said.sources.clone()))
            .collect(),
        reasons,
    };
    (fast != *slow).then(|| format!("verdict\n  fast {fast:?}\n  slow {slow:?}"))
}

/// How every defect stands.
fn standing_differences(fleet: &Fleet, book: &Book, moment: Moment, list: &mut Vec<String>) {
    let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    for defect in each!(book, Defect) {
        let fast = defect_standing(fleet, defect.id, moment);
        if defect.occurred_at > moment.as_of {
            if fast.is_some() {
                list.push(format!("{} {asked:?}: stands before it was found", defect.id));
            }
            continue;
        }
        let fast = fast.unwrap();
        let fast = audit::Standing {
            is_open: fast.is_open,
            severity: fast.severity,
            becomes: fast.becomes,
            limit_on: fast.limit_on,
            flights_left: fast.flights_left,
            deferrals: fast.deferrals.len(),
            can_be_deferred: fast.can_be_deferred,
            may_sign: fast.may_sign,
        };
        let slow = audit::standing(book, defect, asked);
        if fast != slow {
            list.push(format!("{} {asked:?}: standing\n  fast {fast:?}\n  slow {slow:?}", defect.id));
        }
    }
}

/// What falls due before a last round, and what doing it today brings.
fn readiness_difference(fleet: &Fleet, book: &Book, model: ModelId, moment: Moment, list: &mut Vec<String>) {
    let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    let (first_on, last_on) = (moment.on + Days::new(8), moment.on + Days::new(9));
    // Small numbers as well as large ones, so that some due points are just missed.
    let training = u32::try_from(moment.as_of.micros().rem_euclid(4)).unwrap();
    let ahead = Ahead { training, first_on, ..Ahead::of_flights(3, last_on) };
    let coming = readiness::Coming { training: i64::from(training), rounds: 3, first_on, last_on };
    let slow = readiness::of_model(book, model, asked, coming);
    let ready = model_readiness(fleet, model, &ahead, &[], moment).unwrap();
    let mut fast: Vec<readiness::Said> = ready
        .checks
        .iter()
        .map(|check| {
            let again = check.do_early.as_ref().map(|early| early.today.falls_due_again);
            (check.group.clone(), check.falls_due, again)
        })
        .collect();
    let order = |said: &readiness::Said| slow.iter().position(|one| one.0 == said.0);
    fast.sort_by_key(order);
    if fast != slow {
        list.push(format!(
            "{} {asked:?} {coming:?}: readiness\n  fast {fast:?}\n  slow {slow:?}",
            ready.model
        ));
    }
}

fn campaign_differences(fleet: &Fleet, book: &Book, moment: Moment, list: &mut Vec<String>) {
    let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    for campaign in each!(book, Campaign) {
        let fast = campaign_progress(fleet, campaign.id, None, moment);
        if campaign.occurred_at > moment.as_of {
            if fast.is_some() {
                list.push(format!("{} {asked:?}: a campaign before it was opened", campaign.id));
            }
            continue;
        }
        if let Some(text) = progress_difference(&fast.unwrap(), &campaigns::covered(book, campaign, asked)) {
            list.push(format!("{} {asked:?}: {text}", campaign.id));
        }
    }
}

/// What differs between the progress of a campaign and that of the slow evaluator.
pub fn progress_difference(fast: &CampaignProgress, slow: &[campaigns::Covered]) -> Option<String> {
    let said: Vec<campaigns::Covered> = fast
        .targets
        .iter()
        .map(|target| {
            let actions = target.actions.iter().map(|one| (one.standing.as_str(), one.flights_left));
            (target.component.clone(), target.place.as_str(), actions.collect())
        })
        .collect();
    if said != slow {
        return Some(format!("progress\n  fast {said:?}\n  slow {slow:?}"));
    }
    let worst = |word: &str| slow.iter().filter(|(_, _, actions)| worst_of(actions) == word).count();
    let counts = fast.counts;
    let fast = [counts.failed, counts.overdue, counts.open, counts.kept_out, counts.done];
    (fast != ORDER.map(worst) || counts.targets != slow.len())
        .then(|| format!("counts {counts:?}, slow {slow:?}"))
}

/// Words of actions, the worst first.
const ORDER: [&str; 5] = ["failed", "overdue", "open", "kept_out", "done"];

fn worst_of(actions: &[(&'static str, Option<i64>)]) -> &'static str {
    ORDER.into_iter().find(|word| actions.iter().any(|(said, _)| said == word)).unwrap_or("done")
}

/// Flights flown while the model was grounded: of which model, by which subject, how many.
pub fn grounded_flights_difference(fleet: &Fleet, book: &Book, moment: Moment) -> Option<String> {
    let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    let models: Vec<_> =
        book.models().into_iter().filter(|model| !slow_findings::is_gone(book, *model, asked)).collect();
    let by_code = slow_findings::flown_while_grounded(book, &models, asked.as_of);
    let mut slow: Vec<(String, String, usize)> = Vec::new();
    for (of, subject, count) in by_code {
        slow.push((of.split(' ').next().unwrap_or_default().to_owned(), subject, count));
    }
    slow.sort();
    let mut fast: Vec<(String, String, usize)> = findings(fleet, moment)
        .findings
        .into_iter()
        .filter(|found| found.finding.code == "flown_while_grounded")
        .map(|found| (found.model.unwrap_or_default(), found.finding.subject, found.flight_count))
        .collect();
    fast.sort();
    (fast != slow).then(|| format!("{asked:?}: flown while grounded\n  fast {fast:?}\n  slow {slow:?}"))
}

fn findings_difference(fleet: &Fleet, book: &Book, moment: Moment, list: &mut Vec<String>) {
    let asked = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    if let Some(text) = audit_difference(&findings(fleet, moment), &audited(book, asked)) {
        list.push(format!("{asked:?}: {text}"));
    }
}

/// The families of the audit that the slow evaluator knows.
pub fn audited(book: &Book, asked: Asked) -> Vec<Reason> {
    let mut list = slow_findings::all(book, asked);
    list.extend(audit::all(book, asked));
    list.sort();
    list
}

/// What differs between the audit and that of the slow evaluator.
pub fn audit_difference(fast: &Findings, slow: &[Reason]) -> Option<String> {
    let known = |code: &str| slow_findings::CODES.contains(&code) || audit::CODES.contains(&code);
    let mut said: Vec<Reason> = fast
        .findings
        .iter()
        .map(|found| &found.finding)
        .filter(|finding| known(&finding.code))
        .map(|finding| Reason::new(&finding.code, finding.severity, finding.subject.as_str()))
        .collect();
    said.sort();
    let without = |list: &[Reason], other: &[Reason]| -> Vec<Reason> {
        let mut rest = other.to_vec();
        let mut left = Vec::new();
        for one in list {
            match rest.iter().position(|known| known == one) {
                Some(at) => drop(rest.remove(at)),
                None => left.push(one.clone()),
            }
        }
        left
    };
    (said != slow).then(|| {
        format!("findings\n  only fast {:?}\n  only slow {:?}", without(&said, slow), without(slow, &said))
    })
}

fn usage_differences(
    fleet: &Fleet,
    book: &Book,
    as_of: Instant,
    (models, components): (&[ModelId], &[ComponentId]),
    list: &mut Vec<String>,
) {
    for model in models.iter().copied() {
        let fast = model_usage(fleet, model, as_of);
        let slow = usage::of_model(book, model, |at| at <= as_of);
        let same = (fast.flights, fast.launches, fast.motor_s, fast.riggings)
            == (slow.flights, slow.launches, slow.motor_s, slow.riggings);
        if !same || (fast.airtime_h - slow.airtime_min / 60.0).abs() > 0.0501 {
            list.push(format!("{} {as_of}: usage {fast:?}, slow {slow:?}", fast.model));
        }
    }
    for component in components.iter().copied() {
        let fast = component_usage(fleet, component, as_of);
        let slow = usage::of_component(book, component, as_of);
        if let Some(text) = component_difference(&fast, &slow, |model| fleet.model_tag(model)) {
            list.push(format!("{} {as_of}: {text}", fast.component));
        }
    }
}

pub type ByPlace = [((ModelId, String), usage::Used)];

/// What differs between the use of a part and what the slow evaluator counts.
pub fn component_difference(
    fast: &ComponentUsage,
    slow: &ByPlace,
    tag_of: impl Fn(ModelId) -> String,
) -> Option<String> {
    let mut total = usage::Used::default();
    for ((model, path), used) in slow {
        let tag = tag_of(*model);
        let spans = || fast.spans.iter().filter(|span| span.model == tag && span.path == *path);
        let fast_here = (
            spans().map(|span| span.flights).sum::<u64>(),
            spans().map(|span| span.launches).sum::<u64>(),
            spans().map(|span| span.motor_s).sum::<u64>(),
            spans().map(|span| span.riggings).sum::<u64>(),
        );
        if fast_here != (used.flights, used.launches, used.motor_s, used.riggings) {
            return Some(format!("in {tag} {path}: {fast_here:?}, slow {used:?}"));
        }
        total.flights += used.flights;
        total.launches += used.launches;
        total.airtime_min += used.airtime_min;
        total.motor_s += used.motor_s;
        total.riggings += used.riggings;
    }
    let same = (fast.flights, fast.launches, fast.motor_s, fast.riggings)
        == (total.flights, total.launches, total.motor_s, total.riggings)
        && (fast.airtime_h - total.airtime_min / 60.0).abs() <= 0.0501;
    (!same).then(|| format!("in all {fast:?}, slow {total:?}"))
}

/// What differs between what is due and what the slow evaluator says.
pub fn due_difference(fast: &[DueItem], slow: &[checks::Check]) -> Option<String> {
    let codes = |list: &mut dyn Iterator<Item = String>| list.collect::<Vec<String>>().join(" ");
    let fast_codes = codes(&mut fast.iter().map(|item| item.group.clone()));
    let slow_codes = codes(&mut slow.iter().map(|check| check.group.clone()));
    if fast_codes != slow_codes {
        return Some(format!("groups {fast_codes}, slow {slow_codes}"));
    }
    for (fast, slow) in fast.iter().zip(slow) {
        let mut fast_open: Vec<(&str, &str)> =
            fast.opened_by.iter().map(|by| (by.code.as_str(), by.subject.as_str())).collect();
        let mut slow_open: Vec<(&str, &str)> =
            slow.opened_by.iter().map(|(code, subject, _)| (*code, subject.as_str())).collect();
        fast_open.sort_unstable();
        slow_open.sort_unstable();
        let same = fast.state == slow.state
            && fast.done_on == slow.done_on
            && fast.due_on == slow.due_on
            && fast.due_at_count == slow.due_at_count
            && (fast.due_at_count.is_none() || fast.done_at_count == slow.done_at_count)
            && (fast.due_at_count.is_none() || fast.now_at_count == slow.now_at_count)
            && fast_open == slow_open;
        if !same {
            return Some(format!("{}:\n  fast {fast:?}\n  slow {slow:?}", fast.group));
        }
    }
    None
}

/// The list of facts as a Fleet and as a book.
pub fn both(facts: &[Recorded<Fact>], club: preen_domain::fleet::Club) -> (Fleet, Book) {
    let zone = club.zone;
    let mut fleet = Fleet::new(club);
    for fact in facts {
        fleet.apply(fact);
    }
    (fleet, Book::read(facts, zone))
}
