//! What the form of a flight offers without typing: how long this model flies, who flies it, what it has.

use preen_domain::answers::ModelVerdict;
use preen_domain::fleet::Fleet;
use preen_domain::ids::{MemberId, ModelId};
use preen_domain::time::Instant;
use preen_domain::words::{Opener, PartKind, RestrictionKind, Role};

use crate::answers::ask::Ask;
use crate::told::{day, moment, short};

/// Flights from which the usual time in the air is taken.
const FLIGHTS: usize = 20;

/// A time in the air to choose.
pub struct Airtime {
    /// In minutes, as the form sends it.
    pub value: String,
    /// What it is.
    pub name: String,
    /// Whether it is chosen unless somebody chooses another.
    pub is_preset: bool,
}

/// Who can be chosen as pilot.
pub struct Pilot {
    /// Id of the member.
    pub id: String,
    /// Tag of the member.
    pub tag: String,
    /// Whether it is the one who asks.
    pub is_asker: bool,
}

/// The last flight on record.
pub struct LastFlight {
    /// When it landed, by the club's clock.
    pub landed: String,
    /// When it began, ms since 1970.
    pub began_ms: i64,
    /// When it landed, ms since 1970.
    pub landed_ms: i64,
}

/// What the form of a flight offers.
pub struct Preset {
    /// The flight that the next one cannot overlap.
    pub last: Option<LastFlight>,
    /// Times in the air, the likeliest first.
    pub airtimes: Vec<Airtime>,
    /// Who may have flown it.
    pub pilots: Vec<Pilot>,
    /// Whether the model has landing flaps.
    pub has_flaps: bool,
    /// Whether the flaps may be used for landing as things stand.
    pub may_use_flaps: bool,
    /// Whether it has a motor.
    pub has_motor: bool,
    /// Motor time of the last flight, s.
    pub motor_s: String,
    /// What follows a hard landing by the model's programme.
    pub after_hard: Option<String>,
}

/// Rounded to half a minute, for what is only usual.
fn to_half(minutes: f64) -> f64 {
    (minutes * 2.0).round() / 2.0
}

fn airtimes(fleet: &Fleet, model: ModelId, ask: &Ask) -> Vec<Airtime> {
    let newest = fleet.model(model).map(|file| file.flights.until(ask.moment.as_of).rev().take(FLIGHTS));
    let flown: Vec<_> = newest.into_iter().flatten().collect();
    let mut made: Vec<Airtime> = Vec::new();
    if let Some(last) = flown.first() {
        let name = format!("as the last flight, {}", day(last.at, fleet.club().zone));
        made.push(Airtime { value: short(f64::from(last.airtime_s) / 60.0), name, is_preset: true });
    }
    let mut lengths: Vec<u32> = flown.iter().map(|row| row.airtime_s).collect();
    lengths.sort_unstable();
    if let Some(middle) = lengths.get(lengths.len() / 2) {
        let value = short(to_half(f64::from(*middle) / 60.0));
        if made.iter().all(|one| one.value != value) {
            made.push(Airtime {
                value,
                name: format!("usual of {} flights", lengths.len()),
                is_preset: false,
            });
        }
    }
    made
}

fn last_flight(fleet: &Fleet, model: ModelId, ask: &Ask) -> Option<LastFlight> {
    let last = fleet.model(model)?.flights.until(ask.moment.as_of).next_back()?;
    let landed = last.at.plus_seconds(i64::from(last.airtime_s));
    let ms = |at: Instant| at.micros() / 1000;
    Some(LastFlight {
        landed: moment(landed, fleet.club().zone),
        began_ms: ms(last.at),
        landed_ms: ms(landed),
    })
}

fn pilots(ask: &Ask) -> Vec<Pilot> {
    let members = ask.held.fleet.members().filter(|(id, member)| {
        *id == ask.member || (ask.sees_all && member.fact.roles.contains(&Role::Pilot))
    });
    let mut made: Vec<Pilot> = members
        .map(|(id, member)| Pilot {
            id: id.to_string(),
            tag: member.fact.tag.to_string(),
            is_asker: id == ask.member,
        })
        .collect();
    made.sort_by(|a, b| (!a.is_asker, &a.tag).cmp(&(!b.is_asker, &b.tag)));
    made
}

/// Whether somebody is on record as a pilot.
fn is_pilot(fleet: &Fleet, member: MemberId) -> bool {
    fleet.member(member).is_some_and(|member| member.fact.roles.contains(&Role::Pilot))
}

/// What the form of a flight of a model offers.
pub fn preset(ask: &Ask, model: ModelId, verdict: &ModelVerdict) -> Preset {
    let fleet = &ask.held.fleet;
    let positions = fleet.design_of(model).map_or(&[][..], |design| design.positions.as_slice());
    let newest = fleet.model(model).and_then(|file| file.flights.rows().rfind(|row| row.motor_s > 0));
    let last_motor = newest.map(|row| row.motor_s.to_string());
    let groups =
        fleet.programme_of(Some(model)).map_or(&[][..], |programme| programme.fact.groups.as_slice());
    let opened = groups.iter().find(|group| group.opened_by == Some(Opener::HardLanding));
    let mut pilots = pilots(ask);
    // Whoever only helps logs the flight of the owner, as far as anybody can tell beforehand.
    let owner = fleet.model_data(model).and_then(|data| data.owner).map(|owner| owner.to_string());
    if !is_pilot(fleet, ask.member)
        && let Some(at) = pilots.iter().position(|pilot| Some(&pilot.id) == owner.as_ref())
    {
        let owner = pilots.remove(at);
        pilots.insert(0, owner);
    }
    Preset {
        last: last_flight(fleet, model, ask),
        airtimes: airtimes(fleet, model, ask),
        pilots,
        has_flaps: positions.iter().any(|position| position.kind.as_str().contains("flap")),
        may_use_flaps: !verdict.tightest.iter().any(|one| one.kind == RestrictionKind::NoLandingFlap),
        has_motor: positions.iter().any(|position| position.accepts == PartKind::Motor),
        motor_s: last_motor.unwrap_or_default(),
        after_hard: opened.map(|group| format!("{}: {}", group.code, group.name)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_time_is_told_in_half_minutes() {
        assert_eq!([6.2, 6.26, 0.0].map(to_half), [6.0, 6.5, 0.0]);
    }
}
