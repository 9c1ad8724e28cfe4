//! What every random history begins with: members, two designs, part types, models, parts and a programme with
//! short intervals, so that much falls due.

use std::collections::BTreeMap;

use preen_domain::{
    facts::{Design, Fact, Programme},
    ids::{MemberId, ModelId, PartId},
    time::Instant,
};
use serde_json::{Value, json};
use uuid::Uuid;

pub const MEMBERS: u128 = 5;
/// Models of a group: those of a small world.
pub const MODELS: u128 = 4;

/// In each group of four, models 0 to 2 are of the first design and exchange panels, model 3 is of the second.
pub fn model(number: u128) -> ModelId {
    ModelId(Uuid::from_u128(IDS + MODEL + number))
}

pub fn member(number: u128) -> MemberId {
    MemberId(Uuid::from_u128(IDS + MEMBER + number % MEMBERS))
}

/// Whether a model is launched by hand.
pub fn is_hand_launched(number: u128) -> bool {
    number % MODELS == 3
}

/// Start of the record.
pub fn start() -> Instant {
    "2025-04-01T06:00:00Z".parse().unwrap()
}

/// The service's clock when everything is recorded: nothing happens after it.
pub fn end() -> Instant {
    "2027-06-01T00:00:00Z".parse().unwrap()
}

/// Ids look like those that clients make.
const IDS: u128 = 0x0197_0a3b_0000_7000_8000_0000_0000_0000;
const MEMBER: u128 = 0x100;
const DESIGN: u128 = 0x200;
const PART: u128 = 0x400;
const PROGRAMME: u128 = 0x500;
const MODEL: u128 = 0x1_0000;
const COMPONENT: u128 = 0x10_0000;
const INSTALLATION: u128 = 0x20_0000;

/// Part types: tag, kind, whether a batch stands on them.
const PARTS: [(&str, &str); 9] = [
    ("SV", "servo"),
    ("RX", "receiver"),
    ("PK", "pack"),
    ("JN", "joiner"),
    ("PN", "panel"),
    ("FU", "fuselage"),
    ("CH", "connector_half"),
    ("AL", "altimeter"),
    ("SW", "servo"),
];

fn id(number: u128) -> String {
    Uuid::from_u128(IDS + number).to_string()
}

fn fact(noun: &str, json: Value) -> Fact {
    Fact::from_json(noun.parse().unwrap(), json.clone())
        .unwrap_or_else(|error| panic!("{noun}: {error}: {json}"))
}

/// How large a world is.
#[derive(Clone, Copy, Debug)]
pub struct Extent {
    /// Groups of four models.
    pub groups: u128,
    /// Hand-launched models beside them.
    pub more: u128,
}

impl Extent {
    /// The small world: one group.
    pub const SMALL: Self = Self { groups: 1, more: 0 };

    /// How many models there are.
    pub fn models(self) -> u128 {
        self.groups * MODELS + self.more
    }

    /// The number of a model by its place among all. Numbers of hand-launched models beside the groups skip three.
    pub fn number(self, place: u128) -> u128 {
        if place < self.groups * MODELS { place } else { MODELS * (place - self.groups * (MODELS - 1)) + 3 }
    }
}

/// Everything that a world begins with.
pub fn facts(extent: Extent) -> Vec<Fact> {
    let mut list = Vec::new();
    for number in 0..MEMBERS {
        let tag = format!("M{number}");
        list.push(fact(
            "members",
            json!({"id": id(MEMBER + number), "tag": tag, "roles": ["pilot", "inspector"]}),
        ));
    }
    list.push(design(0.0).into());
    list.push(fact("designs", hand_launch()));
    for (number, (tag, kind)) in (0..).zip(PARTS) {
        let mut part = json!({"id": id(PART + number), "tag": tag, "kind": kind, "tracking": "serial_and_batch",
                              "nominal_mass_g": 10.0});
        if kind == "pack" {
            part["rated_capacity_mah"] = json!(800);
        }
        list.push(fact("parts", part));
    }
    for number in (0..extent.models()).map(|place| extent.number(place)) {
        list.push(model_version(number, number, "first"));
    }
    list.push(programme([2, 7], "due_point_inside_tolerance").into());
    list.extend(components(extent));
    list.extend(installations(extent));
    list
}

/// A version of a model's own data; tags may go from one model to another.
pub fn model_version(number: u128, tag: u128, note: &str) -> Fact {
    let mut model = json!({
        "id": id(MODEL + number), "tag": format!("A-{tag}"), "ownership": "club",
        "design": id(DESIGN + u128::from(is_hand_launched(number))), "first_flight_on": "2025-03-01", "note": note,
    });
    if number % MODELS < 2 {
        model["ownership"] = json!("member");
        model["owner"] = json!(member(number));
    }
    fact("models", model)
}

