//! A large invented club for benchmarks, as facts in the order in which they happened: models of one design with thirty
//! seats each (servos and connectors inside panels, gear inside the fuselage), a programme of eight groups with intervals,
//! flights and riggings of some seasons, each group done now and then.

use preen_domain::facts::{Fact, Flight, Rigging};
use preen_domain::fleet::Club;
use preen_domain::ids::{ClubId, FlightId, MemberId, ModelId, RiggingId};
use preen_domain::time::Instant;
use preen_domain::words::{Counter, Landing};
use serde_json::{Value, json};
use uuid::Uuid;

const IDS: u128 = 0x0197_0a3b_0000_7000_8000_0000_0000_0000;
const MEMBER: u128 = 0x1_0000_0000;
const DESIGN: u128 = 0x2_0000_0000;
const PART: u128 = 0x3_0000_0000;
const PROGRAMME: u128 = 0x4_0000_0000;
const MODEL: u128 = 0x5_0000_0000;
const COMPONENT: u128 = 0x6_0000_0000;
const INSTALLATION: u128 = 0x7_0000_0000;
const FLIGHT: u128 = 0x8_0000_0000;
const RIGGING: u128 = 0x9_0000_0000;
const CHECK: u128 = 0xa_0000_0000;

/// Seats of a model.
pub const SEATS: usize = 30;
/// Members of the club.
const MEMBERS: u128 = 40;
/// A group: its code, what it counts and how much of it, days.
type Group = (&'static str, Option<(Counter, u32)>, u32);
/// Groups of the programme.
pub const GROUPS: [Group; 8] = [
    ("FL25", Some((Counter::Flights, 25)), 365),
    ("FL100", Some((Counter::Flights, 100)), 730),
    ("LA200", Some((Counter::Launches, 200)), 365),
    ("AH20", Some((Counter::AirtimeH, 20)), 365),
    ("MO3000", Some((Counter::MotorS, 3_000)), 365),
    ("RG30", Some((Counter::Riggings, 30)), 365),
    ("D90", None, 90),
    ("D365", None, 365),
];
/// Flights for each rigging.
const FLIGHTS_A_RIGGING: u32 = 9;
/// Days over which the flights are spread: two and a half years.
const DAYS: i64 = 912;
const DAY_US: i64 = 86_400_000_000;

/// How large the club is.
#[derive(Clone, Copy, Debug)]
pub struct Extent {
    /// Models, with thirty components each.
    pub models: u32,
    /// Flights and riggings of each.
    pub usage: u32,
    /// How often each group was done on each model.
    pub checks: u32,
}

impl Extent {
    /// Club L of the marks: 1,000 models, 30,000 components, a million rows of usage.
    pub const L: Self = Self { models: 1_000, usage: 1_000, checks: 6 };
    /// Club C of the marks: 300 models, 9,000 components, 450,000 rows of usage.
    pub const C: Self = Self { models: 300, usage: 1_500, checks: 6 };
    /// Enough to see that a benchmark works.
    #[cfg(test)]
    pub const TINY: Self = Self { models: 6, usage: 40, checks: 2 };

    fn flights(self) -> u32 {
        self.usage - self.riggings()
    }

    fn riggings(self) -> u32 {
        self.usage / (FLIGHTS_A_RIGGING + 1)
    }
}

/// The start of the record.
pub fn start() -> Instant {
    "2023-11-01T08:00:00Z".parse().unwrap()
}

/// A moment after everything.
pub fn end() -> Instant {
    "2026-05-21T08:00:00Z".parse().unwrap()
}

/// The club itself.
pub fn club() -> Club {
    Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: "bench".parse().unwrap(),
        title: "Bench".to_owned(),
        zone: "Europe/London".parse().unwrap(),
    }
}

/// The id of a model.
pub fn model(number: u32) -> ModelId {
    ModelId(uuid(MODEL, u128::from(number)))
}

/// The id of a member.
pub fn member(number: u32) -> MemberId {
    MemberId(uuid(MEMBER, u128::from(number) % MEMBERS))
}

fn uuid(kind: u128, number: u128) -> Uuid {
    // Kinds lie 2^32 apart, which is more than there are of any.
    Uuid::from_u128(IDS + kind + number)
}

fn id(kind: u128, number: u128) -> String {
    uuid(kind, number).to_string()
}

fn fact(noun: &str, json: Value) -> Fact {
    Fact::from_json(noun.parse().unwrap(), json.clone())
        .unwrap_or_else(|error| panic!("{noun}: {error}: {json}"))
}

/// Part types: tag, kind, mass.
const PARTS: [(&str, &str, f64); 9] = [
    ("PN", "panel", 300.0),
    ("SV", "servo", 10.5),
    ("CH", "connector_half", 4.0),
    ("FU", "fuselage", 330.0),
    ("RX", "receiver", 9.0),
    ("PK", "pack", 90.0),
    ("JN", "joiner", 25.0),
    ("TF", "tail_frame", 12.0),
    ("OT", "other", 2.0),
];

