//! One club of hundreds of models: the same laws as on small ones, at the size at which they matter.

use std::collections::{BTreeMap, BTreeSet};

use preen_domain::{
    answers::{Moment, may_fly, repeat_defects},
    facts::{Fact, Inside, Noun, Recorded},
    fleet::Fleet,
    ids::{ComponentId, ModelId},
    time::day_of,
};

use crate::{
    compare::differences_among,
    history::{History, Roll, arrive},
    slow::Book,
    world::{self, Extent},
};

/// What is in a large history, counted from its facts alone.
#[derive(Debug, Default)]
pub struct Size {
    pub models: usize,
    pub parts: usize,
    pub facts: usize,
    pub happened: BTreeMap<Noun, usize>,
    /// Parts inside parts that came into another model than their first, with a panel or by themselves.
    pub nested_moves: usize,
    /// Facts recorded after another one that happened more than a day later.
    pub late_entries: usize,
    pub re_terminations: usize,
}

impl Size {
    /// Counts.
    pub fn of<'a>(facts: impl Iterator<Item = &'a Recorded<Fact>>) -> Self {
        let mut size = Self::default();
        let mut newest = None;
        let mut models = BTreeSet::new();
        let mut inside: BTreeMap<ComponentId, BTreeSet<Inside>> = BTreeMap::new();
        for recorded in facts {
            size.facts += 1;
            *size.happened.entry(recorded.fact.noun()).or_default() += 1;
            if let Some(at) = recorded.fact.occurred_at() {
                size.late_entries +=
                    usize::from(newest.is_some_and(|newest| at.plus_seconds(86_400) < newest));
                newest = newest.max(Some(at));
            }
            match &recorded.fact {
                Fact::Model(model) => drop(models.insert(model.id)),
                Fact::Component(_) => size.parts += 1,
                Fact::Installation(fitted) => {
                    inside.entry(fitted.component).or_default().insert(fitted.inside);
                }
                Fact::Repair(repair) if repair.kind.as_str() == "R3" => size.re_terminations += 1,
                _ => {}
            }
        }
        let is_nested = |places: &&BTreeSet<Inside>| {
            places.len() > 1 && places.iter().any(|place| matches!(place, Inside::Component(_)))
        };
        size.models = models.len();
        size.nested_moves = inside.values().filter(is_nested).count();
        size
    }

    /// How many facts of a noun there are.
    pub fn count(&self, noun: Noun) -> usize {
        self.happened.get(&noun).copied().unwrap_or(0)
    }

    /// Fails where a history is not worth judging.
    pub fn is_worth_judging(&self) {
        println!("{self:?}");
        assert!(self.models >= 200 && self.parts >= 1_500 && self.facts >= 5_000, "{self:?}");
        assert!(self.nested_moves >= 30 && self.late_entries >= 200, "{self:?}");
        assert!(self.re_terminations >= 4 && self.count(Noun::Corrections) >= 40, "{self:?}");
        assert!(self.count(Noun::Loans) >= 10 && self.count(Noun::LoanReturns) >= 4, "{self:?}");
        assert!(self.count(Noun::Defects) >= 40 && self.count(Noun::Deferrals) >= 8, "{self:?}");
        assert!(self.count(Noun::Campaigns) >= 3 && self.count(Noun::Removals) >= 150, "{self:?}");
    }
}

/// How many times larger than in every run.
pub fn times() -> u32 {
    let times = std::env::var_os("PREEN_HISTORIES");
    times.and_then(|times| times.to_str()?.parse().ok()).unwrap_or(1)
}

/// A few of all models and of all parts: those to which most happened, and some others.
pub fn a_few(fleet: &Fleet, facts: &[Recorded<Fact>], roll: &mut Roll) -> (Vec<ModelId>, Vec<ComponentId>) {
    let mut happened: BTreeMap<ModelId, usize> = BTreeMap::new();
    for recorded in facts {
        let model = match &recorded.fact {
            Fact::Flight(flight) => Some(flight.model),
            Fact::Defect(defect) => Some(defect.model),
            Fact::Repair(repair) => Some(repair.model),
            Fact::Event(event) => Some(event.model),
            _ => None,
        };
        *happened.entry(model.unwrap_or(world::model(0))).or_default() += 1;
    }
    let mut models: Vec<(usize, ModelId)> =
        happened.into_iter().map(|(model, count)| (count, model)).collect();
    models.sort();
    let mut models: Vec<ModelId> = models.into_iter().rev().take(24).map(|(_, model)| model).collect();
    let all: Vec<ModelId> = fleet.models().map(|(id, _)| id).collect();
    models.extend((0..12).filter_map(|_| roll.pick(&all)));
    models.sort();
    models.dedup();
    let moved: Vec<ComponentId> =
        fleet.components().filter(|(_, file)| file.spans.len() > 1).map(|(id, _)| id).collect();
    let all: Vec<ComponentId> = fleet.components().map(|(id, _)| id).collect();
    let mut parts: Vec<ComponentId> = (0..120).filter_map(|_| roll.pick(&moved)).collect();
    parts.extend((0..30).filter_map(|_| roll.pick(&all)));
    parts.sort();
    parts.dedup();
    (models, parts)
}

#[test]
fn a_club_of_hundreds_of_models_agrees_with_the_slow_evaluator_in_every_order() {
    for number in 0..u64::from(times()) {
        let history = History::large(Extent { groups: 24, more: 116 }, 2_000, number);
        Size::of(history.facts.iter()).is_worth_judging();

        let mut roll = Roll(number);
        let mut facts: Vec<&Recorded<Fact>> = history.facts.iter().chain(&history.facts).collect();
        roll.shuffle(&mut facts);
        assert!(arrive(facts) == history.fleet, "another order, and each fact twice");

        let zone = history.fleet.club().zone;
        let book = Book::read(&history.facts, zone);
        let past = world::start().plus_seconds(history.cursor.seconds_since(world::start()) * 2 / 3);
        let moments = [
            Moment::today(&history.fleet, history.cursor),
            Moment { as_of: past, on: day_of(past, zone), pilot: Some(world::member(1)) },
        ];
        let (models, parts) = a_few(&history.fleet, &history.facts, &mut roll);
        let found = differences_among(&history.fleet, &book, &moments, &models, &parts);
        crate::expect_none(&found);

        let suggested = repeat_defects(&history.fleet, moments[0]);
        let suggested = suggested.iter().filter(|finding| finding.code == "campaign_suggested").count();
        println!("{suggested} campaigns suggested");

        let board = may_fly(&history.fleet, moments[0]);
        let flying = board.models.iter().filter(|model| model.may_fly).count();
        println!("{flying} of {} models may fly", board.models.len());
        assert!(board.models.len() >= 200 && suggested > 0, "{suggested}");
        assert!(flying < board.models.len(), "{flying}");
    }
}
