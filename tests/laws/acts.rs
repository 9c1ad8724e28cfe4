//! What may happen in a club: each act turns random numbers into one or two facts and tries to record them.

use chrono::Days;
use preen_domain::{
    facts::{Fact, Inside, Noun, Subject},
    ids::ComponentId,
    time::{Instant, day_of},
    words::PartKind,
};
use serde_json::{Value, json};

use crate::{
    campaign_acts::{campaign, close_campaign, look_for_campaign},
    check_acts::inspect,
    defect_acts::{close, defer, find_defect, is_closed, look_at},
    history::{History, Roll},
    world,
};

/// Lets one thing happen.
pub fn act(history: &mut History, roll: &mut Roll, in_the_past: bool) {
    // In a club of many models each lives about as fast as in a small one.
    let pause_s = 16 * 86_400 / history.models();
    history.cursor = history.cursor.plus_seconds(i64::from(roll.below(pause_s)));
    let at = if in_the_past && roll.percent(20) {
        let back = i64::from(roll.below(90 * 86_400));
        world::start().plus_seconds(1).max(history.cursor.plus_seconds(-back))
    } else {
        history.cursor
    };
    match roll.below(100) {
        0..5 => overhaul(history, roll, at),
        5..6 => look_for_campaign(history, roll, at),
        6..7 => close_campaign(history, roll, at),
        7..30 => fly(history, roll, at),
        30..36 => record(
            history,
            roll,
            "riggings",
            at,
            |history, roll| json!({"model": model(history, roll), "cycles": 1 + roll.below(2)}),
        ),
        36..44 => exchange(history, roll, at),
        44..48 => fit(history, roll, at),
        48..50 => take_out(history, roll, at),
        50..62 => inspect(history, roll, at),
        62..67 => measure(history, roll, at),
        67..68 => record(history, roll, "weighings", at, |history, roll| {
            json!({"model": model(history, roll), "mass_g": 1200.0 + f64::from(roll.below(500)) / 10.0,
                   "x_mm": 90.0 + f64::from(roll.below(120)) / 10.0, "u_x_mm": 0.3})
        }),
        68..72 => find_defect(history, roll, at),
        72..75 => defer(history, roll, at),
        75..76 => close(history, roll, at),
        76..78 => repair(history, roll, at),
        78..81 => release(history, roll, at),
        81..82 => work(history, roll, at),
        82..83 => lend(history, roll, at),
        83..84 => bring_back(history, roll, at),
        84..86 => campaign(history, roll, at),
        86..87 => record(history, roll, "conditions", at, |history, roll| {
            let states = ["serviceable", "serviceable", "held", "in_repair", "unserviceable"];
            json!({"component": component(history, roll), "state": roll.pick(&states), "reason": "looked at"})
        }),
        87..90 => record(
            history,
            roll,
            "charges",
            at,
            |history, roll| json!({"component": of_kind(history, roll, PartKind::Pack)}),
        ),
        90..93 => record(history, roll, "events", at, |history, roll| {
            let kinds =
                ["transport", "case_fallen", "radio_change", "laid_up", "returned_to_flying", "storage"];
            json!({"model": model(history, roll), "kind": roll.pick(&kinds)})
        }),
        93..95 if in_the_past => new_version(history, roll),
        95..100 if in_the_past => correct(history, roll),
        _ => {}
    }
}

/// Records what the rules accept.
pub fn record(
    history: &mut History,
    roll: &mut Roll,
    noun: &str,
    at: Instant,
    body: impl Fn(&History, &mut Roll) -> Value,
) {
    try_record(history, roll, noun, at, body);
}

/// Records what the rules accept and says whether they did.
fn try_record(
    history: &mut History,
    roll: &mut Roll,
    noun: &str,
    at: Instant,
    body: impl Fn(&History, &mut Roll) -> Value,
) -> bool {
    let mut body = body(history, roll);
    body["id"] = json!(history.id());
    body["occurred_at"] = json!(at);
    let fact = Fact::from_json(noun.parse().unwrap(), body.clone());
    let fact = fact.unwrap_or_else(|error| panic!("{noun}: {error}: {body}"));
    history.record(fact, u128::from(roll.below(5)))
}

