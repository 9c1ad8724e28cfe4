//! Acts about defects: found, put off, looked at again, closed.

use chrono::Days;
use preen_domain::{
    facts::{Noun, Subject},
    time::{Instant, day_of},
};
use serde_json::{Value, json};

use crate::{
    acts::{member, model, of_kind, record, subject},
    history::{History, Roll},
};

/// A defect: any, or one like another that was found before. Some are put off in the days after, or put off again.
pub fn find_defect(history: &mut History, roll: &mut Roll, at: Instant) {
    let on = day_of(at, history.fleet.club().zone);
    let before = roll.pick(&history.ids(Noun::Defects)).filter(|_| roll.percent(40));
    let before = before.and_then(|id| history.fleet.defect(id.into())?.defect.clone());
    record(history, roll, "defects", at, |history, roll| {
        let severity = roll.pick(&["watch", "restrict", "restrict", "ground"]).unwrap();
        let mut defect = json!({
            "model": model(history, roll), "subject": subject(history, roll), "severity": severity, "text": "not as it was",
        });
        if severity != "ground" && roll.percent(50) {
            defect["restriction"] = restriction(roll, on);
        }
        if severity != "ground" && roll.percent(25) {
            defect["restrictions"] = json!([restriction(roll, on), restriction(roll, on)]);
        }
        if roll.percent(30) {
            defect["fix_by_on"] = json!(on + Days::new(u64::from(roll.below(60))));
        }
        if roll.percent(50) {
            let many = 8 * history.models() - 2;
            defect["tag"] = json!(format!("DE{}", roll.below(many)));
        }
        if roll.percent(50) {
            // A swollen pack always grounds: as anything milder it is refused.
            defect["cause"] = json!(roll.pick(&["wear", "wear", "impact", "unknown", "swollen_pack"]));
        }
        if let Some(before) = &before {
            defect["model"] = json!(before.fact.model);
            defect["subject"] = json!(before.fact.subject);
            defect["place"] = json!("hinge");
            defect["cause"] = json!(before.fact.cause.filter(|cause| !cause.is_never_deferred()));
            // In a large club also the same on another part of its kind, in another model.
            if history.models() > 4
                && let Subject::Component(part) = before.fact.subject
                && roll.percent(60)
                && let Some(kind) = history.fleet.part_of(part).map(|part| part.kind)
            {
                defect["model"] = model(history, roll);
                defect["subject"] = json!({"component": of_kind(history, roll, kind)});
                defect["cause"] = json!("wear");
            }
        }
        defect
    });
    for days in [2, 20] {
        if roll.percent(30) {
            defer(history, roll, at.plus_seconds(i64::from(days * 86_400)));
        }
    }
}

fn restriction(roll: &mut Roll, on: chrono::NaiveDate) -> Value {
    match roll.below(6) {
        0 => json!({"kind": "max_flights", "value": f64::from(roll.below(18)) / 2.0}),
        1 => json!({"kind": "until_date", "until_on": on + Days::new(u64::from(roll.below(40)))}),
        2 => json!({"kind": "max_wind", "value": f64::from(4 + roll.below(6))}),
        3 => json!({"kind": "no_contest", "until_on": on + Days::new(u64::from(roll.below(40)))}),
        4 => json!({"kind": "max_launches_per_charge", "value": 1 + roll.below(3)}),
        _ => json!({"kind": "no_landing_flap"}),
    }
}

pub fn is_closed(history: &History, defect: uuid::Uuid) -> bool {
    history.fleet.defect(defect.into()).is_none_or(|file| !file.closures.is_empty())
}

/// Puts an open defect off, for the first time or once more, or tries what a rule refuses.
pub fn defer(history: &mut History, roll: &mut Roll, at: Instant) {
    let open: Vec<uuid::Uuid> =
        history.ids(Noun::Defects).into_iter().filter(|defect| !is_closed(history, *defect)).collect();
    let Some(defect) = roll.pick(&open) else { return };
    let on = day_of(at, history.fleet.club().zone);
    record(history, roll, "deferrals", at, |_, roll| {
        let restrictions: Vec<Value> = (0..roll.below(4)).map(|_| restriction(roll, on)).collect();
        let mut deferral =
            json!({"defect": defect, "restrictions": restrictions, "reason": "parts are on their way"});
        if roll.percent(50) {
            deferral["fix_by_on"] = json!(on + Days::new(u64::from(roll.below(30))));
        }
        if roll.percent(40) {
            deferral["within_flights"] = json!(1 + roll.below(6));
        }
        if roll.percent(50) {
            deferral["deferred_by"] = member(roll);
        }
        deferral
    });
}

/// A fresh reading on what a defect sits on.
pub fn look_at(history: &mut History, roll: &mut Roll, defect: uuid::Uuid, at: Instant) {
    let file = history.fleet.defect(defect.into()).and_then(|file| file.defect.clone());
    let Some(subject) = file.map(|recorded| recorded.fact.subject) else { return };
    record(
        history,
        roll,
        "measurements",
        at,
        |_, _| json!({"subject": subject, "quantity": "gap", "unit": "mm", "values": [0.0]}),
    );
}

pub fn close(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(defect) = roll.pick(&history.ids(Noun::Defects)) else { return };
    let kind = roll.pick(&["found_wrong", "found_wrong", "check_passed", "part_scrapped"]);
    if roll.percent(60) {
        look_at(history, roll, defect, at);
    }
    record(
        history,
        roll,
        "closures",
        at,
        |_, _| json!({"defect": defect, "kind": kind, "text": "looked again"}),
    );
}
