//! Photos as the Fleet finds them: each is kept with what it shows.

use super::Fleet;
use crate::{
    facts::{Photo, Recorded, Subject},
    ids::{DefectId, InspectionId, RepairId},
};

impl Fleet {
    /// All photos, model by model and part by part.
    pub fn photos(&self) -> impl Iterator<Item = &Recorded<Photo>> {
        let of_models = self.models().flat_map(|(_, file)| file.photos.iter());
        of_models.chain(self.components().flat_map(|(_, file)| file.photos.iter()))
    }

    /// Photos of what they show, oldest first.
    pub fn photos_of(&self, subject: Subject) -> impl Iterator<Item = &Recorded<Photo>> {
        let photos = match subject {
            Subject::Model(model) => self.model(model).map(|file| &file.photos),
            Subject::Component(component) => self.component(component).map(|file| &file.photos),
        };
        photos.into_iter().flat_map(|photos| photos.iter())
    }

    /// Photos of a defect: those of what it sits on, then those of the model on which it was found.
    #[must_use]
    pub fn photos_of_defect(&self, id: DefectId) -> Vec<&Recorded<Photo>> {
        let Some(defect) = self.defect(id).and_then(|file| file.defect.as_ref()) else { return Vec::new() };
        let mut subjects = vec![defect.fact.subject, Subject::Model(defect.fact.model)];
        subjects.dedup();
        let photos = subjects.into_iter().flat_map(|subject| self.photos_of(subject));
        photos.filter(|photo| photo.fact.defect == Some(id)).collect()
    }

    /// Photos of a repair: those of the parts that it is done on, then those of the model.
    #[must_use]
    pub fn photos_of_repair(&self, id: RepairId) -> Vec<&Recorded<Photo>> {
        let Some(repair) = self.repair(id).and_then(|file| file.repair.as_ref()) else { return Vec::new() };
        let parts = repair.fact.components.iter().map(|part| Subject::Component(*part));
        let subjects = parts.chain([Subject::Model(repair.fact.model)]);
        let photos = subjects.flat_map(|subject| self.photos_of(subject));
        photos.filter(|photo| photo.fact.repair == Some(id)).collect()
    }

    /// Photos that were taken at a check, of whatever was looked at.
    #[must_use]
    pub fn photos_of_check(&self, id: InspectionId) -> Vec<&Recorded<Photo>> {
        self.photos().filter(|photo| photo.fact.inspection == Some(id)).collect()
    }
}