pub fn model(history: &History, roll: &mut Roll) -> Value {
    json!(world::model(history.any_model(roll)))
}

pub fn member(roll: &mut Roll) -> Value {
    json!(world::member(u128::from(roll.below(5))))
}

pub fn component(history: &History, roll: &mut Roll) -> Option<ComponentId> {
    let all: Vec<ComponentId> = history.fleet.components().map(|(id, _)| id).collect();
    roll.pick(&all)
}

pub fn of_kind(history: &History, roll: &mut Roll, kind: PartKind) -> Option<ComponentId> {
    let is_kind = |id: &ComponentId| history.fleet.part_of(*id).is_some_and(|part| part.kind == kind);
    let all: Vec<ComponentId> = history.fleet.components().map(|(id, _)| id).filter(is_kind).collect();
    roll.pick(&all)
}

fn fly(history: &mut History, roll: &mut Roll, at: Instant) {
    record(history, roll, "flights", at, |history, roll| {
        let number = history.any_model(roll);
        let launches = if world::is_hand_launched(number) { 1 + roll.below(15) } else { 1 };
        let landing = if roll.percent(6) { "hard" } else { "soft" };
        let mut flight = json!({
            "model": world::model(number), "pilot": member(roll), "launches": launches, "landing": landing,
            "airtime_min": f64::from(roll.below(400)) / 10.0, "motor_s": roll.below(60),
            "is_post_flight_logged": roll.percent(90),
        });
        if roll.percent(50) {
            flight["tag"] = json!(format!("FL{}", roll.below(1_000_000)));
        }
        flight
    });
}

/// Every position that exists, with its holder.
fn seats(history: &History) -> Vec<(Inside, String, PartKind, Option<String>)> {
    let fleet = &history.fleet;
    let models = fleet
        .models()
        .filter_map(|(id, file)| Some((Inside::Model(id), file.model.as_ref()?.fact.design, None)));
    let panels = fleet.components().filter_map(|(id, file)| {
        let data = &file.component.as_ref()?.fact;
        Some((Inside::Component(id), data.design?, Some(data.seat.clone()?)))
    });
    let mut list = Vec::new();
    for (inside, design, seat) in models.chain(panels) {
        for position in fleet.positions(design, seat.as_ref()) {
            let holds = position.seat.as_ref().map(ToString::to_string);
            list.push((inside, position.path.to_string(), position.accepts, holds));
        }
    }
    list
}

fn seat_for(history: &History, roll: &mut Roll, component: ComponentId) -> Option<(Inside, String)> {
    let kind = history.fleet.part_of(component)?.kind;
    let seat = history.fleet.component_data(component)?.seat.as_ref().map(ToString::to_string);
    let fitting: Vec<(Inside, String)> = seats(history)
        .into_iter()
        .filter(|(_, _, accepts, holds)| *accepts == kind && *holds == seat)
        .map(|(inside, path, ..)| (inside, path))
        .collect();
    roll.pick(&fitting)
}

fn fit(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(component) = component(history, roll) else { return };
    let Some((inside, path)) = seat_for(history, roll, component) else { return };
    record(
        history,
        roll,
        "installations",
        at,
        |_, _| json!({"component": component, "inside": inside, "position": path}),
    );
}

/// What sits somewhere at a moment: installation, component, holder and position.
pub fn fitted(history: &History, at: Instant) -> Vec<(Value, ComponentId, Inside, String)> {
    let mut list = Vec::new();
    for (id, file) in history.fleet.components() {
        for span in file.spans.iter().filter(|span| span.holds_at(at) && span.to.is_none()) {
            list.push((json!(span.installation), id, span.inside, span.position.to_string()));
        }
    }
    list
}

fn take_out(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some((installation, component, ..)) = roll.pick(&fitted(history, at)) else { return };
    record(
        history,
        roll,
        "removals",
        at,
        |_, _| json!({"installation": installation, "component": component, "reason": "suspected"}),
    );
}

