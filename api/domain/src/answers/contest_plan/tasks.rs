//! Findings of readiness made into tasks, model by model: which steps, in which order, each thing once.

use super::hours::{
    DUSK, FIT_H, PAIRING_H, Stage, TEST_FLIGHT_H, UNKNOWN, WEIGH_H, check_of, steps_of, usual_repair,
};
use super::{NotPlanned, WorkItem};
use crate::answers::Moment;
use crate::answers::compute::PlanTask;
use crate::answers::readiness::{ReadinessFinding, ReadyTask};
use crate::fleet::Fleet;
use crate::time::{Instant, start_of_day};
use crate::words::{CampaignTask, PartKind, RepairKind, Severity};

/// The skill that work on structure asks for.
pub(super) const STRUCTURE: &str = "structure";
/// The longest name of a task.
const LONGEST_NAME: usize = 60;
/// Longer checks are split into days at the bench.
const LONGEST_CHECK_H: f64 = 8.0;

/// Steps that follow each other, in a stage.
struct Chain {
    stage: Stage,
    /// Places of its tasks, first to last.
    tasks: Vec<usize>,
}

/// Tasks in the making.
pub(super) struct Drafts<'a> {
    fleet: &'a Fleet,
    moment: Moment,
    tasks: Vec<PlanTask>,
    work: Vec<WorkItem>,
    not_planned: Vec<NotPlanned>,
}

impl<'a> Drafts<'a> {
    /// None yet.
    pub fn new(fleet: &'a Fleet, moment: Moment) -> Self {
        Self { fleet, moment, tasks: Vec::new(), work: Vec::new(), not_planned: Vec::new() }
    }

    /// What came of it.
    pub fn done(self) -> (Vec<PlanTask>, Vec<WorkItem>, Vec<NotPlanned>) {
        (self.tasks, self.work, self.not_planned)
    }

    /// Findings that no bench can clear.
    pub fn set_apart(&mut self, findings: &[ReadinessFinding]) {
        for found in findings.iter().filter(|found| found.severity != Severity::Watch) {
            let apart = NotPlanned {
                model: found.model.clone(),
                pilot: found.pilot.clone(),
                code: found.code.clone(),
                subject: found.subject.clone(),
                text: found.text.clone(),
                clear_by: found.clear_by.clone(),
            };
            if !self.not_planned.contains(&apart) {
                self.not_planned.push(apart);
            }
        }
    }

    /// The tasks of one model.
    pub fn of_model(&mut self, model: &str, findings: &[ReadinessFinding]) {
        let mut chains: Vec<Chain> = Vec::new();
        // What is worked on already, and what is checked already.
        let mut parts: Vec<&str> = Vec::new();
        let mut checked: Vec<&str> = Vec::new();
        let mut opens_swap = false;
        for found in findings.iter().filter(|found| found.severity != Severity::Watch) {
            match found.task {
                ReadyTask::DoCheck => {
                    // A finding about an item of a group, or a pack of its own, names what the check is on.
                    let on_pack = found.code == "pack_not_serviceable";
                    let (code, name) =
                        if on_pack { ("PK20", found.subject.as_str()) } else { (found.subject.as_str(), "") };
                    if on_pack || !checked.contains(&code) {
                        checked.push(code);
                        chains.push(self.check(model, code, name, found));
                    }
                }
                ReadyTask::ClearDefect | ReadyTask::SwapPart | ReadyTask::DoCampaignWork => {
                    let new: Vec<&str> =
                        found.parts.iter().map(String::as_str).filter(|part| !parts.contains(part)).collect();
                    let is_done = new.is_empty() && !found.parts.is_empty();
                    if !is_done && found.task == ReadyTask::DoCampaignWork && !self.replaces(&found.subject) {
                        let text = "measure and look, as the campaign asks";
                        chains.push(self.plain(model, Stage::Look, text, 0.5, found));
                    } else if !is_done {
                        parts.extend(&new);
                        opens_swap = true;
                        chains.push(self.repair(model, &new, found));
                    }
                }
                ReadyTask::FitPart if found.clear_by.starts_with("fit ") || !found.parts.is_empty() => {
                    opens_swap = true;
                    chains.push(self.plain(model, Stage::Work, "fit what is missing", FIT_H, found));
                }
                ReadyTask::ReleaseRepair => chains.push(self.release(model, found)),
                ReadyTask::AcceptPairing => {
                    chains.push(self.plain(
                        model,
                        Stage::AfterWork,
                        "measure and accept the fit",
                        PAIRING_H,
                        found,
                    ));
                }
                ReadyTask::Weigh => {
                    chains.push(self.plain(model, Stage::Check, "weigh, CG", WEIGH_H, found));
                }
                ReadyTask::FitPart
                | ReadyTask::SettleLoan
                | ReadyTask::SettleClaim
                | ReadyTask::RenewPermission
                | ReadyTask::AcceptPart
                | ReadyTask::ConfirmClass
                | ReadyTask::MeetClass
                | ReadyTask::BringBack
                | ReadyTask::KnowOf => self.set_apart(std::slice::from_ref(found)),
            }
        }
        let worked = findings.iter().find(|found| {
            matches!(found.task, ReadyTask::ClearDefect | ReadyTask::SwapPart | ReadyTask::DoCampaignWork)
                && found.severity != Severity::Watch
        });
        if let Some(found) = worked.filter(|_| opens_swap) {
            if !checked.contains(&"SW") {
                chains.push(self.check(model, "SW", "", found));
            }
            let mut flight =
                self.plain(model, Stage::TestFlight, "test flight and post-flight", TEST_FLIGHT_H, found);
            if let Some(task) =
                flight.tasks.pop().and_then(|place| self.tasks.get_mut(place).map(|task| (place, task)))
            {
                task.1.until = Some(DUSK.to_owned());
                flight.tasks.push(task.0);
            }
            chains.push(flight);
        }
        self.join(&chains);
    }

