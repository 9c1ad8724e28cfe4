//! The Fleet: all facts of one club, arranged for answering.
//!
//! It is built by [`Fleet::apply`] from accepted facts in any order with the same result. A clone is cheap
//! and shares everything with its source; applying a fact copies only the files that the fact touches.
//! Nothing here decides whether a fact may be recorded, and nothing here answers a question.

mod carried;
mod check_log;
mod corrections;
mod counters;
mod files;
mod in_force;
mod looked_at;
mod names;
mod photos;
mod places;
mod repair_file;
mod series;
mod size;
pub(crate) mod terms;
mod tight;

pub use check_log::CheckLog;
pub(crate) use check_log::Done;
pub(crate) use counters::Reached;
pub(crate) use counters::seconds_of_minutes;
pub use counters::{FlightLog, FlightRow, Flown, RiggingLog, Usage};
pub use files::{
    CampaignFile, Carried, ComponentFile, DefectFile, LoanFile, ModelFile, Occupant, QuestionFile, Span,
};
pub(crate) use in_force::limits_with;
pub use in_force::{InForce, LimitSource, limits_in_force, limits_of};
pub use names::Names;
pub(crate) use places::MAX_DEPTH;
pub use places::{Fitted, ModelSpan, Place};
pub(crate) use repair_file::cure_of;
pub use repair_file::{RepairFile, Slack};
pub use series::Timeline;

use std::sync::Arc;

use chrono_tz::Tz;
use immutable_chunkmap::map::Map as ChunkedMap;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::{
    facts::{
        Campaign, ClassProfile, ClubLimit, Contest, Correction, Design, Entry, Fact, FactShape, Inside, Lot,
        MatchedSet, Member, Model, Noun, Part, Programme, Recorded, Slug, Subject,
    },
    ids::{
        CampaignId, ClassId, ClubId, ComponentId, ContestId, DefectId, DesignId, EntryId, LimitId, LoanId,
        LotId, MatchedSetId, MemberId, ModelId, PartId, ProgrammeId, QuestionId, RepairId, SlugId,
    },
    text::Tag,
    time::Instant,
};

/// A persistent tree of chunks of entries: a copy costs nothing, a change copies the chunk and the path to it.
type Tree<K, V> = ChunkedMap<K, V, 64>;
type Map<K, V> = Tree<K, Arc<V>>;

/// What is known of the club itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Club {
    /// Its id.
    pub id: ClubId,
    /// Its short name, as in tokens.
    pub tag: Tag,
    /// Its name for people.
    pub title: String,
    /// The time zone in which its days begin and end.
    pub zone: Tz,
}

/// All facts of one club, arranged for answering. Written down by `serde` it is a snapshot for the very same version of
/// this crate, in a format that names fields and takes any key of a map; facts are what is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fleet {
    club: Arc<Club>,
    revision: i64,
    newest_at: Option<Instant>,
    /// Who bears a tag. While facts arrive in no order, one tag may stand for two for a time.
    tags: Tree<(Noun, Tag), Vec<Uuid>>,
    members: Map<MemberId, Recorded<Member>>,
    designs: Map<DesignId, Recorded<Design>>,
    parts: Map<PartId, Recorded<Part>>,
    programmes: Map<ProgrammeId, Recorded<Programme>>,
    models: Map<ModelId, ModelFile>,
    components: Map<ComponentId, ComponentFile>,
    defects: Map<DefectId, DefectFile>,
    repairs: Map<RepairId, RepairFile>,
    loans: Map<LoanId, LoanFile>,
    campaigns: Map<CampaignId, Recorded<Campaign>>,
    campaign_files: Map<CampaignId, CampaignFile>,
    limits: Map<LimitId, Recorded<ClubLimit>>,
    lots: Map<LotId, Recorded<Lot>>,
    slugs: Map<SlugId, Recorded<Slug>>,
    matched_sets: Map<MatchedSetId, Recorded<MatchedSet>>,
    classes: Map<ClassId, Recorded<ClassProfile>>,
    contests: Map<ContestId, Recorded<Contest>>,
    entries: Map<EntryId, Recorded<Entry>>,
    questions: Map<QuestionId, QuestionFile>,
    /// Corrections by the id of the original; the one recorded last counts.
    corrections: Map<Uuid, Recorded<Correction>>,
}

