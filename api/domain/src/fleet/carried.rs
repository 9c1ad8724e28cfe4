//! What each model carried at any level of nesting, kept beside its file, so that a question about all parts of a fleet reads
//! one list a model.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use super::{Carried, Fleet, MAX_DEPTH, entry};
use crate::{
    facts::Inside,
    ids::{ComponentId, ModelId},
};

impl Fleet {
    /// A component and everything that ever sat in it, at any level.
    pub(super) fn ever_inside(&self, component: ComponentId) -> BTreeSet<ComponentId> {
        let mut all = BTreeSet::from([component]);
        let mut level = vec![component];
        for _ in 0..MAX_DEPTH {
            let inside = level.iter().flat_map(|holder| self.occupants(Inside::Component(*holder)));
            let inside: Vec<_> = inside.map(|occupant| occupant.component).collect();
            level = inside.into_iter().filter(|component| all.insert(*component)).collect();
        }
        all
    }

    /// Where components sat, model by model.
    fn carried_by(&self, components: &BTreeSet<ComponentId>) -> BTreeMap<ModelId, Vec<Carried>> {
        let mut list: BTreeMap<ModelId, Vec<Carried>> = BTreeMap::new();
        for component in components.iter().copied() {
            self.walk_spans(component, |span| {
                let carried = Carried { component, from: span.from, to: span.to };
                list.entry(span.model).or_default().push(carried);
            });
        }
        list
    }

    /// Forgets where components sat, before they are seated anew.
    pub(super) fn drop_carried(&mut self, components: &BTreeSet<ComponentId>) {
        for (model, _) in self.carried_by(components) {
            let carried = Arc::make_mut(&mut entry(&mut self.models, model).carried);
            carried.retain(|one| !components.contains(&one.component));
        }
    }

    /// Keeps where components sit now that they are seated.
    pub(super) fn put_carried(&mut self, components: &BTreeSet<ComponentId>) {
        for (model, list) in self.carried_by(components) {
            let carried = Arc::make_mut(&mut entry(&mut self.models, model).carried);
            for one in list {
                carried.insert(carried.partition_point(|other| *other < one), one);
            }
        }
    }
}
