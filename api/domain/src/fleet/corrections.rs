//! Corrections carried out: the original, or an earlier correction of it, goes out; what takes its place comes in.

use std::sync::Arc;

use uuid::Uuid;

use super::{ComponentFile, Fleet, Map, ModelFile, entry};
use crate::{
    facts::{Correction, Fact, Noun, Recorded, Subject},
    ids::{CampaignId, ComponentId, DefectId, LoanId, RepairId},
};

impl Fleet {
    /// Carries a correction out. The one recorded last counts, whatever order they came in.
    pub(super) fn correct(&mut self, correction: &Recorded<Correction>) {
        let fact = &correction.fact;
        let known = self.corrections.get(&fact.original);
        if known
            .is_some_and(|known| (known.revision, known.fact.id) >= (correction.revision, correction.fact.id))
        {
            return;
        }
        self.remove(fact.noun, fact.original);
        self.drop_empty();
        self.corrections.insert_cow(fact.original, Arc::new(correction.clone()));
        if let Some(corrected) =
            fact.fact.clone().and_then(|json| Fact::from_json(fact.noun, json).ok()).filter(|_| !fact.is_void)
        {
            self.insert(&correction.with(corrected));
        }
    }

    /// Takes the original of a correction, or an earlier correction of it, out again.
    fn remove(&mut self, noun: Noun, id: Uuid) {
        match noun {
            Noun::Components => {
                if let Some(known) =
                    self.components.get(&ComponentId(id)).and_then(|file| file.component.clone())
                {
                    self.untag_event(Noun::Components, &known.fact);
                    entry(&mut self.components, ComponentId(id)).component = None;
                }
            }
            Noun::Conditions => self.in_component(
                |file| file.conditions.get(id).is_some(),
                |file| {
                    file.conditions.remove(id);
                },
            ),
            Noun::Installations => {
                let holder = self.component_where(|file| file.installations.get(id).is_some());
                if let Some(component) = holder {
                    entry(&mut self.components, component).installations.remove(id);
                    self.reseat(component);
                }
            }
            Noun::Removals => {
                let holder = self.component_where(|file| file.removals.get(id).is_some());
                if let Some(component) = holder {
                    entry(&mut self.components, component).removals.remove(id);
                    self.reseat(component);
                }
            }
            Noun::Flights => self.in_model(|file| file.flights.knows(id), |file| file.drop_flight(id)),
            Noun::Riggings => {
                self.in_model(|file| file.riggings.knows(id), |file| file.drop_rigging(id));
            }
            Noun::Inspections => {
                self.in_model(
                    |file| file.inspections.get(id).is_some(),
                    |file| {
                        file.inspections.remove(id);
                    },
                );
                self.in_component(
                    |file| file.inspections.get(id).is_some(),
                    |file| {
                        file.inspections.remove(id);
                    },
                );
                while let Some(named) = self.component_where(|file| file.named_in_checks.get(id).is_some()) {
                    entry(&mut self.components, named).named_in_checks.remove(id);
                }
            }
            Noun::Measurements => {
                self.in_model(
                    |file| file.measurements.get(id).is_some(),
                    |file| {
                        file.measurements.remove(id);
                    },
                );
                self.in_component(
                    |file| file.measurements.get(id).is_some(),
                    |file| {
                        file.measurements.remove(id);
                    },
                );
            }
            Noun::Photos => {
                self.in_model(
                    |file| file.photos.get(id).is_some(),
                    |file| {
                        file.photos.remove(id);
                    },
                );
                self.in_component(
                    |file| file.photos.get(id).is_some(),
                    |file| {
                        file.photos.remove(id);
                    },
                );
            }
            Noun::Weighings => self.in_model(
                |file| file.weighings.get(id).is_some(),
                |file| {
                    file.weighings.remove(id);
                },
            ),
            Noun::Defects => self.remove_defect(DefectId(id)),
            Noun::Deferrals => {
                let holder = (&self.defects).into_iter().find(|(_, file)| file.deferrals.get(id).is_some());
                if let Some(defect) = holder.map(|(defect, _)| *defect) {
                    entry(&mut self.defects, defect).deferrals.remove(id);
                }
            }
            Noun::Closures => {
                let holder = (&self.defects).into_iter().find(|(_, file)| file.closures.get(id).is_some());
                if let Some(defect) = holder.map(|(defect, _)| *defect) {
                    entry(&mut self.defects, defect).closures.remove(id);
                }
            }
            Noun::Repairs => self.remove_repair(RepairId(id)),
            Noun::Releases => {
                let holder = (&self.repairs).into_iter().find(|(_, file)| file.releases.get(id).is_some());
                if let Some(repair) = holder.map(|(repair, _)| *repair) {
                    entry(&mut self.repairs, repair).releases.remove(id);
                }
            }
            Noun::RepairSteps => {
                let holder = (&self.repairs).into_iter().find(|(_, file)| file.steps.get(id).is_some());
                if let Some(repair) = holder.map(|(repair, _)| *repair) {
                    entry(&mut self.repairs, repair).steps.remove(id);
                }
            }
            Noun::Campaigns => {
                if let Some(known) = self.campaigns.get(&CampaignId(id)).cloned() {
                    self.untag_event(Noun::Campaigns, &known.fact);
                    self.campaigns.remove_cow(&CampaignId(id));
                }
            }
            Noun::CampaignWorks => {
                let holder =
                    (&self.campaign_files).into_iter().find(|(_, file)| file.works.get(id).is_some());
                if let Some(campaign) = holder.map(|(campaign, _)| *campaign) {
                    entry(&mut self.campaign_files, campaign).works.remove(id);
                }
            }
            Noun::CampaignClosures => {
                let holder =
                    (&self.campaign_files).into_iter().find(|(_, file)| file.closures.get(id).is_some());
                if let Some(campaign) = holder.map(|(campaign, _)| *campaign) {
                    entry(&mut self.campaign_files, campaign).closures.remove(id);
                }
            }
            Noun::Loans => {
                if let Some(known) = self.loans.get(&LoanId(id)).and_then(|file| file.loan.clone()) {
                    match known.fact.item {
                        Subject::Model(model) => {
                            entry(&mut self.models, model).loans.retain(|loan| loan.0 != id);
                        }
                        Subject::Component(component) => {
                            entry(&mut self.components, component).loans.retain(|loan| loan.0 != id);
                        }
                    }
                    entry(&mut self.loans, LoanId(id)).loan = None;
                }
            }
            Noun::LoanReturns => {
                let holder = (&self.loans).into_iter().find(|(_, file)| file.returns.get(id).is_some());
                if let Some(loan) = holder.map(|(loan, _)| *loan) {
                    entry(&mut self.loans, loan).returns.remove(id);
                }
            }
            Noun::Charges => self.in_component(
                |file| file.charges.get(id).is_some(),
                |file| {
                    file.charges.remove(id);
                },
            ),
            Noun::Pairings => self.in_component(
                |file| file.pairings.get(id).is_some(),
                |file| {
                    file.pairings.remove(id);
                },
            ),
            Noun::Events => self.in_model(
                |file| file.events.get(id).is_some(),
                |file| {
                    file.events.remove(id);
                },
            ),
            Noun::Settlements => {
                let holder =
                    (&self.questions).into_iter().find(|(_, file)| file.settlements.get(id).is_some());
                if let Some(question) = holder.map(|(question, _)| *question) {
                    entry(&mut self.questions, question).settlements.remove(id);
                }
            }
            // Master data gets new versions and is never corrected; a question is settled; a correction never
            // names a correction.
            Noun::Limits
            | Noun::Lots
            | Noun::Slugs
            | Noun::MatchedSets
            | Noun::Classes
            | Noun::Contests
            | Noun::Entries
            | Noun::Questions
            | Noun::Members
            | Noun::Designs
            | Noun::Parts
            | Noun::Models
            | Noun::Programmes
            | Noun::Corrections => {}
        }
    }