/// One seat: its path, the code of what it is inside of, the number of its part type, the code of what sits in it, place.
type Seat = (String, Option<&'static str>, usize, Option<&'static str>, [f64; 3]);

fn seats() -> Vec<Seat> {
    let mut list: Vec<Seat> = vec![
        ("W.L".into(), None, 0, Some("WL"), [110.0, -700.0, 20.0]),
        ("W.C".into(), None, 0, Some("WC"), [105.0, 0.0, 10.0]),
        ("W.R".into(), None, 0, Some("WR"), [110.0, 700.0, 20.0]),
        ("F".into(), None, 3, Some("FU"), [300.0, 0.0, -20.0]),
        ("JN.L".into(), None, 6, None, [75.0, -350.0, 15.0]),
        ("JN.R".into(), None, 6, None, [75.0, 350.0, 15.0]),
    ];
    for (panel, side) in [("WL", -1.0), ("WC", 0.0), ("WR", 1.0)] {
        for (number, at) in [("1", 60.0), ("2", 65.0)] {
            list.push((format!("SV{number}"), Some(panel), 1, None, [at, side * 500.0, 8.0]));
            list.push((format!("CH{number}"), Some(panel), 2, None, [at, side * 350.0, 8.0]));
            list.push((format!("HN{number}"), Some(panel), 8, None, [at + 60.0, side * 480.0, 2.0]));
        }
    }
    for (path, part, at) in [
        ("RX", 4, -60.0),
        ("PK", 5, -198.0),
        ("SVE", 1, 100.0),
        ("SVR", 1, 120.0),
        ("TF", 7, 900.0),
        ("SW", 8, -90.0),
    ] {
        list.push((path.into(), Some("FU"), part, None, [at, 0.0, -15.0]));
    }
    assert_eq!(list.len(), SEATS);
    list
}

/// What the club begins with: members, design, part types, programme, models, components in their seats.
pub fn beginning(extent: Extent) -> Vec<Fact> {
    let seats = seats();
    let mut list = Vec::new();
    for number in 0..MEMBERS {
        // The first member was there before, from setting the club up.
        let roles = json!(["pilot", "builder", "inspector", "keeper"]);
        list.push(fact(
            "members",
            json!({"id": id(MEMBER, number), "tag": format!("M{number}"), "roles": roles}),
        ));
    }
    for (number, (tag, kind, mass_g)) in (0..).zip(PARTS) {
        let mut part = json!({"id": id(PART, number), "tag": tag, "kind": kind, "tracking": "serial_and_batch",
                              "nominal_mass_g": mass_g});
        if kind == "pack" {
            part["rated_capacity_mah"] = json!(800);
        }
        list.push(fact("parts", part));
    }
    let positions: Vec<Value> = seats
        .iter()
        .map(|(path, inside, part, holds, [x, y, z])| {
            let kind = PARTS[*part].1;
            let mut seat = json!({"path": path, "name": path, "kind": kind.replace('_', " "), "accepts": kind,
                "is_required": true, "x_mm": x, "y_mm": y, "z_mm": z});
            if let Some(inside) = inside {
                seat["inside"] = json!(inside);
            }
            if let Some(holds) = holds {
                seat["seat"] = json!(holds);
            }
            seat
        })
        .collect();
    list.push(fact("designs", json!({
        "id": id(DESIGN, 0), "tag": "DEEP", "datum": "root leading edge", "span_m": 3.0, "wing_area_dm2": 60.0,
        "tail_area_dm2": 5.0, "mac_mm": 210.0, "mac_leading_edge_x_mm": 15.0, "cg_min_mm": 60.0, "cg_max_mm": 240.0,
        "nose_weight_x_mm": -330.0, "positions": positions,
    })));
    let groups: Vec<Value> = GROUPS
        .iter()
        .map(|(code, count, days)| {
            let mut group = json!({"code": code, "name": code, "every_days": days, "tolerance_days": 10});
            if let Some((counter, every)) = count {
                group["counter"] = json!(counter);
                group["every_count"] = json!(every);
                group["tolerance_count"] = json!(every / 10);
            }
            group
        })
        .collect();
    list.push(fact(
        "programmes",
        json!({"id": id(PROGRAMME, 0), "tag": "EIGHT", "title": "Eight groups",
                                        "groups": groups, "items": []}),
    ));
    for number in 0..u128::from(extent.models) {
        list.push(fact("models", json!({
            "id": id(MODEL, number), "tag": format!("L-{number}"), "ownership": "club", "design": id(DESIGN, 0),
            "first_flight_on": "2023-11-01",
        })));
    }
    for number in 0..u128::from(extent.models) {
        components_of(number, &seats, &mut list);
    }
    list
}

