//! The demo club as a Fleet, and short names for what is in it.

use preen_domain::{
    answers::{ModelVerdict, Moment, may_fly_one},
    facts::{Fact, Noun, Recorded},
    fleet::{Club, Fleet},
    ids::{ClubId, ComponentId, MemberId, ModelId, PartId},
    time::Instant,
};
use uuid::Uuid;

/// Thursday morning, as the demo begins.
pub const NOW: &str = "2026-05-21T08:00:00Z";

/// The demo club with every row of its tables.
pub fn demo() -> Fleet {
    let tables = preen_api::demo::tables::read().unwrap();
    let mut fleet = Fleet::new(Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: tables.club.short_name,
        title: tables.club.title,
        zone: tables.club.time_zone,
    });
    for (revision, row) in (1..).zip(tables.rows) {
        record(&mut fleet, row.fact, revision);
    }
    fleet
}

/// Takes in one more fact at the next revision.
pub fn add(fleet: &mut Fleet, fact: impl Into<Fact>) {
    let revision = fleet.revision() + 1;
    record(fleet, fact.into(), revision);
}

fn record(fleet: &mut Fleet, fact: Fact, revision: i64) {
    let recorded_by = MemberId(Uuid::from_u128(2));
    fleet.apply(&Recorded { fact, recorded_at: at(NOW), recorded_by, revision });
}

pub fn at(text: &str) -> Instant {
    text.parse().unwrap()
}

pub fn moment(on: &str) -> Moment {
    Moment { as_of: at(NOW), on: on.parse().unwrap(), pilot: None }
}

pub fn id(fleet: &Fleet, noun: Noun, tag: &str) -> Uuid {
    fleet.id_of_tag(noun, &tag.parse().unwrap()).unwrap_or_else(|| panic!("no {noun} {tag}"))
}

pub fn model(fleet: &Fleet, tag: &str) -> ModelId {
    ModelId(id(fleet, Noun::Models, tag))
}

pub fn component(fleet: &Fleet, tag: &str) -> ComponentId {
    ComponentId(id(fleet, Noun::Components, tag))
}

pub fn part(fleet: &Fleet, tag: &str) -> PartId {
    PartId(id(fleet, Noun::Parts, tag))
}

pub fn member(fleet: &Fleet, tag: &str) -> MemberId {
    MemberId(id(fleet, Noun::Members, tag))
}

pub fn verdict(fleet: &Fleet, tag: &str, on: &str) -> ModelVerdict {
    may_fly_one(fleet, model(fleet, tag), moment(on)).unwrap()
}

/// Codes and subjects of the reasons that ground a model.
pub fn grounds(verdict: &ModelVerdict) -> Vec<(&str, &str)> {
    let ground = preen_domain::words::Severity::Ground;
    verdict
        .reasons
        .iter()
        .filter(|r| r.severity == ground)
        .map(|r| (r.code.as_str(), r.subject.as_str()))
        .collect()
}