/// The Fleet of a club's facts up to and including a revision, with the names of its items.
#[must_use]
pub fn arrange(club: Club, facts: &[Recorded<Fact>], revision: i64) -> (Fleet, Names) {
    let (mut fleet, mut names) = (Fleet::new(club), Names::default());
    for recorded in facts.iter().filter(|recorded| recorded.revision <= revision) {
        fleet.apply(recorded);
        names.apply(&recorded.fact);
    }
    fleet.reach(revision);
    (fleet, names)
}

/// The entry of a key, made if it is missing, ready to be changed.
fn entry<K: Ord + Copy, V: Clone + Default>(map: &mut Map<K, V>, key: K) -> &mut V {
    Arc::make_mut(map.get_or_default_cow(key))
}

fn push_once<T: Ord + Copy>(list: &mut Vec<T>, item: T) {
    if let Err(place) = list.binary_search(&item) {
        list.insert(place, item);
    }
}

impl Fleet {
    /// The Fleet of a club without any fact.
    #[must_use]
    pub fn new(club: Club) -> Self {
        Self {
            club: Arc::new(club),
            revision: 0,
            newest_at: None,
            tags: Tree::new(),
            members: Map::new(),
            designs: Map::new(),
            parts: Map::new(),
            programmes: Map::new(),
            models: Map::new(),
            components: Map::new(),
            defects: Map::new(),
            repairs: Map::new(),
            loans: Map::new(),
            campaigns: Map::new(),
            campaign_files: Map::new(),
            limits: Map::new(),
            lots: Map::new(),
            slugs: Map::new(),
            matched_sets: Map::new(),
            classes: Map::new(),
            contests: Map::new(),
            entries: Map::new(),
            questions: Map::new(),
            corrections: Map::new(),
        }
    }

    /// Takes in an accepted fact. Order of arrival does not matter; the same id twice counts once.
    pub fn apply(&mut self, recorded: &Recorded<Fact>) {
        self.revision = self.revision.max(recorded.revision);
        self.newest_at = self.newest_at.max(Some(recorded.recorded_at));
        if let Fact::Correction(correction) = &recorded.fact {
            self.correct(&recorded.with(correction.clone()));
        } else if self.corrections.get(&recorded.fact.id()).is_none() {
            self.insert(recorded);
        }
    }

    /// States that everything up to a revision is in, where the last revisions brought no fact.
    pub fn reach(&mut self, revision: i64) {
        self.revision = self.revision.max(revision);
    }

