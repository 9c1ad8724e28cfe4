//! Who may do what with parts, limits and entries, where it hangs on more than whose model it is: what a part is and
//! what was said of it before, what a limit was, who entered something and when.

use preen_domain::{
    facts::{Fact, Limit, Programme},
    fleet::Fleet,
    ids::MemberId,
    rules::may::{Act, Asker, may},
    words::Role,
};
use preen_tests::demo_fleet::{NOW, add, at, model};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{
    may::{club, may_record, member_of, who},
    said::{fact, fresh},
};

fn of(fleet: &Fleet, noun: &str, more: Value) -> Fact {
    let mut body = json!({ "id": fresh(1), "occurred_at": NOW });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    fact(fleet, noun, body)
}

fn condition(fleet: &Fleet, tag: &str, state: &str) -> Fact {
    let component = format!("#components:{tag}");
    of(fleet, "conditions", json!({ "component": component, "state": state, "reason": "looked at" }))
}

const PARTS: &str = "\
charge of a pack: helper pilot builder stores team_manager inspector safety_officer keeper
reading of a fitted pack: builder stores inspector safety_officer
reading of a fitted servo: builder inspector safety_officer
reading of a shelf part: pilot builder stores inspector safety_officer
check of a shelf part: pilot builder stores inspector safety_officer
check N25 of a part in another's model: builder inspector safety_officer
shelf part into quarantine: pilot builder stores inspector
fitted part into quarantine: builder stores inspector
shelf part moved: pilot builder stores inspector
shelf part in repair: pilot builder stores inspector
out of quarantine: inspector
out of quarantine as if new: inspector
from quarantine to repair: pilot builder stores inspector
";

#[test]
fn parts_on_the_shelf_and_in_models() {
    let fleet = club();
    let reading = |tag: &str| {
        let subject = json!({ "component": format!("#components:{tag}") });
        of(
            &fleet,
            "measurements",
            json!({ "subject": subject, "quantity": "mass", "values": [1.0], "unit": "g" }),
        )
    };
    let check = |tag: &str| {
        let component = format!("#components:{tag}");
        let body = json!({ "component": component, "group": "N25", "result": "pass", "is_summary": true });
        of(&fleet, "inspections", body)
    };
    let acts = [
        ("charge of a pack", of(&fleet, "charges", json!({ "component": "#components:PK-SG-02" }))),
        ("reading of a fitted pack", reading("PK-SG-02")),
        ("reading of a fitted servo", reading("JN-SG-01-L")),
        ("reading of a shelf part", reading("SV08-C004")),
        ("check of a shelf part", check("SV08-C004")),
        ("check N25 of a part in another's model", check("JN-SG-01-L")),
        ("shelf part into quarantine", condition(&fleet, "SV08-C004", "held")),
        ("fitted part into quarantine", condition(&fleet, "JN-SG-01-L", "held")),
        ("shelf part moved", condition(&fleet, "SV08-C004", "serviceable")),
        ("shelf part in repair", condition(&fleet, "SV08-C004", "in_repair")),
        ("out of quarantine", condition(&fleet, "SV08-B016", "serviceable")),
        ("out of quarantine as if new", condition(&fleet, "SV08-B016", "new_untested")),
        ("from quarantine to repair", condition(&fleet, "SV08-B016", "in_repair")),
    ];
    let table: String =
        acts.iter().map(|(name, fact)| who(&fleet, name, |role| may_record(&fleet, role, fact))).collect();
    assert_eq!(table, PARTS);
}

fn roles_for(fleet: &Fleet, fact: &Fact) -> Vec<Role> {
    Role::ALL.iter().copied().filter(|role| may_record(fleet, *role, fact)).collect()
}

#[test]
fn a_repair_in_between_does_not_lead_out_of_quarantine() {
    let mut fleet = club();
    let mut step = condition(&fleet, "SV08-B016", "in_repair");
    if let Fact::Condition(change) = &mut step {
        change.id.0 = Uuid::from_u128(7);
        change.occurred_at = at("2026-05-21T07:00:00Z");
    }
    add(&mut fleet, step);
    let out = condition(&fleet, "SV08-B016", "serviceable");
    assert_eq!(roles_for(&fleet, &out), [Role::Inspector]);
    // What was only in repair is put back into use by those who work on it, not by stores.
    let mut step = condition(&fleet, "SV08-C004", "in_repair");
    if let Fact::Condition(change) = &mut step {
        change.id.0 = Uuid::from_u128(8);
        change.occurred_at = at("2026-05-21T07:00:00Z");
    }
    add(&mut fleet, step);
    let back = condition(&fleet, "SV08-C004", "serviceable");
    assert_eq!(roles_for(&fleet, &back), [Role::Pilot, Role::Builder, Role::Inspector]);
}

