//! Checks in random histories: of a group as a whole, and item by item.

use preen_domain::{time::Instant, words::PartKind};
use serde_json::{Value, json};

use crate::{
    acts::{component, fitted, model, of_kind, record},
    history::{History, Roll},
};

pub fn inspect(history: &mut History, roll: &mut Roll, at: Instant) {
    let groups =
        ["HL", "SW", "RP", "TR", "N25", "N25", "LA", "AH", "RF30", "JN40", "CN50", "PK20", "DF", "PF", "RG"];
    record(history, roll, "inspections", at, |history, roll| {
        if roll.percent(50) {
            return item_by_item(history, roll, at);
        }
        let result = match roll.below(10) {
            0 => "fail",
            1 => "restrict",
            _ => "pass",
        };
        let group = roll.pick(&groups);
        let mut check = json!({"group": group, "result": result, "is_summary": true});
        if group == Some("PK20") && roll.percent(40) {
            check["component"] = json!(of_kind(history, roll, PartKind::Pack));
        } else {
            check["model"] = model(history, roll);
        }
        check
    });
}

/// A check of a group that has items, item by item: some passed, some failed, some not looked at; on a part now and then.
fn item_by_item(history: &History, roll: &mut Roll, at: Instant) -> Value {
    let programme = history.fleet.programme_of(None).unwrap();
    let groups = ["DF", "DF", "PF", "RG", "N25", "JN40", "JN40", "SW", "SW"];
    let group = roll.pick(&groups).unwrap();
    let mut check = json!({"group": group, "model": model(history, roll), "is_summary": false});
    if roll.percent(15) {
        check["component"] = json!(component(history, roll));
        if roll.percent(50) {
            check.as_object_mut().unwrap().remove("model");
        }
    }
    let parts = fitted(history, at);
    let good = roll.percent(35);
    let mut items = Vec::new();
    let mut worst = 0;
    for asked in programme.fact.items.iter().filter(|item| item.group.as_str() == group) {
        let (result, how_bad) = match roll.below(if good { 6 } else { 10 }) {
            0..5 => ("pass", 0),
            5 => ("not_applicable", 0),
            6 => ("not_looked_at", 1),
            _ => ("fail", 1),
        };
        let mut item = json!({"item": asked.code, "result": result, "note": "seen"});
        if roll.percent(30) {
            item["component"] = json!(roll.pick(&parts).map(|(_, part, ..)| part));
        }
        if asked.code.as_str() == "N25-01" && roll.percent(60) {
            item["value"] = json!(f64::from(roll.below(16)) / 10.0);
        }
        worst = worst.max(how_bad);
        if roll.percent(93) {
            items.push(item);
        } else {
            worst = 1;
        }
    }
    check["items"] = json!(items);
    let bad = if roll.percent(40) { "fail" } else { "restrict" };
    check["result"] = json!(if worst == 0 { "pass" } else { bad });
    check
}