fn seat(
    path: &str,
    inside: Option<&str>,
    kind: &str,
    accepts: &str,
    holds: Option<&str>,
    x: [f64; 3],
) -> Value {
    let is_required = accepts != "altimeter" && accepts != "connector_half";
    let mut seat = json!({
        "path": path, "name": path, "kind": kind, "accepts": accepts, "is_required": is_required,
        "x_mm": x[0], "y_mm": x[1], "z_mm": x[2],
    });
    if let Some(inside) = inside {
        seat["inside"] = json!(inside);
    }
    if let Some(holds) = holds {
        seat["seat"] = json!(holds);
    }
    seat
}

/// The first design: tips in wing panels, three levels deep. Versions differ in their range of balance.
///
/// With `only` a number, its flap servos and its receiver are of the part types of that number and the receivers'.
pub fn design_taking(cg_shift_mm: f64, only: Option<u128>) -> Design {
    let mut design = design(cg_shift_mm);
    for position in &mut design.positions {
        match (only, position.kind.as_str()) {
            (Some(only), "flap servo") => position.parts = vec![PartId(Uuid::from_u128(IDS + PART + only))],
            (Some(_), "receiver") => position.parts = vec![PartId(Uuid::from_u128(IDS + PART + 1))],
            _ => {}
        }
    }
    design
}

/// The first design without any part type named.
pub fn design(cg_shift_mm: f64) -> Design {
    let positions = vec![
        seat("W.L", None, "wing panel", "panel", Some("WL"), [110.0, -500.0, 20.0]),
        seat("W.R", None, "wing panel", "panel", Some("WR"), [110.0, 500.0, 20.0]),
        seat("W.J", None, "joiner", "joiner", None, [75.0, 0.0, 15.0]),
        seat("F", None, "fuselage", "fuselage", Some("FU"), [300.0, 0.0, -20.0]),
        seat("FS", Some("WL"), "flap servo", "servo", None, [62.0, -95.0, 8.0]),
        seat("FS", Some("WR"), "flap servo", "servo", None, [62.0, 95.0, 8.0]),
        seat("CN", Some("WL"), "connector", "connector_half", None, [60.0, -20.0, 8.0]),
        seat("TIP", Some("WL"), "tip panel", "panel", Some("TL"), [105.0, -1100.0, 60.0]),
        seat("TIP", Some("WR"), "tip panel", "panel", Some("TR"), [105.0, 1100.0, 60.0]),
        seat("AS", Some("TL"), "aileron servo", "servo", None, [70.0, -1000.0, 55.0]),
        seat("AS", Some("TR"), "aileron servo", "servo", None, [70.0, 1000.0, 55.0]),
        seat("RX", Some("FU"), "receiver", "receiver", None, [-60.0, 0.0, -15.0]),
        seat("PK", Some("FU"), "pack", "pack", None, [-198.0, 0.0, -15.0]),
        seat("ALT", Some("FU"), "altimeter", "altimeter", None, [-20.0, 0.0, -10.0]),
    ];
    let json = json!({
        "id": id(DESIGN), "tag": "FIRST", "datum": "root leading edge", "span_m": 2.9, "wing_area_dm2": 55.0,
        "tail_area_dm2": 5.0, "mac_mm": 200.0, "mac_leading_edge_x_mm": 15.0, "cg_min_mm": 92.0 + cg_shift_mm,
        "cg_max_mm": 100.0 + cg_shift_mm, "nose_weight_x_mm": -330.0, "positions": positions,
    });
    serde_json::from_value(json).unwrap()
}

fn hand_launch() -> Value {
    let positions = vec![
        seat("AS.L", None, "aileron servo", "servo", None, [40.0, -30.0, 0.0]),
        seat("AS.R", None, "aileron servo", "servo", None, [40.0, 30.0, 0.0]),
        seat("RX", None, "receiver", "receiver", None, [20.0, 0.0, -5.0]),
        seat("PK", None, "pack", "pack", None, [-60.0, 0.0, -5.0]),
    ];
    json!({
        "id": id(DESIGN + 1), "tag": "SECOND", "datum": "root leading edge", "span_m": 1.5, "wing_area_dm2": 21.0,
        "tail_area_dm2": 3.0, "mac_mm": 146.0, "mac_leading_edge_x_mm": 9.0, "cg_min_mm": 60.0, "cg_max_mm": 80.0,
        "positions": positions,
    })
}