/// One part off; another of its kind on in the same place at the same moment, loose or taken from elsewhere.
fn exchange(history: &mut History, roll: &mut Roll, at: Instant) {
    let all = fitted(history, at);
    let Some((installation, off, inside, path)) = roll.pick(&all) else { return };
    let fleet = &history.fleet;
    let is_like = |id: &ComponentId| {
        *id != off
            && fleet.part_of(*id).map(|part| part.kind) == fleet.part_of(off).map(|part| part.kind)
            && fleet.component_data(*id).map(|data| &data.seat)
                == fleet.component_data(off).map(|data| &data.seat)
    };
    let like: Vec<ComponentId> = fleet.components().map(|(id, _)| id).filter(is_like).collect();
    let Some(on) = roll.pick(&like) else { return };
    let removal = |installation: Value, component| json!({"installation": installation, "component": component, "reason": "preventive"});
    if !try_record(history, roll, "removals", at, |_, _| removal(installation.clone(), off)) {
        return;
    }
    if let Some((elsewhere, ..)) = all.iter().find(|(_, id, ..)| *id == on)
        && !try_record(history, roll, "removals", at, |_, _| removal(elsewhere.clone(), on))
    {
        return;
    }
    record(
        history,
        roll,
        "installations",
        at,
        |_, _| json!({"component": on, "inside": inside, "position": path}),
    );
}

/// Defects, repairs and loans to be put in order with a model: in a small club all, in a large one its own.
fn of_model(history: &History, noun: Noun, number: u128) -> Vec<uuid::Uuid> {
    if history.models() == 4 {
        return history.ids(noun);
    }
    let model = world::model(number);
    let carried: Vec<ComponentId> =
        history.fleet.fitted(model, history.cursor).iter().map(|fitted| fitted.id).collect();
    let is_here = |subject: Subject| match subject {
        Subject::Model(of) => of == model,
        Subject::Component(part) => carried.contains(&part),
    };
    let is_its_own = |fact: &Fact| match fact {
        Fact::Defect(defect) => is_here(defect.subject),
        Fact::Repair(repair) => {
            repair.model == model || repair.components.iter().any(|part| carried.contains(part))
        }
        Fact::Loan(loan) => is_here(loan.item),
        _ => false,
    };
    let facts = history.facts.iter().map(|recorded| &recorded.fact);
    facts.filter(|fact| fact.noun() == noun && is_its_own(fact)).map(Fact::id).collect()
}

/// A model is put in order: every group passed, every defect closed, every repair released, everything brought back,
/// weighed at last.
fn overhaul(history: &mut History, roll: &mut Roll, at: Instant) {
    let number = history.any_model(roll);
    put_in_order(history, roll, at, number);
}

/// The same for the model of a number.
pub fn put_in_order(history: &mut History, roll: &mut Roll, at: Instant, number: u128) {
    let on = json!(world::model(number));
    for group in ["DF", "PF", "RG", "HL", "SW", "RP", "TR", "N25", "LA", "AH", "RF30", "JN40", "CN50", "PK20"]
    {
        record(
            history,
            roll,
            "inspections",
            at,
            |_, _| json!({"model": on, "group": group, "result": "pass", "is_summary": true}),
        );
    }
    for defect in of_model(history, Noun::Defects, number) {
        if is_closed(history, defect) {
            continue;
        }
        let closing = |kind: &str| json!({"defect": defect, "kind": kind, "text": "put in order"});
        if !try_record(history, roll, "closures", at, |_, _| closing("check_passed")) {
            look_at(history, roll, defect, at);
            record(history, roll, "closures", at, |_, _| closing("found_wrong"));
        }
    }
    for repair in of_model(history, Noun::Repairs, number) {
        if roll.percent(60) {
            record(history, roll, "repair-steps", at, |history, roll| work_on(history, roll, repair));
        }
        record(
            history,
            roll,
            "inspections",
            at,
            |_, _| json!({"model": on, "group": "RP", "result": "pass", "is_summary": true}),
        );
        record(
            history,
            roll,
            "releases",
            at,
            |_, roll| json!({"repair": repair, "second_person": member(roll)}),
        );
    }
    for loan in of_model(history, Noun::Loans, number) {
        record(history, roll, "loan-returns", at, |_, _| json!({"loan": loan}));
    }
    record(
        history,
        roll,
        "weighings",
        at,
        |_, _| json!({"model": on, "mass_g": 1240.0, "x_mm": 96.0, "u_x_mm": 0.3}),
    );
}

