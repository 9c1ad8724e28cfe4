//! What the Fleet keeps together: one file per model, component, defect, repair, campaign and loan.

use std::sync::Arc;

use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::counters::Reached;

use crate::{
    facts::{
        CampaignClosure, CampaignWork, Charge, Closure, Component, Condition, Defect, Deferral, Event,
        Flight, Inside, Inspection, Installation, Loan, LoanReturn, Measurement, Model, Pairing, Photo,
        Question, Recorded, Removal, Rigging, Settlement, Weighing,
    },
    fleet::{CheckLog, FlightLog, RiggingLog, Timeline, Usage},
    ids::{ComponentId, DefectId, InstallationId, LoanId, RepairId},
    text::Tag,
    time::Instant,
    words::ComponentState,
};

/// A component in a position, from its installation to its removal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// The installation that began it.
    pub installation: InstallationId,
    /// What the position belongs to.
    pub inside: Inside,
    /// The position within that.
    pub position: Tag,
    /// From this moment on.
    pub from: Instant,
    /// Until before this moment; `None` while it lasts.
    pub to: Option<Instant>,
    /// Whether the record merely begins with the part in place.
    pub is_start_of_record: bool,
}

impl Span {
    /// Whether the part sat there at a moment.
    #[must_use]
    pub fn holds_at(&self, at: Instant) -> bool {
        self.from <= at && self.to.is_none_or(|to| at < to)
    }

    /// Whether the span shares any moment with `[from, to)`.
    #[must_use]
    pub fn overlaps(&self, from: Instant, to: Option<Instant>) -> bool {
        to.is_none_or(|to| self.from < to) && self.to.is_none_or(|end| from < end)
    }
}

/// A component that sat in a position of the holder of this entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Occupant {
    /// Which component.
    pub component: ComponentId,
    /// Where and when.
    pub span: Span,
}

/// A part in a model, through every level of nesting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Carried {
    /// Which component.
    pub component: ComponentId,
    /// From this moment on.
    pub from: Instant,
    /// Until before this moment; `None` while it lasts.
    pub to: Option<Instant>,
}

/// Everything that is kept about one model. A copy shares what a flight does not change: most facts are flights, and each
/// copies the file of its model.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ModelFile {
    /// Its newest version.
    pub model: Option<Arc<Recorded<Model>>>,
    /// Its flights.
    pub flights: FlightLog,
    /// Its rigging cycles.
    pub riggings: Arc<RiggingLog>,
    /// Checks on it.
    pub inspections: CheckLog,
    /// Its weighings.
    pub weighings: Timeline<Weighing>,
    /// Readings on the model as a whole.
    pub measurements: Timeline<Measurement>,
    /// Defects on the model as a whole.
    pub defects: Vec<DefectId>,
    /// Repairs on the model as a whole.
    pub repairs: Vec<RepairId>,
    /// Loans of the model.
    pub loans: Vec<LoanId>,
    /// Photos of the model as a whole.
    pub photos: Timeline<Photo>,
    /// What else happened to it.
    pub events: Timeline<Event>,
    /// What sat in its own positions, by moment.
    pub occupants: Arc<Vec<Occupant>>,
    /// What sat in it at any level, in order: as [`Fleet::model_spans`] has it part by part.
    ///
    /// [`Fleet::model_spans`]: super::Fleet::model_spans
    pub carried: Arc<Vec<Carried>>,
}

/// Everything that is kept about one component.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ComponentFile {
    /// The component.
    pub component: Option<Recorded<Component>>,
    /// Changes of its kept state.
    pub conditions: Timeline<Condition>,
    /// Its installations.
    pub installations: Timeline<Installation>,
    /// Its removals.
    pub removals: Timeline<Removal>,
    /// Where it sat, oldest first.
    pub spans: Vec<Span>,
    /// What sat in its own positions, by moment.
    pub occupants: Vec<Occupant>,
    /// Checks on it alone.
    pub inspections: Timeline<Inspection>,
    /// Checks that name it in one of their items.
    pub named_in_checks: Timeline<Inspection>,
    /// Readings on it.
    pub measurements: Timeline<Measurement>,
    /// Defects on it.
    pub defects: Vec<DefectId>,
    /// Repairs on it.
    pub repairs: Vec<RepairId>,
    /// Loans of it.
    pub loans: Vec<LoanId>,
    /// Photos of it.
    pub photos: Timeline<Photo>,
    /// Charges of a pack.
    pub charges: Timeline<Charge>,
    /// Accepted fits outside its set.
    pub pairings: Timeline<Pairing>,
}