/// The programme; its tolerances (counts, days) and its re-basing may be another.
pub fn programme(tolerance: [u32; 2], rebasing: &str) -> Programme {
    let group = |code: &str, more: Value| {
        let mut group = json!({"code": code, "name": code, "rebasing": rebasing});
        let is_interval = more.get("every_days").is_some() || more.get("every_months").is_some();
        if is_interval {
            group["tolerance_days"] = json!(tolerance[1]);
            if more.get("every_count").is_some() {
                group["tolerance_count"] = json!(tolerance[0]);
            }
        }
        for (key, value) in more.as_object().unwrap() {
            group[key] = value.clone();
        }
        group
    };
    let item = |code: &str, group: &str, if_failed: &str| json!({"code": code, "group": group, "text": code, "pass": "good", "if_failed": if_failed});
    let json = json!({
        "id": id(PROGRAMME), "tag": "SHORT", "title": "Short intervals",
        "groups": [
            group("PF", json!({"opened_by": "each_flight"})),
            group("DF", json!({"opened_by": "each_flying_day"})),
            group("RG", json!({"opened_by": "each_rigging"})),
            group("HL", json!({"opened_by": "hard_landing"})),
            group("SW", json!({"opened_by": "part_swap"})),
            group("RP", json!({"opened_by": "repair"})),
            group("TR", json!({"opened_by": "transport"})),
            group("N25", json!({"counter": "flights", "every_count": 6, "every_days": 60})),
            group("LA", json!({"counter": "launches", "every_count": 40, "every_months": 2})),
            group("AH", json!({"counter": "airtime_h", "every_count": 3, "every_days": 90})),
            group("RF30", json!({"every_days": 30, "opened_by": "radio_change"})),
            group("JN40", json!({"counter": "riggings", "every_count": 8, "every_months": 6, "applies_to": "joiner"})),
            group("CN50", json!({"counter": "matings", "every_count": 9, "every_months": 12,
                                 "applies_to": "connector_half"})),
            group("PK20", json!({"counter": "charges", "every_count": 5, "every_days": 90, "applies_to": "pack"})),
        ],
        "items": [
            item("DF-04", "DF", "R"), item("DF-05", "DF", "G"), item("DF-12", "DF", "W; contest G"),
            item("PF-05", "PF", "loose R; rub W"), item("PF-12", "PF", "W"),
            item("RG-01", "RG", "G"), item("RG-02", "RG", "G"), item("RG-03", "RG", "W; over 30 N R"),
            item("JN-01", "JN40", "R"), item("JN-02", "JN40", "by value"), item("JN-03", "JN40", "G if cracked; marks W"),
            item("SW-04", "SW", "R"), item("SW-06", "SW", "R"), item("N25-05", "N25", "R"),
            {"code": "N25-01", "group": "N25", "text": "free play", "pass": "small", "if_failed": "by value",
             "limits": [
                {"quantity": "servo_free_play", "position_kinds": ["flap servo"], "unit": "deg",
                 "direction": "at_or_above", "watch": 0.8, "restrict": 1.0, "ground": 1.2},
                {"quantity": "servo_free_play", "position_kinds": ["aileron servo"], "unit": "deg",
                 "direction": "above", "watch": 0.9, "restrict": 1.1, "ground": 1.3},
                {"quantity": "capacity_of_rated", "unit": "%", "direction": "at_or_below", "watch": 85.0, "ground": 70.0},
                {"quantity": "lead_slack", "unit": "mm", "direction": "at_or_below", "watch": 10.0, "restrict": 5.0,
                 "ground": 0.0},
             ]},
        ],
    });
    serde_json::from_value(json).unwrap()
}

/// Parts: tag, number of the part type, seat code, mass. Those of a group are numbered one after the other.
fn inventory(extent: Extent) -> Vec<(String, u128, Option<&'static str>, f64)> {
    let mut list = Vec::new();
    let mut add = |count: u32, name: &str, part: u128, seat: Option<&'static str>, mass_g: f64| {
        let step_g = if name == "PK" { 7.0 } else { 0.37 };
        for group in 0..extent.groups {
            for number in 0..count {
                let tag = format!("{name}{}", group * u128::from(count) + u128::from(number));
                list.push((tag, part, seat, mass_g + step_g * f64::from(number)));
            }
        }
    };
    add(3, "WL", 4, Some("WL"), 250.0);
    add(3, "WR", 4, Some("WR"), 251.0);
    add(4, "TL", 4, Some("TL"), 119.0);
    add(4, "TR", 4, Some("TR"), 120.0);
    add(3, "FU", 5, Some("FU"), 330.0);
    add(4, "JN", 3, None, 25.0);
    add(16, "SV", 0, None, 10.4);
    add(5, "RX", 1, None, 9.1);
    add(6, "PK", 2, None, 90.0);
    add(4, "CH", 6, None, 4.0);
    add(2, "AL", 7, None, 5.6);
    add(3, "SW", 8, None, 9.8);
    for number in 0..extent.more {
        for (name, part, mass_g) in [("SH", 0, 8.0), ("SI", 0, 8.1), ("RH", 1, 6.0), ("PH", 2, 30.0)] {
            list.push((format!("{name}{number}"), part, None, mass_g));
        }
    }
    list
}

