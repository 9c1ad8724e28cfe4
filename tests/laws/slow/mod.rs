//! An independent, slow evaluator: plain loops over the list of recorded facts, for comparison.
//!
//! It shares the shapes of facts, ids and the calendar with the product, and nothing else: no Fleet, no rules, no
//! answers, no formulas. Every question walks the whole list again. Limits of the club are not looked at here.

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

use chrono::NaiveDate;
use chrono_tz::Tz;
use preen_domain::{
    facts::{Component, Correction, Design, Fact, Model, Part, Programme, Recorded},
    ids::{ComponentId, MemberId, ModelId, PartId},
    time::Instant,
};

/// The recorded facts of one club with corrections carried out.
pub struct Book {
    pub facts: Vec<Recorded<Fact>>,
    pub zone: Tz,
    /// Every stay of a component in a position.
    pub stays: Vec<places::Stay>,
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
        $book.facts.iter().filter_map(|recorded| match &recorded.fact {
            preen_domain::facts::Fact::$kind(fact) => Some(fact),
            _ => None,
        })
    };
}
pub(crate) use each;

impl Book {
    /// Reads the list: a fact given twice counts once, the last correction of a fact stands for it.
    pub fn read(list: &[Recorded<Fact>], zone: Tz) -> Self {
        let mut facts: Vec<Recorded<Fact>> = Vec::new();
        for recorded in list {
            if matches!(recorded.fact, Fact::Correction(_)) {
                continue;
            }
            let is_known = facts.iter().any(|known| {
                known.fact.id() == recorded.fact.id()
                    && known.fact.noun() == recorded.fact.noun()
                    && (!recorded.fact.noun().is_master_data() || known.revision == recorded.revision)
            });
            if !is_known {
                facts.push(recorded.clone());
            }
        }
        let mut corrected = Vec::new();
        for recorded in facts {
            match last_correction(list, &recorded) {
                None => corrected.push(recorded),
                Some(correction) if correction.is_void => {}
                Some(correction) => {
                    let json = correction.fact.clone().unwrap();
                    let fact = Fact::from_json(correction.noun, json).unwrap();
                    corrected.push(Recorded { fact, ..recorded });
                }
            }
        }
        let mut book = Self { facts: corrected, zone, stays: Vec::new() };
        book.stays = places::stays(&book);
        book
    }

    pub fn design(&self, id: preen_domain::ids::DesignId) -> Option<&Design> {
        self.newest(|fact| match fact {
            Fact::Design(design) if design.id == id => Some(design),
            _ => None,
        })
    }

    pub fn model(&self, id: ModelId) -> &Model {
        self.newest(|fact| match fact {
            Fact::Model(model) if model.id == id => Some(model),
            _ => None,
        })
        .unwrap()
    }

    pub fn part(&self, id: PartId) -> &Part {
        self.newest(|fact| match fact {
            Fact::Part(part) if part.id == id => Some(part),
            _ => None,
        })
        .unwrap()
    }

    pub fn component(&self, id: ComponentId) -> &Component {
        each!(self, Component).find(|component| component.id == id).unwrap()
    }

    /// The newest version of something, of which `pick` knows the versions.
    fn newest<'a, T>(&'a self, pick: impl Fn(&'a Fact) -> Option<&'a T>) -> Option<&'a T> {
        let mut best: Option<(i64, &T)> = None;
        for recorded in &self.facts {
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
        for recorded in &self.facts {
            let Fact::Programme(programme) = &recorded.fact else { continue };
            let is_outdated = self.facts.iter().any(|other| {
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
        self.newest(|fact| match fact {
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

    /// All components.
    pub fn components(&self) -> Vec<ComponentId> {
        each!(self, Component).map(|component| component.id).collect()
    }
}

fn last_correction<'a>(list: &'a [Recorded<Fact>], original: &Recorded<Fact>) -> Option<&'a Correction> {
    let mut last: Option<(i64, &Correction)> = None;
    for recorded in list {
        if let Fact::Correction(correction) = &recorded.fact
            && correction.original == original.fact.id()
            && correction.noun == original.fact.noun()
            && last.is_none_or(|(revision, known)| (recorded.revision, correction.id) > (revision, known.id))
        {
            last = Some((recorded.revision, correction));
        }
    }
    last.map(|(_, correction)| correction)
}
