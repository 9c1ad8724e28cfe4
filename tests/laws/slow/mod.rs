//! An independent, slow evaluator: plain loops over the list of recorded facts, for comparison.
//!
//! It shares the shapes of facts, ids and the calendar with the product, and nothing else: no Fleet, no rules, no
//! answers, no formulas. Every question walks the whole list again. Limits of the club are not looked at here.

pub mod audit;
pub mod balance;
pub mod campaigns;
pub mod checks;
pub mod defects;
pub mod findings;
pub mod fits;
pub mod items;
pub mod places;
pub mod readiness;
pub mod readings;
pub mod repairs;
pub mod usage;
pub mod verdict;

use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
};

use chrono::NaiveDate;
use chrono_tz::Tz;
use preen_domain::{
    facts::{Component, Correction, Design, Fact, Inside, Member, Model, Noun, Part, Programme, Recorded},
    ids::{ComponentId, MemberId, ModelId, PartId},
    time::Instant,
};

/// The recorded facts of one club with corrections carried out.
pub struct Book {
    pub facts: Vec<Recorded<Fact>>,
    pub zone: Tz,
    /// Every stay of a component in a position.
    pub stays: Vec<places::Stay>,
    /// Where the stays of a component stand in that list.
    stays_of: BTreeMap<ComponentId, Vec<usize>>,
    /// The same by what they are in.
    stays_in: BTreeMap<Inside, Vec<usize>>,
    carried_at: RefCell<places::CarriedAt>,
    /// Where each component stands in the list of facts.
    components: BTreeMap<ComponentId, usize>,
    /// Where the facts of a noun stand in it.
    kinds: BTreeMap<&'static str, Vec<usize>>,
}

/// What is asked: what had happened by `as_of`, for the club day `on`, by whom.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    pub as_of: Instant,
    pub on: NaiveDate,
    pub pilot: Option<MemberId>,
}

/// All facts of one kind.
macro_rules! each {
    ($book:expr, $kind:ident) => {
        $book.of_noun(<preen_domain::facts::$kind as preen_domain::facts::FactShape>::NOUN).filter_map(
            |recorded| match &recorded.fact {
                preen_domain::facts::Fact::$kind(fact) => Some(fact),
                _ => None,
            },
        )
    };
}
pub(crate) use each;

impl Book {
    /// Reads the list: a fact given twice counts once, the last correction of a fact stands for it.
    pub fn read(list: &[Recorded<Fact>], zone: Tz) -> Self {
        let mut facts: Vec<Recorded<Fact>> = Vec::new();
        let mut known = BTreeSet::new();
        for recorded in list {
            if matches!(recorded.fact, Fact::Correction(_)) {
                continue;
            }
            let noun = recorded.fact.noun();
            let version = if noun.is_master_data() { recorded.revision } else { 0 };
            if known.insert((noun, recorded.fact.id(), version)) {
                facts.push(recorded.clone());
            }
        }
        let corrections: Vec<(i64, MemberId, &Correction)> = list
            .iter()
            .filter_map(|recorded| match &recorded.fact {
                Fact::Correction(correction) => Some((recorded.revision, recorded.recorded_by, correction)),
                _ => None,
            })
            .collect();
        let mut corrected = Vec::new();
        for recorded in facts {
            match last_correction(&corrections, &recorded) {
                None => corrected.push(recorded),
                Some((_, correction)) if correction.is_void => {}
                // What names nobody is signed by who corrects it; the door names who did it.
                Some((recorded_by, correction)) => {
                    let json = correction.fact.clone().unwrap();
                    let fact = Fact::from_json(correction.noun, json).unwrap();
                    corrected.push(Recorded { fact, recorded_by, ..recorded });
                }
            }
        }
        let mut kinds: BTreeMap<&'static str, Vec<usize>> = BTreeMap::new();
        let mut components = BTreeMap::new();
        for (at, recorded) in corrected.iter().enumerate() {
            kinds.entry(recorded.fact.noun().as_str()).or_default().push(at);
            if let Fact::Component(component) = &recorded.fact {
                components.entry(component.id).or_insert(at);
            }
        }
        let mut book = Self {
            facts: corrected,
            zone,
            stays: Vec::new(),
            stays_of: BTreeMap::new(),
            stays_in: BTreeMap::new(),
            carried_at: RefCell::default(),
            components,
            kinds,
        };
        book.stays = places::stays(&book);
        for (at, stay) in book.stays.iter().enumerate() {
            book.stays_of.entry(stay.component).or_default().push(at);
            book.stays_in.entry(stay.inside).or_default().push(at);
        }
        book
    }

    /// The facts of a noun, in the order in which they were recorded.
    pub fn of_noun(&self, noun: Noun) -> impl Iterator<Item = &Recorded<Fact>> {
        self.kinds.get(noun.as_str()).into_iter().flatten().map(|at| &self.facts[*at])
    }