fn components(extent: Extent) -> Vec<Fact> {
    let mut list = Vec::new();
    for (number, (tag, part, seat, mass_g)) in (0..).zip(inventory(extent)) {
        let state = if tag == "PK5" { "new_untested" } else { "serviceable" };
        let mut component = json!({
            "id": id(COMPONENT + number), "tag": tag, "part": id(PART + part), "mass_g": mass_g, "state": state,
        });
        if let Some(seat) = seat {
            component["seat"] = json!(seat);
            component["design"] = json!(id(DESIGN));
        }
        if part == 0 {
            component["batch"] = json!(if number % 3 == 0 { "B" } else { "A" });
        }
        list.push(fact("components", component));
    }
    list
}

/// The start of the record: every model is whole but model 2, of which the right panel is missing.
fn installations(extent: Extent) -> Vec<Fact> {
    let mut seats: Vec<(String, Value, &str)> = Vec::new();
    let numbers: BTreeMap<String, u128> =
        (0..).zip(inventory(extent)).map(|(number, (tag, ..))| (tag, number)).collect();
    let component = |tag: &str| id(COMPONENT + numbers[tag]);
    let inside_model = |number: u128| json!({"model": id(MODEL + number)});
    let inside = |tag: String| json!({"component": component(&tag)});
    for group in 0..extent.groups {
        for of_group in 0..3 {
            let (model, number) = (MODELS * group + of_group, 3 * group + of_group);
            let (tip, joiner) = (4 * group + of_group, 4 * group + of_group);
            let (receiver, pack, servo) =
                (5 * group + of_group, 6 * group + of_group, 16 * group + 4 * of_group);
            for (tag, path) in [
                (format!("WL{number}"), "W.L"),
                (format!("WR{number}"), "W.R"),
                (format!("FU{number}"), "F"),
                (format!("JN{joiner}"), "W.J"),
            ] {
                if (model, path) != (2, "W.R") {
                    seats.push((tag, inside_model(model), path));
                }
            }
            seats.push((format!("TL{tip}"), inside(format!("WL{number}")), "TIP"));
            seats.push((format!("TR{tip}"), inside(format!("WR{number}")), "TIP"));
            seats.push((format!("RX{receiver}"), inside(format!("FU{number}")), "RX"));
            seats.push((format!("PK{pack}"), inside(format!("FU{number}")), "PK"));
            seats.push((format!("SV{servo}"), inside(format!("WL{number}")), "FS"));
            seats.push((format!("SV{}", servo + 1), inside(format!("WR{number}")), "FS"));
            seats.push((format!("SV{}", servo + 2), inside(format!("TL{tip}")), "AS"));
            seats.push((format!("SV{}", servo + 3), inside(format!("TR{tip}")), "AS"));
        }
        let (servo, receiver, pack) = (16 * group + 12, 5 * group + 3, 6 * group + 3);
        for (tag, path) in [
            (format!("SV{servo}"), "AS.L"),
            (format!("SV{}", servo + 1), "AS.R"),
            (format!("RX{receiver}"), "RX"),
            (format!("PK{pack}"), "PK"),
        ] {
            seats.push((tag, inside_model(MODELS * group + 3), path));
        }
    }
    for number in 0..extent.more {
        let model = extent.number(extent.groups * MODELS + number);
        for (name, path) in [("SH", "AS.L"), ("SI", "AS.R"), ("RH", "RX"), ("PH", "PK")] {
            seats.push((format!("{name}{number}"), inside_model(model), path));
        }
    }
    let fit = |(number, (tag, inside, path)): (u128, (String, Value, &str))| {
        fact(
            "installations",
            json!({"id": id(INSTALLATION + number), "component": component(&tag), "inside": inside,
                   "position": path, "occurred_at": start().to_string(), "is_start_of_record": true}),
        )
    };
    (0..).zip(seats).map(fit).collect()
}
