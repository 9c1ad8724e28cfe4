//! How long parts of a type last in the club's own record, per kind of position, batch against batch: by failures and
//! by what was measured of their wear. [`exposure`] counts the use, [`ending`] says how each life ended, [`growth`]
//! judges the readings; the statistics are in `formulas::life` and `formulas::trend::rank`.

mod ending;
mod exposure;
mod growth;

pub use ending::{LifeOutcome, PartLifeRow};
pub use growth::{GroupGrowth, GrowthComparison, PartGrowth, WearGrowth};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::lifetime::{
    GroupComparison, GroupLife, LIFE_METHOD, LifeTerms, compare_groups, judge_group, pairs,
};
use crate::fleet::{ComponentFile, Fleet};
use crate::formulas::life::Life;
use crate::formulas::life::kaplan_meier::BoundScale;
use crate::ids::PartId;
use crate::text::Tag;
use crate::time::Instant;
use crate::words::{Counter, PartKind};

use ending::{PartEnd, ends_of};
use exposure::Exposure;

/// Which parts are asked about, and how their use is counted.
#[derive(Debug, Clone, PartialEq)]
pub struct PartLifeQuestion {
    /// The part type.
    pub part: PartId,
    /// Batches, in the order to be shown; empty: every batch that was in use.
    pub batches: Vec<Tag>,
    /// Only this kind of position; `None`: every kind, each by itself.
    pub position_kind: Option<String>,
    /// What is counted: flights, launches, time in the air, motor time, rigging cycles, or the charges of a pack.
    pub counter: Counter,
    /// Only wear of this quantity; `None`: every quantity that has limits.
    pub quantity: Option<String>,
    /// What the quantity reads on a new part; `None`: the best reading of a part before its first use.
    pub as_new: Option<f64>,
    /// Two-sided confidence of all bounds.
    pub confidence: f64,
}

/// How long the parts last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PartLife {
    /// Tag of the part type.
    pub part: String,
    /// What is counted.
    pub counter: Counter,
    /// Unit of all ages and exposures.
    pub unit: String,
    /// Two-sided confidence of all bounds.
    pub confidence: f64,
    /// Kind of position by kind of position: a part wears differently in each.
    pub kinds: Vec<KindLife>,
    /// How it was computed.
    pub method: String,
}

/// How long the parts last in one kind of position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct KindLife {
    /// The kind of position.
    pub position_kind: String,
    /// Batch by batch.
    pub groups: Vec<GroupLife>,
    /// Batch against batch by failures; none for more than six batches.
    pub comparisons: Vec<GroupComparison>,
    /// Batch by batch and batch against batch by measured wear, quantity by quantity.
    pub wear: Vec<WearGrowth>,
    /// Part by part, in order of batches and tags.
    pub parts: Vec<PartLifeRow>,
    /// What to keep in mind.
    pub notes: Vec<String>,
}

/// Parts that belong to no batch form a group of this name.
pub const NO_BATCH: &str = "no batch";

/// Unit of a counter for lives.
#[must_use]
pub const fn life_unit(counter: Counter) -> &'static str {
    match counter {
        Counter::Flights => "flights",
        Counter::Launches => "launches",
        Counter::AirtimeH => "h",
        Counter::MotorS => "motor s",
        Counter::Riggings | Counter::Matings => "riggings",
        Counter::Charges => "charges",
    }
}

/// Says how long parts of a type last, by what had happened until a moment.
///
/// A life is the use in positions of one kind. It ends by failure when the part came off as failed or over its limit,
/// was scrapped after it came off on suspicion, or a reading reached the ground limit (then somewhere since the last
/// reading that did not). Running parts and parts taken off for any other reason are censored. A stated earlier life
/// is a late entry, and so is the life of a part that was fitted again after a failure. Charges of a pack count for the
/// kind of position in which it sat then, or last before, or first.
///
/// `None` when there is no such part type, or one that is never charged is asked about by charges.
#[must_use]
pub fn part_life(fleet: &Fleet, question: &PartLifeQuestion, as_of: Instant) -> Option<PartLife> {
    let unit = life_unit(question.counter);
    let part = &fleet.part(question.part)?.fact;
    if question.counter == Counter::Charges && part.kind != PartKind::Pack {
        return None;
    }
    let exposures: Vec<Exposure<'_>> = fleet
        .components()
        .filter(|(_, file)| file.component.as_ref().is_some_and(|data| data.fact.part == question.part))
        .filter_map(|(id, file)| Exposure::of(fleet, id, file, question.counter, as_of))
        .collect();
    let mut kinds: Vec<&str> = exposures
        .iter()
        .flat_map(Exposure::kinds)
        .filter(|kind| question.position_kind.as_deref().is_none_or(|asked| asked == *kind))
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    let kinds = kinds.into_iter().map(|kind| kind_life(fleet, question, &exposures, kind, unit)).collect();
    Some(PartLife {
        part: part.tag.to_string(),
        counter: question.counter,
        unit: unit.to_owned(),
        confidence: question.confidence,
        kinds,
        method: LIFE_METHOD.to_owned(),
    })
}