    /// Each stage waits for the one before it.
    fn join(&mut self, chains: &[Chain]) {
        let mut stages: Vec<Stage> = chains.iter().map(|chain| chain.stage).collect();
        stages.sort_unstable();
        stages.dedup();
        for pair in stages.windows(2) {
            let [early, late] = pair else { continue };
            let firsts: Vec<String> = chains
                .iter()
                .filter(|chain| chain.stage == *late)
                .filter_map(|chain| chain.tasks.first())
                .filter_map(|place| self.tasks.get(*place).map(|task| task.task.clone()))
                .collect();
            for place in
                chains.iter().filter(|chain| chain.stage == *early).filter_map(|chain| chain.tasks.last())
            {
                if let Some(task) = self.tasks.get_mut(*place) {
                    task.before.extend(firsts.iter().cloned());
                }
            }
        }
    }

    fn check(&mut self, model: &str, code: &str, on: &str, found: &ReadinessFinding) -> Chain {
        let (hours, people, stage) = check_of(code);
        let days = (hours / LONGEST_CHECK_H).ceil().max(1.0);
        let mut left = hours;
        let mut tasks = Vec::new();
        while left > 0.0 {
            let text = if days > 1.0 { format!("{code}, day {}", tasks.len() + 1) } else { code.to_owned() };
            let text = if on.is_empty() { text } else { format!("{text} of {on}") };
            let place = self.add(model, &text, &found.text, left.min(LONGEST_CHECK_H), found);
            if let Some(task) = self.tasks.get_mut(place) {
                task.people = people;
                task.not_before_at = found.not_before_on.map(|day| start_of_day(day, self.fleet.club().zone));
            }
            tasks.push(place);
            left -= LONGEST_CHECK_H;
        }
        self.follow(&tasks);
        Chain { stage, tasks }
    }

    fn plain(
        &mut self,
        model: &str,
        stage: Stage,
        text: &str,
        hours: f64,
        found: &ReadinessFinding,
    ) -> Chain {
        let name =
            if stage == Stage::TestFlight { text.to_owned() } else { format!("{} {text}", found.subject) };
        let place = self.add(model, &name, text, hours, found);
        Chain { stage, tasks: vec![place] }
    }