impl ModelFile {
    /// How much of its log lies before a moment.
    pub(crate) fn reached(&self, at: Instant) -> Reached {
        Reached { flights: self.flights.index_of(at), riggings: self.riggings.index_of(at) }
    }

    /// Puts a check in its place; `zone` is the club's.
    pub(super) fn put_check(&mut self, check: Recorded<Inspection>, zone: Tz) {
        let reached = self.reached(check.fact.occurred_at);
        self.inspections.insert(check, reached, zone);
    }

    /// Puts a flight in its place.
    pub(super) fn put_flight(&mut self, flight: &Flight) {
        if self.flights.insert(flight) {
            self.inspections.after(flight.occurred_at, |reached| reached.flights += 1);
        }
    }

    /// Takes a flight out again.
    pub(super) fn drop_flight(&mut self, id: Uuid) {
        if let Some(at) = self.flights.remove(id) {
            self.inspections.after(at, |reached| reached.flights -= 1);
        }
    }

    /// Puts a rigging in its place.
    pub(super) fn put_rigging(&mut self, rigging: &Rigging) {
        if Arc::make_mut(&mut self.riggings).insert(rigging) {
            self.inspections.after(rigging.occurred_at, |reached| reached.riggings += 1);
        }
    }

    /// Takes a rigging out again.
    pub(super) fn drop_rigging(&mut self, id: Uuid) {
        if let Some(at) = Arc::make_mut(&mut self.riggings).remove(id) {
            self.inspections.after(at, |reached| reached.riggings -= 1);
        }
    }

    /// Usage of it in `[from, to)`.
    #[must_use]
    pub fn usage(&self, from: Instant, to: Instant) -> Usage {
        let flown = self.flights.usage(from, to);
        Usage { riggings: self.riggings.count(from, to), ..flown }
    }
}

impl ComponentFile {
    /// Its kept state at a moment.
    #[must_use]
    pub fn state_at(&self, at: Instant) -> ComponentState {
        match (self.conditions.last_until(at), &self.component) {
            (Some(condition), _) => condition.fact.state,
            (None, Some(component)) => component.fact.state,
            (None, None) => ComponentState::Held,
        }
    }

    /// The shelf, bench or case named last by a moment.
    #[must_use]
    pub fn location_at(&self, at: Instant) -> Option<&str> {
        let changed =
            self.conditions.until(at).iter().rev().find_map(|condition| condition.fact.location.as_ref());
        changed
            .or_else(|| self.component.as_ref().and_then(|component| component.fact.location.as_ref()))
            .map(crate::text::Text::as_str)
    }

    /// Where it sat at a moment.
    #[must_use]
    pub fn span_at(&self, at: Instant) -> Option<&Span> {
        self.spans.iter().rev().find(|span| span.holds_at(at))
    }

    /// Puts the spans together from installations and removals.
    pub(super) fn rebuild_spans(&mut self) {
        self.spans = self
            .installations
            .iter()
            .map(|installation| {
                let fact = &installation.fact;
                let removal = self.removals.iter().find(|removal| removal.fact.installation == fact.id);
                Span {
                    installation: fact.id,
                    inside: fact.inside,
                    position: fact.position.clone(),
                    from: fact.occurred_at,
                    to: removal.map(|removal| removal.fact.occurred_at),
                    is_start_of_record: fact.is_start_of_record,
                }
            })
            .collect();
    }
}

/// A defect, what put it off and what closed it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct DefectFile {
    /// The defect.
    pub defect: Option<Recorded<Defect>>,
    /// Deferrals beside what was stated with the defect itself.
    pub deferrals: Timeline<Deferral>,
    /// Closings without a repair.
    pub closures: Timeline<Closure>,
    /// Repairs that name it.
    pub repairs: Vec<RepairId>,
}

/// What was done for a campaign, and its closing.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CampaignFile {
    /// Parts looked at for its actions.
    pub works: Timeline<CampaignWork>,
    /// Its closing.
    pub closures: Timeline<CampaignClosure>,
}

/// A loan and its return.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct LoanFile {
    /// The loan.
    pub loan: Option<Recorded<Loan>>,
    /// Its return.
    pub returns: Timeline<LoanReturn>,
}

/// A question and its settling.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct QuestionFile {
    /// The question.
    pub question: Option<Recorded<Question>>,
    /// Its settling.
    pub settlements: Timeline<Settlement>,
}