/// Failures of a part type in one kind of position, all batches together, and the flights in which they were seen.
pub(crate) fn failures_seen(fleet: &Fleet, part: PartId, kind: &str, as_of: Instant) -> (u32, f64) {
    let of_part = |file: &ComponentFile| file.component.as_ref().is_some_and(|data| data.fact.part == part);
    let lives = fleet
        .components()
        .filter(|(_, file)| of_part(file))
        .filter_map(|(id, file)| Exposure::of(fleet, id, file, Counter::Flights, as_of))
        .filter(|exposure| exposure.was_at(kind))
        .flat_map(|exposure| ends_of(fleet, &exposure, kind))
        .filter_map(|end| end.life);
    lives.fold((0, 0.0), |(failures, flights), life| {
        (failures + u32::from(life.is_failure()), flights + life.exposure())
    })
}

/// The parts of one batch in one kind of position.
struct Batch<'a> {
    name: String,
    parts: Vec<(&'a Exposure<'a>, PartEnd)>,
}

impl Batch<'_> {
    fn lives(&self) -> Vec<Life> {
        self.parts.iter().filter_map(|(_, end)| end.life).collect()
    }
}

fn kind_life(
    fleet: &Fleet,
    question: &PartLifeQuestion,
    exposures: &[Exposure<'_>],
    kind: &str,
    unit: &str,
) -> KindLife {
    let seated: Vec<&Exposure<'_>> = exposures.iter().filter(|exposure| exposure.was_at(kind)).collect();
    let mut names: Vec<String> = if question.batches.is_empty() {
        let mut all: Vec<String> = seated.iter().map(|exposure| batch_of(exposure)).collect();
        all.sort();
        all
    } else {
        question.batches.iter().map(ToString::to_string).collect()
    };
    names.dedup();
    let batches: Vec<Batch<'_>> = names
        .into_iter()
        .map(|name| {
            let mut parts: Vec<(&Exposure<'_>, PartEnd)> = seated
                .iter()
                .filter(|exposure| batch_of(exposure) == name)
                .flat_map(|exposure| ends_of(fleet, exposure, kind).into_iter().map(|end| (*exposure, end)))
                .collect();
            parts.sort_by(|a, b| (&a.1.row.component, a.1.row.life).cmp(&(&b.1.row.component, b.1.row.life)));
            Batch { name, parts }
        })
        .collect();
    let terms = LifeTerms {
        confidence: question.confidence,
        scale: BoundScale::LogLog,
        ages: &[],
        stretches: &[],
        unit,
    };
    let judged: Vec<(GroupLife, Vec<Life>)> = batches
        .iter()
        .filter_map(|batch| {
            let lives = batch.lives();
            judge_group(&batch.name, &lives, &terms).ok().map(|group| (group, lives))
        })
        .collect();
    let comparisons = pairs(&judged).map(|(a, b)| compare_groups((&a.0, &a.1), (&b.0, &b.1))).collect();
    let wear = growth::wear(fleet, question, exposures, &batches, kind, unit);
    let notes = notes(&batches, kind, question.counter);
    KindLife {
        position_kind: kind.to_owned(),
        groups: judged.into_iter().map(|(group, _)| group).collect(),
        comparisons,
        wear,
        parts: batches
            .into_iter()
            .flat_map(|batch| batch.parts.into_iter().map(|(_, end)| end.row))
            .collect(),
        notes,
    }
}

fn batch_of(exposure: &Exposure<'_>) -> String {
    exposure.data.batch.as_ref().map_or_else(|| NO_BATCH.to_owned(), ToString::to_string)
}

fn notes(batches: &[Batch<'_>], kind: &str, counter: Counter) -> Vec<String> {
    let mut notes = Vec::new();
    let mut parts = batches.iter().flat_map(|batch| &batch.parts);
    if counter == Counter::Charges && parts.all(|(exposure, _)| exposure.file.charges.is_empty()) {
        notes.push("no charge was ever logged: ask by flights instead".to_owned());
    }
    for batch in batches.iter().filter(|batch| batch.parts.is_empty()) {
        notes.push(format!("no part of batch {} ever sat in a position for a {kind}", batch.name));
    }
    let all = || batches.iter().flat_map(|batch| &batch.parts).filter(|(_, end)| end.row.life == 1);
    let mut say = |count: usize, one: &str, many: &str| match count {
        0 => {}
        1 => notes.push(format!("1 part {one}")),
        more => notes.push(format!("{more} parts {many}")),
    };
    say(
        all().filter(|(exposure, _)| exposure.is_from_before_the_record(kind)).count(),
        "was in place when the record began, without a stated earlier life: its age counts from there",
        "were in place when the record began, without a stated earlier life: their ages count from there",
    );
    say(
        all().filter(|(exposure, end)| end.row.entered > 0.0 && exposure.is_opening_a_guess()).count(),
        "enters with an earlier life that is a guess",
        "enter with earlier lives that are guesses",
    );
    let again = batches.iter().flat_map(|batch| &batch.parts).filter(|(_, end)| end.row.life > 1).count();
    say(
        again,
        "was fitted again after a failure: its next life enters at the age at which it failed",
        "were fitted again after a failure: their next lives enter at the age at which they failed",
    );
    say(
        all().filter(|(_, end)| end.life.is_none()).count(),
        "was not used there yet and counts for nothing",
        "were not used there yet and count for nothing",
    );
    notes
}