    fn repair(&mut self, model: &str, parts: &[&str], found: &ReadinessFinding) -> Chain {
        let kind = parts.first().and_then(|part| self.kind_of(part)).and_then(usual_repair);
        let steps = kind.map_or(UNKNOWN, steps_of);
        let is_structure = matches!(
            kind,
            Some(RepairKind::JoinerLoose | RepairKind::BoomOrFuselage | RepairKind::SparOrSocket)
        );
        let further = u32::try_from(parts.len().saturating_sub(1)).unwrap_or_default();
        let on = if parts.is_empty() { found.subject.clone() } else { parts.join(" ") };
        let tasks: Vec<usize> = steps
            .iter()
            .map(|step| {
                let hours = step.first_h + f64::from(further) * step.further_h;
                let place = self.add(
                    model,
                    &format!("{} {}", found.subject, step.text),
                    &format!("{}: {on}", step.text),
                    hours,
                    found,
                );
                if let Some(task) = self.tasks.get_mut(place) {
                    task.cure_h = step.cure_h;
                    task.skills = is_structure.then(|| STRUCTURE.to_owned()).into_iter().collect();
                }
                place
            })
            .collect();
        self.follow(&tasks);
        Chain { stage: Stage::Work, tasks }
    }

    /// The check after a repair and its release, once it has cured.
    fn release(&mut self, model: &str, found: &ReadinessFinding) -> Chain {
        let (hours, people, stage) = check_of("RP");
        let place =
            self.add(model, &format!("{} check and release", found.subject), &found.text, hours, found);
        let cured_at = self.cured_at(&found.subject);
        let zone = self.fleet.club().zone;
        if let Some(task) = self.tasks.get_mut(place) {
            task.people = people;
            task.not_before_at = cured_at.or_else(|| found.not_before_on.map(|day| start_of_day(day, zone)));
        }
        Chain { stage, tasks: vec![place] }
    }

    fn add(&mut self, model: &str, name: &str, what: &str, hours: f64, found: &ReadinessFinding) -> usize {
        let base: String = format!("{model} {name}").chars().take(LONGEST_NAME - 4).collect();
        let is_taken = |name: &str| self.tasks.iter().any(|task| task.task == name);
        let numbered = (2..1000).map(|number| format!("{base} {number}"));
        let task = std::iter::once(base.clone()).chain(numbered).find(|name| !is_taken(name)).unwrap_or(base);
        self.work.push(WorkItem {
            task: task.clone(),
            model: model.to_owned(),
            code: found.code.clone(),
            subject: found.subject.clone(),
            text: found.text.clone(),
        });
        self.tasks.push(PlanTask {
            task,
            what: what.to_owned(),
            hours,
            cure_h: 0.0,
            before: Vec::new(),
            people: 1,
            skills: Vec::new(),
            tools: Vec::new(),
            from: None,
            until: None,
            not_before_at: None,
            done_by_at: None,
            can_drop: found.severity == Severity::Restrict,
            or_buy: None,
        });
        self.tasks.len() - 1
    }

    /// Each of these waits for the one before it.
    fn follow(&mut self, tasks: &[usize]) {
        for (early, late) in tasks.iter().zip(tasks.iter().skip(1)) {
            let Some(next) = self.tasks.get(*late).map(|task| task.task.clone()) else { continue };
            if let Some(task) = self.tasks.get_mut(*early) {
                task.before.push(next);
            }
        }
    }

    fn kind_of(&self, part: &str) -> Option<PartKind> {
        let known = self
            .fleet
            .components()
            .find(|(_, file)| file.component.as_ref().is_some_and(|data| data.fact.tag.as_str() == part));
        known.and_then(|(id, _)| self.fleet.part_of(id)).map(|part| part.kind)
    }

    /// Whether a campaign replaces parts.
    fn replaces(&self, campaign: &str) -> bool {
        self.fleet.campaigns().any(|(_, known)| {
            known.fact.tag.as_ref().is_some_and(|tag| tag.as_str() == campaign)
                && known.fact.actions.iter().any(|action| action.task == CampaignTask::Replace)
        })
    }

    fn cured_at(&self, repair: &str) -> Option<Instant> {
        let known = self.fleet.repairs().find(|(_, file)| {
            let tag = file.repair.as_ref().and_then(|repair| repair.fact.tag.as_ref());
            tag.is_some_and(|tag| tag.as_str() == repair)
        });
        known.and_then(|(_, file)| file.cure_until(self.moment.as_of))
    }
}
