//! What the Fleet keeps of one repair: its start, the work done on it, its release; and what the repairs of a part add
//! up to. Whether it may be released is a rule.

use serde::{Deserialize, Serialize};

use super::{Fleet, Timeline};
use crate::{
    facts::{Recorded, Release, Repair, RepairStep, StepTick},
    formulas::{
        cure::{cure, whole_minutes_s},
        joiner::sanding::SandedFaces,
    },
    ids::{ComponentId, LotId, MemberId, RepairStepId},
    time::Instant,
    worksheets::{Worksheet, worksheet},
};

/// A repair, the work on it and its release.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RepairFile {
    /// The repair.
    pub repair: Option<Recorded<Repair>>,
    /// What was done on it.
    pub steps: Timeline<RepairStep>,
    /// Its releases; the first counts.
    pub releases: Timeline<Release>,
}

impl RepairFile {
    /// Whether it had been released by a moment.
    #[must_use]
    pub fn is_released_at(&self, at: Instant) -> bool {
        !self.releases.until(at).is_empty()
    }

    /// Its work sheet.
    #[must_use]
    pub fn worksheet(&self) -> Option<&'static Worksheet> {
        self.repair.as_ref().map(|repair| worksheet(repair.fact.kind))
    }

    /// Whether its work sheet is kept by a moment: from the first tick on. Repairs entered from older papers have none.
    #[must_use]
    pub fn keeps_sheet(&self, at: Instant) -> bool {
        self.steps.until(at).iter().any(|entry| !entry.fact.steps.is_empty())
    }

    /// The end of all cures begun by a moment: what the repair itself says and what each step says, the latest of all.
    #[must_use]
    pub fn cure_until(&self, at: Instant) -> Option<Instant> {
        let sheet = self.worksheet();
        let own = self.repair.as_ref().and_then(|repair| repair.fact.cure_until_at);
        let of_steps = self.steps.until(at).iter().filter_map(|entry| cure_of(sheet, &entry.fact));
        of_steps.chain(own).max()
    }

    /// Second persons who looked at it by a moment, as far as they did none of the work.
    #[must_use]
    pub fn lookers(&self, at: Instant) -> Vec<MemberId> {
        let workers = self.workers(at);
        let looks = self.steps.until(at).iter().filter(|entry| entry.fact.is_second_look);
        let mut list: Vec<MemberId> =
            looks.map(|entry| entry.fact.done_by.unwrap_or(entry.recorded_by)).collect();
        list.sort();
        list.dedup();
        list.retain(|member| !workers.contains(member));
        list
    }

    /// Everybody who worked on it by a moment.
    #[must_use]
    pub fn workers(&self, at: Instant) -> Vec<MemberId> {
        let first = self.repair.iter().map(|repair| repair.fact.done_by.unwrap_or(repair.recorded_by));
        let work = self.steps.until(at).iter().filter(|entry| !entry.fact.is_second_look);
        let more = work.map(|entry| entry.fact.done_by.unwrap_or(entry.recorded_by));
        let mut list: Vec<MemberId> = first.chain(more).collect();
        list.sort();
        list.dedup();
        list
    }

    /// The last tick of a step by a moment, and in which entry it stands.
    #[must_use]
    pub fn tick(&self, number: u32, at: Instant) -> Option<(&Recorded<RepairStep>, &StepTick)> {
        self.steps
            .until(at)
            .iter()
            .rev()
            .find_map(|entry| Some((entry, entry.fact.steps.iter().find(|tick| tick.number == number)?)))
    }

    /// The part that a detail of a step is about: the one it names, else the only part of the repair.
    #[must_use]
    pub fn part_of_detail(&self, named: Option<ComponentId>) -> Option<ComponentId> {
        let parts = &self.repair.as_ref()?.fact.components;
        match named {
            Some(named) => parts.contains(&named).then_some(named),
            None => parts.first().copied().filter(|_| parts.len() == 1),
        }
    }

    /// When the work was over: its last entry, or the end of the last cure.
    #[must_use]
    pub fn worked_until(&self, at: Instant) -> Option<Instant> {
        let started = self.repair.as_ref().map(|repair| repair.fact.occurred_at);
        let work = self.steps.until(at).iter().rev().find(|entry| !entry.fact.is_second_look);
        let last = work.map(|entry| entry.fact.occurred_at);
        started.max(last).max(self.cure_until(at))
    }
}