    fn insert(&mut self, recorded: &Recorded<Fact>) {
        match &recorded.fact {
            Fact::Member(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.members);
            }
            Fact::Design(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.designs);
            }
            Fact::Part(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.parts);
            }
            Fact::Programme(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.programmes);
            }
            Fact::ClubLimit(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.limits);
            }
            Fact::Lot(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.lots);
            }
            Fact::Slug(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.slugs);
            }
            Fact::MatchedSet(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.matched_sets);
            }
            Fact::ClassProfile(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.classes);
            }
            Fact::Contest(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.contests);
            }
            Fact::Entry(fact) => {
                self.put_version(recorded.with(fact.clone()), fact.id, |fleet| &mut fleet.entries);
            }
            Fact::Model(fact) => self.put_model(recorded.with(fact.clone())),
            Fact::Component(fact) => {
                self.tag_event(Noun::Components, fact);
                entry(&mut self.components, fact.id).component = Some(recorded.with(fact.clone()));
            }
            Fact::Condition(fact) => {
                entry(&mut self.components, fact.component).conditions.insert(recorded.with(fact.clone()));
            }
            Fact::Installation(fact) => {
                entry(&mut self.components, fact.component).installations.insert(recorded.with(fact.clone()));
                self.reseat(fact.component);
            }
            Fact::Removal(fact) => {
                entry(&mut self.components, fact.component).removals.insert(recorded.with(fact.clone()));
                self.reseat(fact.component);
            }
            Fact::Flight(fact) => {
                entry(&mut self.models, fact.model).put_flight(fact);
            }
            Fact::Rigging(fact) => {
                entry(&mut self.models, fact.model).put_rigging(fact);
            }
            Fact::Inspection(fact) => {
                if let Some(model) = fact.model {
                    entry(&mut self.models, model).put_check(recorded.with(fact.clone()), self.club.zone);
                }
                if let Some(component) = fact.component {
                    entry(&mut self.components, component).inspections.insert(recorded.with(fact.clone()));
                }
                for named in fact.items.iter().filter_map(|item| item.component) {
                    entry(&mut self.components, named).named_in_checks.insert(recorded.with(fact.clone()));
                }
            }
            Fact::Measurement(fact) => match fact.subject {
                Subject::Model(model) => {
                    entry(&mut self.models, model).measurements.insert(recorded.with(fact.clone()));
                }
                Subject::Component(component) => {
                    entry(&mut self.components, component).measurements.insert(recorded.with(fact.clone()));
                }
            },
            Fact::Weighing(fact) => {
                entry(&mut self.models, fact.model).weighings.insert(recorded.with(fact.clone()));
            }
            Fact::Defect(fact) => {
                self.tag_event(Noun::Defects, fact);
                entry(&mut self.defects, fact.id).defect = Some(recorded.with(fact.clone()));
                match fact.subject {
                    Subject::Model(model) => push_once(&mut entry(&mut self.models, model).defects, fact.id),
                    Subject::Component(component) => {
                        push_once(&mut entry(&mut self.components, component).defects, fact.id);
                    }
                }
            }
            Fact::Deferral(fact) => {
                entry(&mut self.defects, fact.defect).deferrals.insert(recorded.with(fact.clone()));
            }
            Fact::Closure(fact) => {
                entry(&mut self.defects, fact.defect).closures.insert(recorded.with(fact.clone()));
            }
            Fact::Repair(fact) => {
                self.tag_event(Noun::Repairs, fact);
                entry(&mut self.repairs, fact.id).repair = Some(recorded.with(fact.clone()));
                if fact.components.is_empty() {
                    push_once(&mut entry(&mut self.models, fact.model).repairs, fact.id);
                }
                for component in &fact.components {
                    push_once(&mut entry(&mut self.components, *component).repairs, fact.id);
                }
                if let Some(defect) = fact.defect {
                    push_once(&mut entry(&mut self.defects, defect).repairs, fact.id);
                }
            }
            Fact::Release(fact) => {
                entry(&mut self.repairs, fact.repair).releases.insert(recorded.with(fact.clone()));
            }
            Fact::RepairStep(fact) => {
                entry(&mut self.repairs, fact.repair).steps.insert(recorded.with(fact.clone()));
            }
            Fact::Campaign(fact) => {
                self.tag_event(Noun::Campaigns, fact);
                self.campaigns.insert_cow(fact.id, Arc::new(recorded.with(fact.clone())));
            }
            Fact::CampaignWork(fact) => {
                entry(&mut self.campaign_files, fact.campaign).works.insert(recorded.with(fact.clone()));
            }
            Fact::CampaignClosure(fact) => {
                entry(&mut self.campaign_files, fact.campaign).closures.insert(recorded.with(fact.clone()));
            }
            Fact::Loan(fact) => {
                entry(&mut self.loans, fact.id).loan = Some(recorded.with(fact.clone()));
                match fact.item {
                    Subject::Model(model) => push_once(&mut entry(&mut self.models, model).loans, fact.id),
                    Subject::Component(component) => {
                        push_once(&mut entry(&mut self.components, component).loans, fact.id);
                    }
                }
            }
            Fact::LoanReturn(fact) => {
                entry(&mut self.loans, fact.loan).returns.insert(recorded.with(fact.clone()));
            }
            Fact::Photo(fact) => match fact.subject {
                Subject::Model(model) => {
                    entry(&mut self.models, model).photos.insert(recorded.with(fact.clone()));
                }
                Subject::Component(component) => {
                    entry(&mut self.components, component).photos.insert(recorded.with(fact.clone()));
                }
            },
            Fact::Charge(fact) => {
                entry(&mut self.components, fact.component).charges.insert(recorded.with(fact.clone()));
            }
            Fact::Pairing(fact) => {
                entry(&mut self.components, fact.component).pairings.insert(recorded.with(fact.clone()));
            }
            Fact::Event(fact) => {
                entry(&mut self.models, fact.model).events.insert(recorded.with(fact.clone()));
            }
            Fact::Question(fact) => {
                entry(&mut self.questions, fact.id).question = Some(recorded.with(fact.clone()));
            }
            Fact::Settlement(fact) => {
                entry(&mut self.questions, fact.question).settlements.insert(recorded.with(fact.clone()));
            }
            Fact::Correction(_) => {}
        }
    }

    fn tag_event<F: FactShape>(&mut self, noun: Noun, fact: &F) {
        if let Some(tag) = fact.tag() {
            let key = (noun, tag.clone());
            let mut bearers = self.tags.get(&key).cloned().unwrap_or_default();
            push_once(&mut bearers, fact.id());
            self.tags.insert_cow(key, bearers);
        }
    }

    fn untag_event<F: FactShape>(&mut self, noun: Noun, fact: &F) {
        if let Some(tag) = fact.tag() {
            self.untag(noun, tag, fact.id());
        }
    }

    fn untag(&mut self, noun: Noun, tag: &Tag, id: Uuid) {
        let key = (noun, tag.clone());
        let Some(mut bearers) = self.tags.get(&key).cloned() else { return };
        bearers.retain(|bearer| *bearer != id);
        if bearers.is_empty() {
            self.tags.remove_cow(&key);
        } else {
            self.tags.insert_cow(key, bearers);
        }
    }

    fn put_version<K: Ord + Copy + From<Uuid>, F: FactShape>(
        &mut self,
        version: Recorded<F>,
        id: K,
        map: impl Fn(&mut Self) -> &mut Map<K, Recorded<F>>,
    ) {
        let known = map(self).get(&id).cloned();
        if known.as_ref().is_some_and(|known| known.revision >= version.revision) {
            return;
        }
        self.retag(F::NOUN, known.as_ref().and_then(|known| known.fact.tag().cloned()), &version.fact);
        map(self).insert_cow(id, Arc::new(version));
    }

    fn put_model(&mut self, version: Recorded<Model>) {
        let known = self.models.get(&version.fact.id).and_then(|file| file.model.clone());
        if known.as_ref().is_some_and(|known| known.revision >= version.revision) {
            return;
        }
        self.retag(Noun::Models, known.map(|known| known.fact.tag.clone()), &version.fact);
        let id = version.fact.id;
        entry(&mut self.models, id).model = Some(Arc::new(version));
    }

    fn retag<F: FactShape>(&mut self, noun: Noun, old: Option<Tag>, fact: &F) {
        if let Some(old) = old {
            self.untag(noun, &old, fact.id());
        }
        self.tag_event(noun, fact);
    }

    /// Puts a component's spans together anew and shows them to everything that holds or held it.
    fn reseat(&mut self, component: ComponentId) {
        let before: Vec<Inside> = self
            .components
            .get(&component)
            .map_or_else(Vec::new, |file| file.spans.iter().map(|s| s.inside).collect());
        let moved = self.ever_inside(component);
        self.drop_carried(&moved);
        let file = entry(&mut self.components, component);
        file.rebuild_spans();
        let spans = file.spans.clone();
        let mut holders: Vec<Inside> =
            before.into_iter().chain(spans.iter().map(|span| span.inside)).collect();
        holders.sort();
        holders.dedup();
        for holder in holders {
            let occupants = match holder {
                Inside::Model(model) => Arc::make_mut(&mut entry(&mut self.models, model).occupants),
                Inside::Component(parent) => &mut entry(&mut self.components, parent).occupants,
            };
            occupants.retain(|occupant| occupant.component != component);
            occupants.extend(
                spans
                    .iter()
                    .filter(|span| span.inside == holder)
                    .map(|span| Occupant { component, span: span.clone() }),
            );
            occupants.sort_by_key(|a| (a.span.from, a.span.installation));
        }
        self.put_carried(&moved);
    }

    /// The programme in force for a model: the one naming it, else the one naming its design, else the
    /// general one; among equals the one recorded last.
    #[must_use]
    pub fn programme_of(&self, model: Option<ModelId>) -> Option<&Recorded<Programme>> {
        let design = model.and_then(|model| self.model_data(model)).map(|data| data.design);
        self.programme_for(model, design)
    }

    /// The same of a model whose file is at hand.
    pub(crate) fn programme_of_file(&self, model: ModelId, file: &ModelFile) -> Option<&Recorded<Programme>> {
        self.programme_for(Some(model), file.model.as_ref().map(|recorded| recorded.fact.design))
    }

    fn programme_for(
        &self,
        model: Option<ModelId>,
        design: Option<DesignId>,
    ) -> Option<&Recorded<Programme>> {
        self.programmes()
            .map(|(_, programme)| programme)
            .filter(|programme| {
                programme.fact.model.is_none_or(|named| Some(named) == model)
                    && programme.fact.design.is_none_or(|named| Some(named) == design)
            })
            .max_by_key(|programme| {
                (programme.fact.model.is_some(), programme.fact.design.is_some(), programme.revision)
            })
    }

    /// What is known of the club itself.
    #[must_use]
    pub fn club(&self) -> &Club {
        &self.club
    }

    /// The revision up to which everything is in.
    #[must_use]
    pub const fn revision(&self) -> i64 {
        self.revision
    }

    /// When the newest fact was recorded.
    #[must_use]
    pub const fn newest_at(&self) -> Option<Instant> {
        self.newest_at
    }

    /// The id behind a tag of a noun. Events other than defects, repairs and campaigns are not indexed.
    #[must_use]
    pub fn id_of_tag(&self, noun: Noun, tag: &Tag) -> Option<Uuid> {
        self.tags.get(&(noun, tag.clone()))?.first().copied()
    }

    /// The correction that counts for a fact.
    #[must_use]
    pub fn correction_of(&self, original: Uuid) -> Option<&Recorded<Correction>> {
        self.corrections.get(&original).map(Arc::as_ref)
    }
}