    /// The stays of a component.
    pub fn stays_of(&self, component: ComponentId) -> impl Iterator<Item = &places::Stay> {
        self.stays_of.get(&component).into_iter().flatten().map(|at| &self.stays[*at])
    }

    /// The stays in a holder.
    pub fn stays_in(&self, inside: Inside) -> impl Iterator<Item = &places::Stay> {
        self.stays_in.get(&inside).into_iter().flatten().map(|at| &self.stays[*at])
    }

    pub fn design(&self, id: preen_domain::ids::DesignId) -> Option<&Design> {
        self.newest(Noun::Designs, |fact| match fact {
            Fact::Design(design) if design.id == id => Some(design),
            _ => None,
        })
    }

    pub fn model(&self, id: ModelId) -> &Model {
        self.newest(Noun::Models, |fact| match fact {
            Fact::Model(model) if model.id == id => Some(model),
            _ => None,
        })
        .unwrap()
    }

    pub fn part(&self, id: PartId) -> &Part {
        self.newest(Noun::Parts, |fact| match fact {
            Fact::Part(part) if part.id == id => Some(part),
            _ => None,
        })
        .unwrap()
    }

    pub fn component(&self, id: ComponentId) -> &Component {
        let at = self.components[&id];
        match &self.facts[at].fact {
            Fact::Component(component) => component,
            other => panic!("{other:?} is no component"),
        }
    }

    /// The newest version of something, of which `pick` knows the versions.
    fn newest<'a, T>(&'a self, noun: Noun, pick: impl Fn(&'a Fact) -> Option<&'a T>) -> Option<&'a T> {
        let mut best: Option<(i64, &T)> = None;
        for recorded in self.of_noun(noun) {
            if let Some(found) = pick(&recorded.fact)
                && best.is_none_or(|(revision, _)| recorded.revision > revision)
            {
                best = Some((recorded.revision, found));
            }
        }
        best.map(|(_, found)| found)
    }

    /// The programme of a model: its own, else that of its design, else the general one; the last recorded wins.
    pub fn programme(&self, model: ModelId) -> Option<&Programme> {
        let design = self.model(model).design;
        let mut best: Option<(u8, i64, &Programme)> = None;
        for recorded in self.of_noun(Noun::Programmes) {
            let Fact::Programme(programme) = &recorded.fact else { continue };
            let is_outdated = self.of_noun(Noun::Programmes).any(|other| {
                other.revision > recorded.revision
                    && matches!(&other.fact, Fact::Programme(newer) if newer.id == programme.id)
            });
            if is_outdated || programme.model.is_some_and(|of| of != model) {
                continue;
            }
            if programme.design.is_some_and(|of| of != design) {
                continue;
            }
            let closeness = 2 * u8::from(programme.model.is_some()) + u8::from(programme.design.is_some());
            if best.is_none_or(|(known, revision, _)| (closeness, recorded.revision) > (known, revision)) {
                best = Some((closeness, recorded.revision, programme));
            }
        }
        best.map(|(_, _, programme)| programme)
    }

    /// The newest version of a programme.
    pub fn newest_programme(&self, id: preen_domain::ids::ProgrammeId) -> Option<&Programme> {
        self.newest(Noun::Programmes, |fact| match fact {
            Fact::Programme(programme) if programme.id == id => Some(programme),
            _ => None,
        })
    }

    /// All models, each once.
    pub fn models(&self) -> Vec<ModelId> {
        let mut list: Vec<ModelId> = each!(self, Model).map(|model| model.id).collect();
        list.sort();
        list.dedup();
        list
    }

    /// All members, each as it is known now.
    pub fn members(&self) -> Vec<&Member> {
        let mut list: Vec<(i64, &Member)> = Vec::new();
        for recorded in self.of_noun(Noun::Members) {
            let Fact::Member(member) = &recorded.fact else { continue };
            let newer = list.iter().position(|(_, known)| known.id == member.id);
            match newer {
                Some(at) if list[at].0 < recorded.revision => list[at] = (recorded.revision, member),
                Some(_) => {}
                None => list.push((recorded.revision, member)),
            }
        }
        list.into_iter().map(|(_, member)| member).collect()
    }

    /// All components.
    pub fn components(&self) -> Vec<ComponentId> {
        each!(self, Component).map(|component| component.id).collect()
    }
}

fn last_correction<'a>(
    list: &[(i64, MemberId, &'a Correction)],
    original: &Recorded<Fact>,
) -> Option<(MemberId, &'a Correction)> {
    let mut last: Option<(i64, MemberId, &Correction)> = None;
    for (at, by, correction) in list {
        if correction.original == original.fact.id()
            && correction.noun == original.fact.noun()
            && last.is_none_or(|(revision, _, known)| (*at, correction.id) > (revision, known.id))
        {
            last = Some((*at, *by, correction));
        }
    }
    last.map(|(_, by, correction)| (by, correction))
}
