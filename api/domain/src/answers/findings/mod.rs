//! A records audit of the whole club: everything that a careful reader of the record would point at, the worst first.
//!
//! One file a family. What stands against flying comes from the same judgement as the board, so that the two cannot
//! disagree; the other families look where the board does not: at shelves, lots, loans, wiring and old entries.

mod campaigns;
mod checks;
mod defects;
mod flights;
mod grounded;
mod loans;
mod readings;
mod record;
mod repairs;
mod sets;
mod shelf;
mod verdicts;
mod wiring;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Moment, service::in_service};
use crate::{
    facts::Measurement,
    finding::Finding,
    fleet::{ComponentFile, Fleet, Place},
    ids::{ComponentId, ModelId},
    text::Tag,
    text_enum,
    time::Instant,
    words::{ComponentState, Severity},
};

text_enum! {
    /// What part of the record a finding comes from.
    Family {
        Readings = "readings", Wiring = "wiring", Checks = "checks", Seats = "seats", Sets = "sets",
        Defects = "defects", Repairs = "repairs", Campaigns = "campaigns", Balance = "balance", Loans = "loans",
        Shelf = "shelf", Flights = "flights", Record = "record",
    }
}

/// The audit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Findings {
    /// The club day asked about.
    pub on: NaiveDate,
    /// How many of each class there are.
    pub counts: FindingCounts,
    /// All of them, the worst first.
    pub findings: Vec<PlacedFinding>,
}

/// How many findings of each class there are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FindingCounts {
    /// Do not fly.
    pub ground: usize,
    /// Fly with a restriction.
    pub restrict: usize,
    /// Watch it.
    pub watch: usize,
}

/// A finding and where it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlacedFinding {
    /// What is wrong.
    #[serde(flatten)]
    pub finding: Finding,
    /// What part of the record it comes from.
    pub family: Family,
    /// Tag of the model it concerns; null where it is about no model.
    pub model: Option<String>,
    /// Where: a path in that model, a panel off any model, or a shelf.
    pub place: Option<String>,
    /// The reading it rests on, if on one.
    pub reading: Option<FoundReading>,
    /// The flights it is about, if about single ones, in order of time: the first hundred.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flights: Vec<FlownFlight>,
    /// How many flights it is about in all; left out where it is about none.
    #[serde(default, skip_serializing_if = "is_none")]
    pub flight_count: usize,
}

/// Flights that a finding lists: the rest is told by how many there are, and when the last was.
const MOST_FLIGHTS: usize = 100;

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands over references")]
const fn is_none(count: &usize) -> bool {
    *count == 0
}

/// A flight that a finding is about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FlownFlight {
    /// Its id.
    pub flight: String,
    /// When it began.
    pub at: Instant,
}

/// The reading that a finding rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FoundReading {
    /// Tag of the reading, where it has one.
    pub tag: Option<String>,
    /// What it was judged as.
    pub quantity: String,
    /// Value it was judged by.
    pub value: f64,
    /// Unit of that.
    pub unit: String,
    /// When it was read.
    pub read_at: Instant,
}

impl FoundReading {
    fn of(measurement: &Measurement, quantity: &str, value: f64, unit: &str) -> Self {
        Self {
            tag: measurement.tag.as_ref().map(ToString::to_string),
            quantity: quantity.to_owned(),
            value,
            unit: unit.to_owned(),
            read_at: measurement.occurred_at,
        }
    }
}

impl FindingCounts {
    /// Counts a list.
    #[must_use]
    pub fn of(findings: &[PlacedFinding]) -> Self {
        let mut counts = Self::default();
        for found in findings {
            match found.finding.severity {
                Severity::Ground => counts.ground += 1,
                Severity::Restrict => counts.restrict += 1,
                Severity::Watch => counts.watch += 1,
            }
        }
        counts
    }
}

/// Audits the record of the whole club.
#[must_use]
pub fn findings(fleet: &Fleet, moment: Moment) -> Findings {
    found(&Audit { fleet, moment, models: in_service(fleet, moment).into_iter().map(named).collect() })
}