/// The end of the cure of one step: as stated, else by the table, and never shorter than its sheet asks of a resin
/// that carries.
#[must_use]
pub(crate) fn cure_of(sheet: Option<&Worksheet>, step: &RepairStep) -> Option<Instant> {
    if step.cure_until_at.is_some() {
        return step.cure_until_at;
    }
    let cured = cure(step.resin?, step.temperature_c).ok()?;
    let shortest_h = sheet.and_then(|sheet| sheet.shortest_cure_h).filter(|_| cured.is_for_structure);
    let hours = cured.load_after_h.max(shortest_h.unwrap_or(0.0));
    Some(step.cure_started_at.unwrap_or(step.occurred_at).plus_seconds(whole_minutes_s(hours)))
}

/// Slack of a lead at a moment: what was read, less what was used up since.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slack {
    /// The last reading, mm.
    pub read_mm: f64,
    /// When it was read.
    pub read_at: Instant,
    /// Used up since, mm.
    pub used_mm: f64,
}

impl Slack {
    /// What is left, mm.
    #[must_use]
    pub fn left_mm(self) -> f64 {
        (self.read_mm - self.used_mm).max(0.0)
    }
}

impl Fleet {
    /// The files of all repairs on a part.
    fn repairs_of(&self, component: ComponentId) -> impl Iterator<Item = &RepairFile> {
        let ids = self.component(component).map_or(&[][..], |file| file.repairs.as_slice());
        ids.iter().filter_map(|id| self.repair(*id))
    }

    /// What was sanded from each face of a joiner by a moment, without one entry.
    #[must_use]
    pub fn sanded(&self, component: ComponentId, at: Instant, without: Option<RepairStepId>) -> SandedFaces {
        let mut sum = SandedFaces::default();
        for file in self.repairs_of(component) {
            for entry in file.steps.until(at).iter().filter(|entry| Some(entry.fact.id) != without) {
                if let Some(work) = &entry.fact.joiner
                    && file.part_of_detail(work.component) == Some(component)
                {
                    sum = sum.plus(&work.sanded);
                }
            }
        }
        sum
    }

    /// The slack of a lead at a moment, without one entry; `None` if it was never read.
    #[must_use]
    pub fn lead_slack(
        &self,
        component: ComponentId,
        at: Instant,
        without: Option<RepairStepId>,
    ) -> Option<Slack> {
        let readings = self.component(component)?.measurements.until(at);
        let read = readings.iter().rev().find(|reading| reading.fact.quantity.as_str() == "lead_slack")?;
        let (read_mm, read_at) = (read.fact.values.iter().copied().reduce(f64::min)?, read.fact.occurred_at);
        let used_mm = self.lead_used(component, read_at, at, without);
        Some(Slack { read_mm, read_at, used_mm })
    }

    /// Lead that repairs of a connector half used up after one moment and by another, mm, without one entry.
    #[must_use]
    pub fn lead_used(
        &self,
        component: ComponentId,
        after: Instant,
        by: Instant,
        without: Option<RepairStepId>,
    ) -> f64 {
        let is_between = |when: Instant| after < when && when <= by;
        let mut used_mm = 0.0;
        for file in self.repairs_of(component) {
            let own = file.repair.iter().filter(|repair| is_between(repair.fact.occurred_at));
            used_mm += own.filter_map(|repair| repair.fact.slack_used_mm).sum::<f64>();
            for entry in file.steps.until(by).iter().filter(|entry| Some(entry.fact.id) != without) {
                if let Some(work) = &entry.fact.connector
                    && is_between(entry.fact.occurred_at)
                    && file.part_of_detail(work.component) == Some(component)
                {
                    used_mm += work.slack_used_mm;
                }
            }
        }
        used_mm
    }

    /// What is left of a lot: as it was counted last, less what was used in entries recorded since, without one entry.
    #[must_use]
    pub fn lot_left(&self, lot: LotId, without: Option<RepairStepId>) -> Option<f64> {
        let counted = self.lot(lot)?;
        let entries = self.repairs().flat_map(|(_, file)| file.steps.iter());
        let since =
            entries.filter(|entry| entry.revision > counted.revision && Some(entry.fact.id) != without);
        let used = since.flat_map(|entry| entry.fact.materials.iter()).filter(|used| used.lot == Some(lot));
        Some(counted.fact.quantity - used.filter_map(|used| used.quantity).sum::<f64>())
    }
}
