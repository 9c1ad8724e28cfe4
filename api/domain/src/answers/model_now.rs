//! A model at a moment, as its checks look at it: what it carries, which packs, which repairs are on it. Each is worked out
//! when it is first asked for, and once.

use std::{
    cell::OnceCell,
    collections::{BTreeMap, BTreeSet},
};

use super::{due::FORECAST_WINDOW_DAYS, usage::just_after};
use crate::{
    facts::{Programme, Repair},
    fleet::{Fitted, Fleet, ModelFile, Reached, RepairFile},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::PartKind,
};

/// A repair, with what is kept of it.
pub(crate) type RepairHere<'a> = (&'a RepairFile, &'a Repair);

/// A model at a moment.
#[derive(Debug)]
pub(crate) struct ModelNow<'a> {
    /// The record.
    pub fleet: &'a Fleet,
    /// Which model.
    pub model: ModelId,
    /// What is kept of it.
    pub file: &'a ModelFile,
    /// The programme in force for it.
    pub programme: Option<&'a Programme>,
    /// What had happened by then counts.
    pub as_of: Instant,
    fitted: OnceCell<Vec<Fitted<'a>>>,
    packs: OnceCell<Vec<(ComponentId, Instant)>>,
    repairs: OnceCell<Vec<RepairHere<'a>>>,
    reached: OnceCell<Reached>,
    window: OnceCell<(Instant, Reached)>,
}

impl<'a> ModelNow<'a> {
    /// `None` for a model without a file.
    pub(crate) fn new(fleet: &'a Fleet, model: ModelId, as_of: Instant) -> Option<Self> {
        Some(Self::of(fleet, model, fleet.model(model)?, as_of))
    }

    /// The same where its file is at hand.
    pub(crate) fn of(fleet: &'a Fleet, model: ModelId, file: &'a ModelFile, as_of: Instant) -> Self {
        Self {
            fleet,
            model,
            file,
            programme: fleet.programme_of_file(model, file).map(|recorded| &recorded.fact),
            as_of,
            fitted: OnceCell::new(),
            packs: OnceCell::new(),
            repairs: OnceCell::new(),
            reached: OnceCell::new(),
            window: OnceCell::new(),
        }
    }

    /// The same where its repairs are known.
    pub(crate) fn with_repairs(self, repairs: Vec<RepairHere<'a>>) -> Self {
        Self { repairs: OnceCell::from(repairs), ..self }
    }

    /// How much of its log had happened.
    pub(crate) fn reached(&self) -> Reached {
        *self.reached.get_or_init(|| self.file.reached(just_after(self.as_of)))
    }

    /// The first moment of the days over which use is counted for forecasts, and how much of its log lies before it.
    pub(crate) fn window(&self) -> (Instant, Reached) {
        *self.window.get_or_init(|| {
            let from = just_after(self.as_of.plus_days(-i64::from(FORECAST_WINDOW_DAYS)));
            (from, self.file.reached(from))
        })
    }

    /// What it carries, parents before what sits inside them.
    pub(crate) fn fitted(&self) -> &[Fitted<'a>] {
        self.fitted.get_or_init(|| self.fleet.fitted(self.model, self.as_of))
    }

    /// Fitted packs, and since when each is in the model; from the start of the record: since ever.
    pub(crate) fn packs(&self) -> &[(ComponentId, Instant)] {
        self.packs.get_or_init(|| {
            let is_pack = |fitted: &&Fitted<'a>| {
                self.fleet.part_of(fitted.id).is_some_and(|part| part.kind == PartKind::Pack)
            };
            let packs = self.fitted().iter().filter(is_pack);
            packs.map(|fitted| (fitted.id, fitted.in_model_since)).collect()
        })
    }

    /// Repairs on it as a whole or on a part that it carries.
    pub(crate) fn repairs(&self) -> &[RepairHere<'a>] {
        self.repairs.get_or_init(|| {
            let on_parts = self.fitted().iter().filter_map(|fitted| self.fleet.component(fitted.id));
            let on_parts = on_parts.flat_map(|file| file.repairs.iter());
            let ids: BTreeSet<_> = self.file.repairs.iter().chain(on_parts).copied().collect();
            let files = ids.into_iter().filter_map(|id| self.fleet.repair(id));
            files.filter_map(|file| begun(file, self.as_of)).collect()
        })
    }
}

fn begun(file: &RepairFile, as_of: Instant) -> Option<RepairHere<'_>> {
    let repair = &file.repair.as_ref()?.fact;
    Some((file, repair)).filter(|_| repair.occurred_at <= as_of)
}

/// The repairs on each model, found from the repairs: most models have none, and nothing is looked up for those.
pub(crate) fn repairs_by_model(fleet: &Fleet, as_of: Instant) -> BTreeMap<ModelId, Vec<RepairHere<'_>>> {
    let mut list: BTreeMap<ModelId, Vec<RepairHere<'_>>> = BTreeMap::new();
    for (file, repair) in fleet.repairs().filter_map(|(_, file)| begun(file, as_of)) {
        let mut models = BTreeSet::new();
        if repair.components.is_empty() {
            models.insert(repair.model);
        }
        for component in &repair.components {
            fleet.walk_spans(*component, |span| {
                if span.holds_at(as_of) {
                    models.insert(span.model);
                }
            });
        }
        for model in models {
            list.entry(model).or_default().push((file, repair));
        }
    }
    list
}