/// Audits the record of one model: what the audit of the whole club says of it.
#[must_use]
pub fn findings_of_model(fleet: &Fleet, model: ModelId, moment: Moment) -> Findings {
    let models = in_service(fleet, moment).into_iter().filter(|(_, known)| *known == model).map(named);
    let models = models.collect();
    let mut of_model = found(&Audit { fleet, moment, models });
    let tag = fleet.model_tag(model);
    of_model.findings.retain(|found| found.model.as_ref() == Some(&tag));
    Findings { counts: FindingCounts::of(&of_model.findings), ..of_model }
}

fn named((tag, model): (&Tag, ModelId)) -> (String, ModelId) {
    (tag.to_string(), model)
}

fn found(audit: &Audit<'_>) -> Findings {
    let mut list = Vec::new();
    let families: [fn(&Audit<'_>, &mut Vec<PlacedFinding>); 13] = [
        verdicts::look,
        readings::look,
        wiring::look,
        checks::look,
        sets::look,
        defects::look,
        repairs::look,
        campaigns::look,
        loans::look,
        shelf::look,
        flights::look,
        grounded::look,
        record::look,
    ];
    for look in families {
        look(audit, &mut list);
    }
    list.sort_by(|a, b| order(a).cmp(&order(b)));
    Findings { on: audit.moment.on, counts: FindingCounts::of(&list), findings: list }
}

fn order(found: &PlacedFinding) -> impl Ord + '_ {
    let finding = &found.finding;
    (
        std::cmp::Reverse(finding.severity),
        found.family,
        &finding.code,
        &found.model,
        &finding.subject,
        &finding.text,
    )
}

/// What every family looks at.
struct Audit<'a> {
    fleet: &'a Fleet,
    moment: Moment,
    /// Models that are still of the fleet, by tag.
    models: Vec<(String, ModelId)>,
}

/// Where a part is, in words of a finding.
#[derive(Debug, Clone, Default)]
struct Whereabouts {
    model: Option<(ModelId, String)>,
    place: Option<String>,
}

impl<'a> Audit<'a> {
    /// Components in a state in which they may be fitted or still have to pass their check, with their files.
    fn components(&self) -> impl Iterator<Item = (ComponentId, &'a ComponentFile)> {
        let as_of = self.moment.as_of;
        self.fleet.components().filter(move |(_, file)| {
            file.component.is_some()
                && matches!(file.state_at(as_of), ComponentState::Serviceable | ComponentState::NewUntested)
        })
    }

    /// Where a component is. `None` in a model that has left the fleet.
    fn whereabouts(&self, component: ComponentId) -> Option<Whereabouts> {
        let as_of = self.moment.as_of;
        let fleet = self.fleet;
        Some(match fleet.place_at(component, as_of) {
            Place::InModel(model, path) => {
                let (tag, _) = self.models.iter().find(|(_, known)| *known == model)?;
                Whereabouts { model: Some((model, tag.clone())), place: Some(path) }
            }
            Place::InPanel(panel, path) => Whereabouts {
                model: None,
                place: Some(format!("{path} of {}, which is in no model", fleet.component_tag(panel))),
            },
            Place::Loose => Whereabouts {
                model: None,
                place: fleet.component(component)?.location_at(as_of).map(ToOwned::to_owned),
            },
        })
    }
}

impl PlacedFinding {
    fn new(family: Family, finding: Finding) -> Self {
        Self {
            finding,
            family,
            model: None,
            place: None,
            reading: None,
            flights: Vec::new(),
            flight_count: 0,
        }
    }

    fn in_model(self, tag: &str) -> Self {
        Self { model: Some(tag.to_owned()), ..self }
    }

    fn at(self, whereabouts: &Whereabouts) -> Self {
        let model = whereabouts.model.as_ref().map(|(_, tag)| tag.clone());
        Self { model, place: whereabouts.place.clone(), ..self }
    }
}