fn measure(history: &mut History, roll: &mut Roll, at: Instant) {
    record(history, roll, "measurements", at, |history, roll| {
        let kind =
            roll.pick(&[PartKind::Servo, PartKind::Servo, PartKind::Pack, PartKind::ConnectorHalf]).unwrap();
        let subject = json!({"component": of_kind(history, roll, kind)});
        match kind {
            PartKind::Servo => {
                let value = f64::from(2 + roll.below(13)) / 10.0;
                json!({"subject": subject, "quantity": "servo_free_play", "unit": "deg", "values": [value]})
            }
            PartKind::Pack => {
                let value = f64::from(480 + 8 * roll.below(40));
                json!({"subject": subject, "quantity": "capacity", "unit": "mAh", "values": [value, value + 8.0]})
            }
            _ => {
                let value = f64::from(3 + roll.below(30));
                json!({"subject": subject, "quantity": "lead_slack", "unit": "mm", "values": [value]})
            }
        }
    });
}

pub fn subject(history: &History, roll: &mut Roll) -> Subject {
    match component(history, roll) {
        Some(component) if roll.percent(60) => Subject::Component(component),
        _ => Subject::Model(world::model(history.any_model(roll))),
    }
}

fn repair(history: &mut History, roll: &mut Roll, at: Instant) {
    record(history, roll, "repairs", at, |history, roll| {
        let mut repair =
            json!({"model": model(history, roll), "kind": "R9", "text": "mended", "done_by": member(roll)});
        if roll.percent(60) {
            repair["components"] = json!([component(history, roll)]);
        }
        if roll.percent(50) {
            repair["kind"] = json!(roll.pick(&["R1", "R4", "R8", "R8"]));
        }
        if repair["kind"] == "R1" {
            repair["components"] = json!([of_kind(history, roll, PartKind::Joiner)]);
        }
        if let Some(defect) = roll.pick(&history.ids(Noun::Defects)).filter(|_| roll.percent(50)) {
            repair["defect"] = json!(defect);
        }
        if roll.percent(50) {
            repair["cure_until_at"] = json!(at.plus_seconds(i64::from(roll.below(3 * 86_400))));
        }
        if roll.percent(50) {
            repair["material_mass_g"] = json!(f64::from(roll.below(80)) / 10.0);
            repair["x_mm"] = json!(f64::from(roll.below(900)) - 200.0);
        }
        if roll.percent(25) {
            repair["kind"] = json!("R3");
            repair["components"] = json!([of_kind(history, roll, PartKind::ConnectorHalf)]);
            repair["slack_used_mm"] = json!(7.0);
        }
        repair
    });
}

/// Work on a repair: its whole sheet or a single step of it, with what its kind keeps.
fn work(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(repair) = roll.pick(&history.ids(Noun::Repairs)) else { return };
    record(history, roll, "repair-steps", at, |history, roll| work_on(history, roll, repair));
}