macro_rules! lookups {
    ($($(#[$meta:meta])* $one:ident, $all:ident, $map:ident, $id:ty => $value:ty;)+) => {
        impl Fleet {$(
            $(#[$meta])*
            #[must_use]
            pub fn $one(&self, id: $id) -> Option<&$value> { self.$map.get(&id).map(Arc::as_ref) }

            /// All of them, in order of their ids.
            pub fn $all(&self) -> impl Iterator<Item = ($id, &$value)> {
                (&self.$map).into_iter().map(|(id, value)| (*id, value.as_ref()))
            }
        )+}
    };
}

lookups! {
    /// Newest version of a member.
    member, members, members, MemberId => Recorded<Member>;
    /// Newest version of a design.
    design, designs, designs, DesignId => Recorded<Design>;
    /// Newest version of a part type.
    part, parts, parts, PartId => Recorded<Part>;
    /// Newest version of a programme.
    programme, programmes, programmes, ProgrammeId => Recorded<Programme>;
    /// File of a model.
    model, models, models, ModelId => ModelFile;
    /// File of a component.
    component, components, components, ComponentId => ComponentFile;
    /// File of a defect.
    defect, defects, defects, DefectId => DefectFile;
    /// File of a repair.
    repair, repairs, repairs, RepairId => RepairFile;
    /// File of a loan.
    loan, loans, loans, LoanId => LoanFile;
    /// A campaign.
    campaign, campaigns, campaigns, CampaignId => Recorded<Campaign>;
    /// What was done for a campaign, and its closing.
    campaign_file, campaign_files, campaign_files, CampaignId => CampaignFile;
    /// Newest version of a limit of the club.
    limit, limits, limits, LimitId => Recorded<ClubLimit>;
    /// Newest version of a lot.
    lot, lots, lots, LotId => Recorded<Lot>;
    /// Newest version of counted slugs.
    slug, slugs, slugs, SlugId => Recorded<Slug>;
    /// Newest version of a matched set.
    matched_set, matched_sets, matched_sets, MatchedSetId => Recorded<MatchedSet>;
    /// Newest version of a class.
    class, classes, classes, ClassId => Recorded<ClassProfile>;
    /// Newest version of a contest.
    contest, contests, contests, ContestId => Recorded<Contest>;
    /// Newest version of an entry.
    contest_entry, contest_entries, entries, EntryId => Recorded<Entry>;
    /// File of a question.
    question, questions, questions, QuestionId => QuestionFile;
}