fn components_of(model: u128, seats: &[Seat], list: &mut Vec<Fact>) {
    let number_of = |place: usize| model * SEATS as u128 + place as u128;
    for (place, (_, _, part, holds, _)) in seats.iter().enumerate() {
        let (tag, _, mass_g) = PARTS[*part];
        // No two are alike, so that an exchange moves something.
        let scatter_g = mass_g * 0.02 * ((model * 7 + place as u128 * 3) % 11) as f64 / 10.0;
        let mut component = json!({
            "id": id(COMPONENT, number_of(place)), "tag": format!("{tag}-{model}-{place}"),
            "part": id(PART, *part as u128), "mass_g": mass_g + scatter_g, "state": "serviceable",
            "batch": format!("B{}", model % 12),
        });
        if let Some(holds) = holds {
            component["seat"] = json!(holds);
            component["design"] = json!(id(DESIGN, 0));
        }
        list.push(fact("components", component));
    }
    for (place, (path, inside, ..)) in seats.iter().enumerate() {
        let inside = match inside {
            None => json!({"model": id(MODEL, model)}),
            Some(seat) => {
                let holder = seats.iter().position(|other| other.3 == Some(*seat)).unwrap();
                json!({"component": id(COMPONENT, number_of(holder))})
            }
        };
        list.push(fact("installations", json!({
            "id": id(INSTALLATION, number_of(place)), "component": id(COMPONENT, number_of(place)), "inside": inside,
            "position": path, "occurred_at": start(), "is_start_of_record": true,
        })));
    }
}

/// The moment of a model's usage: evenly over the seasons, models a little apart.
fn moment(extent: Extent, model: u32, index: u32) -> Instant {
    let span_us = DAYS * DAY_US;
    let into = span_us / i64::from(extent.usage) * i64::from(index) + i64::from(model) * 1_000_000;
    Instant::from_micros(start().micros() + 3_600_000_000 + into)
}

fn flight(model_number: u32, number: u32, at: Instant) -> Fact {
    // Another number for each, the same for every benchmark.
    let salt = model_number.wrapping_mul(2_654_435_761).wrapping_add(number.wrapping_mul(40_503));
    Fact::Flight(Flight {
        id: FlightId(uuid(FLIGHT, u128::from(model_number) * 10_000_000 + u128::from(number))),
        tag: None,
        model: model(model_number),
        pilot: member(model_number),
        occurred_at: at,
        launches: 1 + salt % 3,
        airtime_min: f64::from(2 + salt % 18),
        motor_s: salt % 30,
        is_landing_flap_used: false,
        landing: Landing::Normal,
        is_post_flight_logged: true,
        note: None,
    })
}

/// One more flight, later than all others.
pub fn later_flight(model: u32, number: u32, at: Instant) -> Fact {
    flight(model, 5_000_000 + number, at)
}

/// A flight with an id of its own, logged by the keeper; it lasts a moment, so that none begins in the air of another.
pub fn short_flight(number: u32, at: Instant) -> Fact {
    let Fact::Flight(like) = flight(number, 0, at) else { unreachable!("it is a flight") };
    Fact::Flight(Flight { id: FlightId(Uuid::now_v7()), airtime_min: 0.01, pilot: member(0), ..like })
}

/// Flights, riggings and checks of all models, model by model, each in the order of time.
pub fn usage(extent: Extent) -> impl Iterator<Item = Fact> {
    (0..extent.models).flat_map(move |model| usage_of(extent, model))
}

fn usage_of(extent: Extent, number: u32) -> Vec<Fact> {
    let mut list = Vec::with_capacity(extent.usage as usize + GROUPS.len() * extent.checks as usize);
    let (mut flights, mut riggings) = (0, 0);
    for index in 0..extent.usage {
        let at = moment(extent, number, index);
        if index % (FLIGHTS_A_RIGGING + 1) == 0 && riggings < extent.riggings() {
            let id = uuid(RIGGING, u128::from(number) * 10_000_000 + u128::from(index));
            list.push(Fact::Rigging(Rigging {
                id: RiggingId(id),
                tag: None,
                model: model(number),
                occurred_at: at,
                cycles: 1,
                note: None,
            }));
            riggings += 1;
        } else {
            list.push(flight(number, flights, at));
            flights += 1;
        }
    }
    assert_eq!((flights, riggings), (extent.flights(), extent.riggings()));
    for (place, (code, ..)) in (0..).zip(GROUPS) {
        for time in 0..extent.checks {
            // Some groups were done lately, some long ago, so that a few are due and most are not.
            let index = extent.usage / (extent.checks + 1) * (time + 1)
                + (number * 13 + place * 29) % extent.usage / 9;
            let at = moment(extent, number, index.min(extent.usage - 1)).micros() + 1_800_000_000;
            let key = (u128::from(number) * 8 + u128::from(place)) * 1_000 + u128::from(time);
            list.push(fact("inspections", json!({
                "id": id(CHECK, key), "model": model(number), "group": code, "programme": id(PROGRAMME, 0),
                "occurred_at": Instant::from_micros(at), "result": "pass", "is_summary": true, "items": [],
                "inspected_by": member(number + 1),
            })));
        }
    }
    list
}