fn work_on(history: &History, roll: &mut Roll, repair: uuid::Uuid) -> Value {
    let mut body = json!({"repair": repair, "done_by": member(roll), "note": "worked"});
    if roll.percent(15) {
        body["is_second_look"] = json!(true);
        return body;
    }
    let Some(known) = history.fleet.repair(repair.into()).and_then(|file| file.repair.as_ref()) else {
        return body;
    };
    let sheet = preen_domain::worksheets::worksheet(known.fact.kind);
    let ticked = if roll.percent(70) { sheet.steps.len() } else { 1 };
    let ticks: Vec<Value> = sheet
        .steps
        .iter()
        .take(ticked)
        .map(|step| json!({"number": step.number, "result": "done"}))
        .collect();
    if roll.percent(80) {
        body["steps"] = json!(ticks);
    }
    match known.fact.kind.as_str() {
        "R1" => body["joiner"] = json!({"sanded": {"top_mm": f64::from(roll.below(4)) / 100.0}}),
        "R4" => body["cover"] = json!({"material": "sheet", "thickness_mm": 0.5, "relief": "slot"}),
        _ => {}
    }
    if roll.percent(40) {
        body["resin"] = json!(roll.pick(&["laminating_epoxy", "cyanoacrylate", "five_minute_epoxy"]));
        body["temperature_c"] = json!(f64::from(14 + roll.below(25)));
    }
    if roll.percent(40) {
        body["mass_added_g"] = json!(f64::from(roll.below(60)) / 10.0);
        body["x_mm"] = json!(f64::from(roll.below(900)) - 200.0);
    }
    body
}

fn release(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(repair) = roll.pick(&history.ids(Noun::Repairs)) else { return };
    record(
        history,
        roll,
        "releases",
        at,
        |_, roll| json!({"repair": repair, "second_person": member(roll), "released_by": member(roll)}),
    );
}

fn lend(history: &mut History, roll: &mut Roll, at: Instant) {
    let from = day_of(at, history.fleet.club().zone) + Days::new(u64::from(roll.below(5)));
    record(history, roll, "loans", at, |history, roll| {
        json!({"item": subject(history, roll), "lent_to": member(roll), "from_on": from,
               "due_back_on": from + Days::new(u64::from(roll.below(30)))})
    });
}

fn bring_back(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(loan) = roll.pick(&history.ids(Noun::Loans)) else { return };
    record(history, roll, "loan-returns", at, |_, _| json!({"loan": loan}));
}

fn new_version(history: &mut History, roll: &mut Roll) {
    let fact = match roll.below(3) {
        0 => {
            let number = history.any_model(roll);
            let tag = u128::from(roll.below(history.models() + 2));
            world::model_version(number, tag, "another tag")
        }
        1 => {
            let only = if roll.percent(40) { Some(if roll.percent(70) { 0 } else { 8 }) } else { None };
            world::design_taking(f64::from(roll.below(5)) - 2.0, only).into()
        }
        _ => world::programme([1 + roll.below(2), 3 + roll.below(8)], "due_point_inside_tolerance").into(),
    };
    history.record(fact, u128::from(roll.below(5)));
}

/// Corrects something recorded after the start: it never happened, or happened at another moment, or was done by
/// another person.
fn correct(history: &mut History, roll: &mut Roll) {
    let is_start = |fact: &Fact| matches!(fact, Fact::Installation(fitted) if fitted.is_start_of_record);
    let can_be: Vec<Fact> = history
        .facts
        .iter()
        .map(|recorded| recorded.fact.clone())
        .filter(|fact| fact.occurred_at().is_some() && !is_start(fact))
        .collect();
    let of_deferrals: Vec<Fact> =
        can_be.iter().filter(|fact| fact.noun() == Noun::Deferrals).cloned().collect();
    let can_be = if roll.percent(10) && !of_deferrals.is_empty() { of_deferrals } else { can_be };
    let Some(original) = roll.pick(&can_be) else { return };
    let mut correction = json!({
        "id": history.id(), "noun": original.noun(), "original": original.id(), "reason": "typed wrong",
    });
    if roll.percent(35) {
        correction["is_void"] = json!(true);
    } else {
        let mut json = serde_json::to_value(&original).unwrap();
        let moved =
            original.occurred_at().unwrap().plus_seconds(i64::from(roll.below(6 * 86_400)) - 3 * 86_400);
        json["occurred_at"] = json!(moved.max(world::start().plus_seconds(1)));
        if original.noun() == Noun::Repairs && roll.percent(50) {
            json["done_by"] = member(roll);
        }
        correction["fact"] = json;
    }
    let correction = Fact::from_json(Noun::Corrections, correction).unwrap();
    history.record(correction, u128::from(roll.below(5)));
}