    fn remove_defect(&mut self, id: DefectId) {
        let Some(known) = self.defects.get(&id).and_then(|file| file.defect.clone()) else { return };
        self.untag_event(Noun::Defects, &known.fact);
        match known.fact.subject {
            Subject::Model(model) => entry(&mut self.models, model).defects.retain(|defect| *defect != id),
            Subject::Component(component) => {
                entry(&mut self.components, component).defects.retain(|defect| *defect != id);
            }
        }
        entry(&mut self.defects, id).defect = None;
    }

    fn remove_repair(&mut self, id: RepairId) {
        let Some(known) = self.repairs.get(&id).and_then(|file| file.repair.clone()) else { return };
        self.untag_event(Noun::Repairs, &known.fact);
        if known.fact.components.is_empty() {
            entry(&mut self.models, known.fact.model).repairs.retain(|repair| *repair != id);
        }
        for component in &known.fact.components {
            entry(&mut self.components, *component).repairs.retain(|repair| *repair != id);
        }
        if let Some(defect) = known.fact.defect {
            entry(&mut self.defects, defect).repairs.retain(|repair| *repair != id);
        }
        entry(&mut self.repairs, id).repair = None;
    }

    fn component_where(&self, holds: impl Fn(&ComponentFile) -> bool) -> Option<ComponentId> {
        (&self.components).into_iter().find(|(_, file)| holds(file)).map(|(id, _)| *id)
    }

    fn in_component(&mut self, holds: impl Fn(&ComponentFile) -> bool, change: impl Fn(&mut ComponentFile)) {
        if let Some(id) = self.component_where(holds) {
            change(entry(&mut self.components, id));
        }
    }

    fn in_model(&mut self, holds: impl Fn(&ModelFile) -> bool, change: impl Fn(&mut ModelFile)) {
        let holder = (&self.models).into_iter().find(|(_, file)| holds(file)).map(|(id, _)| *id);
        if let Some(id) = holder {
            change(entry(&mut self.models, id));
        }
    }

    /// Drops files in which nothing is left: they would not be there had the correction come before its original.
    fn drop_empty(&mut self) {
        drop_empty(&mut self.models);
        drop_empty(&mut self.components);
        drop_empty(&mut self.defects);
        drop_empty(&mut self.repairs);
        drop_empty(&mut self.campaign_files);
        drop_empty(&mut self.loans);
        drop_empty(&mut self.questions);
    }
}

fn drop_empty<K: Ord + Copy, V: Default + PartialEq>(map: &mut Map<K, V>) {
    let nothing = V::default();
    let empty: Vec<K> =
        (&*map).into_iter().filter(|(_, file)| ***file == nothing).map(|(key, _)| *key).collect();
    for key in empty {
        map.remove_cow(&key);
    }
}