#[test]
fn a_limit_is_relaxed_by_an_inspector_or_the_safety_officer_however_it_is_done() {
    let fleet = club();
    let limit = |watch: f64| {
        let limit = json!({ "quantity": "servo_free_play", "unit": "deg", "direction": "at_or_above",
                            "watch": watch, "restrict": watch, "ground": watch });
        fact(&fleet, "limits", json!({ "id": fresh(1), "tag": "L1", "limit": limit, "reason": "seen so" }))
    };
    let tighter = [Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer];
    assert_eq!(roles_for(&fleet, &limit(0.4)), tighter);
    assert_eq!(roles_for(&fleet, &limit(1.3)), [Role::Inspector, Role::SafetyOfficer]);

    let before = fleet.programmes().next().map(|(_, programme)| programme.fact.clone()).unwrap();
    let revise = |change: &dyn Fn(&mut Programme)| -> Vec<Role> {
        let mut after = before.clone();
        change(&mut after);
        let fact = Fact::Programme(after);
        let may_revise = |role: &Role| {
            let asker = Asker { member: member_of(*role), has_history: false };
            may(&fleet, asker, Act::Revise(&fact), at(NOW)).is_ok()
        };
        Role::ALL.iter().copied().filter(may_revise).collect()
    };
    // Two items judge the play of flap servos: what one lets through, the other must let through as well.
    let play = |change: &dyn Fn(&mut Limit)| {
        revise(&|programme| {
            let limits = programme.items.iter_mut().flat_map(|item| item.limits.iter_mut());
            let of_flaps = |limit: &&mut Limit| {
                limit.quantity.as_str() == "servo_free_play" && limit.ground == Some(1.2)
            };
            limits.filter(of_flaps).for_each(change);
        })
    };
    let by_title = revise(&|programme| programme.title = "Checks".to_owned().try_into().unwrap());
    assert_eq!(by_title, [Role::Builder, Role::Inspector, Role::Keeper]);
    let tighter = play(&|limit| limit.ground = Some(1.1));
    assert_eq!(tighter, [Role::Builder, Role::Inspector, Role::Keeper]);
    assert_eq!(play(&|limit| limit.ground = Some(1.3)), [Role::Inspector]);
    assert_eq!(play(&|limit| limit.watch = None), [Role::Inspector]);
    assert_eq!(play(&|limit| limit.position_kinds.truncate(1)), [Role::Inspector]);
    let dropped = revise(&|programme| {
        programme.items.retain(|item| !matches!(item.code.as_str(), "N25-02" | "HL-04"));
    });
    assert_eq!(dropped, [Role::Inspector]);
}

#[test]
fn a_defect_that_grounds_is_cleared_by_an_inspector_or_the_safety_officer() {
    let fleet = club();
    let closure = |defect: &str| {
        let body =
            json!({ "defect": format!("#defects:{defect}"), "kind": "found_wrong", "text": "nothing there" });
        of(&fleet, "closures", body)
    };
    let watched = [Role::Builder, Role::Inspector, Role::SafetyOfficer];
    assert_eq!(roles_for(&fleet, &closure("DE-001")), watched);
    assert_eq!(roles_for(&fleet, &closure("DE-008")), [Role::Inspector, Role::SafetyOfficer]);
}

const CORRECTIONS: &str = "\
own, on the same day: visitor helper pilot builder stores team_manager inspector safety_officer keeper
own, within the 7 days: visitor helper pilot builder stores team_manager inspector safety_officer keeper
own, after 7 days: inspector
another's: inspector
own check made out to be another: builder inspector safety_officer
own reading, on the same day: builder inspector safety_officer
own reading, after 7 days: inspector
another's reading: inspector
";

#[test]
fn corrections() {
    let fleet = club();
    let about = |noun: &str, more: Value| {
        let mut body = more;
        body["model"] = json!(model(&fleet, "SG-01").to_string());
        of(&fleet, noun, body)
    };
    let check =
        |group: &str| about("inspections", json!({ "group": group, "result": "pass", "is_summary": true }));
    let (ticked, deep) = (check("PF"), check("N100"));
    let subject = json!({ "component": "#components:JN-SG-01-L" });
    let body = json!({ "subject": subject, "quantity": "servo_free_play", "values": [0.4], "unit": "deg" });
    let reading = of(&fleet, "measurements", body);
    let correct = |original: &Fact, corrected: Option<&Fact>, is_own: bool, recorded_at: &str, role: Role| {
        let recorded_by = if is_own { member_of(role) } else { MemberId(Uuid::nil()) };
        let act = Act::Correct { original, corrected, recorded_by, recorded_at: at(recorded_at) };
        may(&fleet, Asker { member: member_of(role), has_history: false }, act, at(NOW)).is_ok()
    };
    let (today, last_day, too_late) =
        ("2026-05-21T07:00:00Z", "2026-05-14T08:00:01Z", "2026-05-14T08:00:00Z");
    let mut table = String::new();
    table += &who(&fleet, "own, on the same day", |role| correct(&ticked, None, true, today, role));
    table += &who(&fleet, "own, within the 7 days", |role| correct(&ticked, None, true, last_day, role));
    table += &who(&fleet, "own, after 7 days", |role| correct(&ticked, None, true, too_late, role));
    table += &who(&fleet, "another's", |role| correct(&ticked, None, false, today, role));
    table += &who(&fleet, "own check made out to be another", |role| {
        correct(&ticked, Some(&deep), true, today, role)
    });
    table += &who(&fleet, "own reading, on the same day", |role| {
        correct(&reading, Some(&reading), true, today, role)
    });
    table += &who(&fleet, "own reading, after 7 days", |role| {
        correct(&reading, Some(&reading), true, too_late, role)
    });
    table += &who(&fleet, "another's reading", |role| correct(&reading, Some(&reading), false, today, role));
    assert_eq!(table, CORRECTIONS);
}
