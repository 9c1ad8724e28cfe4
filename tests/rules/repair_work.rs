//! Work on repairs and their release: every refusal, and that doing what it says turns it into a yes.

use preen_domain::{
    answers::{Moment, due_of_model, may_fly_one, repair_sheet},
    facts::Noun,
    fleet::Fleet,
    ids::RepairId,
    rules::{
        check,
        may::{Act, Asker, may},
    },
    words::{RestrictionKind, State},
    worksheets::worksheet,
};
use preen_tests::demo_fleet::{add, at, component, demo, id, member, model};
use serde_json::{Value, json};

use crate::said::{fact, fresh};

/// Long after the demo's own record.
const LATER: &str = "2026-06-20T12:00:00Z";

fn merged(mut body: Value, more: &Value) -> Value {
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    body
}

/// Codes of everything that stands against a fact.
fn codes(fleet: &Fleet, noun: &str, body: Value) -> Vec<&'static str> {
    let fact = fact(fleet, noun, body);
    check(fleet, &fact, at(LATER)).into_iter().map(|rule| rule.code).collect()
}

/// Records what must be allowed.
#[track_caller]
fn record(fleet: &mut Fleet, noun: &str, body: Value) {
    let fact = fact(fleet, noun, body);
    assert_eq!(check(fleet, &fact, at(LATER)), []);
    add(fleet, fact);
}

/// A repair of a kind on a part, started by a member.
fn start(fleet: &mut Fleet, tag: &str, kind: &str, model: &str, part: &str, by: &str) {
    let number = u32::try_from(fleet.repairs().count()).unwrap();
    let body = json!({
        "id": fresh(500 + number), "tag": tag, "model": format!("#models:{model}"), "kind": kind,
        "components": [format!("#components:{part}")], "occurred_at": "2026-06-01T08:00:00Z", "text": "work",
        "done_by": format!("#members:{by}"),
    });
    record(fleet, "repairs", body);
}

fn step(number: u32, tag: &str, by: &str, more: &Value) -> Value {
    let body = json!({
        "id": fresh(700 + number), "repair": format!("#repairs:{tag}"), "occurred_at": "2026-06-01T09:00:00Z",
        "done_by": format!("#members:{by}"),
    });
    merged(body, more)
}

/// Ticks of all steps of a sheet but those left out.
fn ticks(kind: &str, without: &[u32]) -> Value {
    let steps = worksheet(kind.parse().unwrap()).steps.iter().map(|step| step.number);
    let done = steps.filter(|number| !without.contains(number));
    json!(done.map(|number| json!({"number": number, "result": "done"})).collect::<Vec<_>>())
}

fn release(tag: &str, at: &str, by: &str, second: Option<&str>) -> Value {
    let mut body = json!({
        "id": fresh(900), "repair": format!("#repairs:{tag}"), "occurred_at": at, "released_by": format!("#members:{by}"),
    });
    if let Some(second) = second {
        body["second_person"] = json!(format!("#members:{second}"));
    }
    body
}

fn pass(fleet: &mut Fleet, number: u32, model: &str, group: &str, at: &str) {
    let body = json!({
        "id": fresh(number), "model": format!("#models:{model}"), "group": group, "result": "pass", "is_summary": true,
        "occurred_at": at, "inspected_by": "#members:QS",
    });
    record(fleet, "inspections", body);
}

fn verdict(fleet: &Fleet, tag: &str, as_of: &str) -> preen_domain::answers::ModelVerdict {
    may_fly_one(fleet, model(fleet, tag), Moment::today(fleet, at(as_of))).unwrap()
}

fn has(fleet: &Fleet, tag: &str, as_of: &str, code: &str) -> bool {
    verdict(fleet, tag, as_of).reasons.iter().any(|reason| reason.code == code)
}

#[test]
fn a_boom_is_released_cured_checked_and_by_an_inspector_who_did_not_mend_it() {
    let mut fleet = demo();
    let early = release("RE-014", "2026-05-22T20:00:00Z", "QS", None);
    assert_eq!(codes(&fleet, "releases", early), ["still_curing", "not_checked_after_repair"]);
    pass(&mut fleet, 1, "MP-03", "RP", "2026-05-22T21:10:00Z");
    let worker = release("RE-014", "2026-05-22T21:30:00Z", "BK", None);
    assert_eq!(codes(&fleet, "releases", worker), ["worker_releases", "inspector_needed"]);
    let asker = Asker { member: member(&fleet, "BK"), has_history: false };
    let own = json!({"id": fresh(900), "repair": "#repairs:RE-014", "occurred_at": "2026-05-22T21:30:00Z"});
    let own = fact(&fleet, "releases", own);
    let said = may(&fleet, asker, Act::Record(&own), at(LATER)).unwrap_err();
    assert!(said.contains("BK did the work") && said.contains("inspector"), "{said}");
    record(&mut fleet, "releases", release("RE-014", "2026-05-22T21:30:00Z", "QS", None));

    // Restricted until it was flown with its after-flight check.
    let after = verdict(&fleet, "MP-03", "2026-05-22T21:31:00Z");
    assert_eq!((after.state, after.may_fly), (State::Restricted, true), "{:?}", after.reasons);
    let light = after.restrictions.iter().find(|one| one.source == "RE-014").unwrap();
    assert_eq!(light.kind, RestrictionKind::LightLaunchOnly);
    let flight = |number: u32, is_logged: bool, at: &str| {
        json!({"id": fresh(number), "model": "#models:MP-03", "pilot": "#members:BK", "occurred_at": at,
               "airtime_min": 5.0, "landing": "soft", "is_post_flight_logged": is_logged})
    };
    record(&mut fleet, "flights", flight(2, false, "2026-05-23T09:00:00Z"));
    assert!(has(&fleet, "MP-03", "2026-05-23T10:00:00Z", "first_flight_after_repair"));
    let mut passed = fleet.clone();
    pass(&mut passed, 3, "MP-03", "PF", "2026-05-23T09:10:00Z");
    assert!(!has(&passed, "MP-03", "2026-05-23T10:00:00Z", "first_flight_after_repair"));
    record(&mut fleet, "flights", flight(4, true, "2026-05-23T11:00:00Z"));
    assert_eq!(verdict(&fleet, "MP-03", "2026-05-23T12:00:00Z").state, State::Fit);
    assert!(has(&fleet, "MP-03", "2026-05-23T10:00:00Z", "first_flight_after_repair"), "as it stood then");
}

#[test]
fn a_sheet_that_is_kept_must_be_complete() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R5", "SG-01", "SV08-B001", "AV");
    record(&mut fleet, "repair-steps", step(1, "RE-K", "AV", &json!({"steps": ticks("R5", &[4, 7, 8])})));
    let give = || release("RE-K", "2026-06-02T12:00:00Z", "FS", None);
    assert_eq!(
        codes(&fleet, "releases", give()),
        ["steps_open", "detail_missing", "not_checked_after_repair"]
    );
    let said = check(&fleet, &fact(&fleet, "releases", give()), at(LATER));
    assert!(said[0].text.contains("tick step 4, 7, 8"), "{}", said[0].text);

    // Doing what it says.
    let rest = json!({
        "steps": [{"number": 4, "result": "done"}, {"number": 7, "result": "done"},
                  {"number": 8, "result": "not_applicable", "reason": "no motor"}],
        "servo": {"spline_tooth": 12, "residual_deg": -1.5, "arm_radius_mm": 9.0, "pulse_centre_us": 1500.0,
                  "throws_left_mm": [-9.0, -4.0, 0.0, 5.0, 14.0], "throws_right_mm": [-9.1, -4.0, 0.1, 5.0, 14.2]},
    });
    record(&mut fleet, "repair-steps", step(2, "RE-K", "AV", &rest));
    pass(&mut fleet, 1, "SG-01", "RP", "2026-06-02T10:00:00Z");
    assert_eq!(codes(&fleet, "releases", give()), Vec::<&str>::new());
    let by_worker = release("RE-K", "2026-06-02T12:00:00Z", "AV", None);
    assert_eq!(codes(&fleet, "releases", by_worker), ["worker_releases"]);
    let by_third = release("RE-K", "2026-06-02T12:00:00Z", "FS", Some("QS"));
    assert_eq!(codes(&fleet, "releases", by_third), ["second_look_missing", "second_person_releases"]);
    record(&mut fleet, "releases", give());
    // The sheet is closed.
    let late = step(3, "RE-K", "AV", &json!({"note": "forgot something"}));
    assert_eq!(codes(&fleet, "repair-steps", late), ["already_released"]);
    // The exchange of a servo asks for its check again, and passing it closes that.
    assert!(has(&fleet, "SG-01", "2026-06-02T13:00:00Z", "reinspection_after_repair"));
    pass(&mut fleet, 2, "SG-01", "SW", "2026-06-02T14:00:00Z");
    assert!(!has(&fleet, "SG-01", "2026-06-02T15:00:00Z", "reinspection_after_repair"));
}

#[test]
fn whoever_worked_on_any_step_is_no_second_person() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R4", "SG-01", "PN-C-01", "AV");
    record(&mut fleet, "repair-steps", step(1, "RE-K", "FS", &json!({"steps": ticks("R4", &[1])})));
    let given = release("RE-K", "2026-06-02T12:00:00Z", "QS", Some("FS"));
    assert!(codes(&fleet, "releases", given).contains(&"worker_as_second_person"));
}

#[test]
fn a_cure_by_the_table_blocks_the_release_and_a_stated_one_wins() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R9", "SG-01", "PN-R-01", "AV");
    let cure = |more: Value| merged(json!({"resin": "laminating_epoxy"}), &more);
    let refused = |body: Value, code: &str| {
        assert_eq!(codes(&fleet, "repair-steps", step(1, "RE-K", "AV", &body)), [code], "{body}");
    };
    refused(cure(json!({})), "temperature_missing");
    refused(cure(json!({"temperature_c": 12.0})), "too_cold_to_cure");
    refused(cure(json!({"temperature_c": 200.0})), "out_of_range");
    refused(json!({"cure_started_at": "2026-06-01T09:00:00Z", "note": "x"}), "resin_missing");
    let cold = cure(json!({"temperature_c": 12.0, "cure_until_at": "2026-06-03T09:00:00Z"}));
    assert_eq!(codes(&fleet, "repair-steps", step(1, "RE-K", "AV", &cold)), Vec::<&str>::new());
    // 24 h at 20 °C, half of that at 30 °C.
    record(&mut fleet, "repair-steps", step(1, "RE-K", "AV", &cure(json!({"temperature_c": 30.0}))));
    let sheet = |fleet: &Fleet, as_of: &str| {
        repair_sheet(fleet, RepairId(id(fleet, Noun::Repairs, "RE-K")), at(as_of)).unwrap()
    };
    let shown = sheet(&fleet, "2026-06-01T20:00:00Z");
    assert_eq!((shown.cure_until_at, shown.cure_left_s), (Some(at("2026-06-01T21:00:00Z")), 3600));
    assert_eq!(shown.blocked_by.iter().map(|one| one.code.as_str()).collect::<Vec<_>>(), ["still_curing"]);
    let give = |when: &str| release("RE-K", when, "AV", None);
    assert_eq!(codes(&fleet, "releases", give("2026-06-01T20:59:59Z")), ["still_curing"]);
    assert_eq!(codes(&fleet, "releases", give("2026-06-01T21:00:00Z")), Vec::<&str>::new());
    // The later of all steps wins.
    record(&mut fleet, "repair-steps", step(2, "RE-K", "AV", &cure(json!({"temperature_c": 20.0}))));
    assert_eq!(codes(&fleet, "releases", give("2026-06-02T08:59:00Z")), ["still_curing"]);
    assert!(sheet(&fleet, "2026-06-02T09:00:00Z").blocked_by.is_empty());
}

#[test]
fn five_minute_epoxy_carries_no_structure() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R11", "SG-01", "PN-C-01", "QS");
    let body = step(1, "RE-K", "QS", &json!({"resin": "five_minute_epoxy"}));
    assert_eq!(codes(&fleet, "repair-steps", body), ["resin_not_for_structure"]);
}

#[test]
fn what_a_sheet_does_not_know_is_refused() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R4", "SG-01", "PN-C-01", "AV");
    let refused = |body: Value, code: &str| {
        assert_eq!(codes(&fleet, "repair-steps", step(1, "RE-K", "AV", &body)), [code], "{body}");
    };
    refused(json!({}), "nothing_recorded");
    refused(json!({"steps": [{"number": 77, "result": "done"}]}), "no_such_step");
    refused(json!({"steps": [{"number": 1, "result": "not_applicable"}]}), "reason_missing");
    refused(
        json!({"steps": [{"number": 1, "result": "done"}, {"number": 1, "result": "done"}]}),
        "ticked_twice",
    );
    refused(json!({"joiner": {"sanded": {"top_mm": 0.01}}}), "other_detail");
    refused(json!({"cover": {"material": "sheet", "thickness_mm": 9.0, "relief": "slot"}}), "out_of_range");
    refused(json!({"materials": [{"quantity": 1.0}]}), "lot_or_text");
    refused(json!({"readings_after": [fresh(3)]}), "unknown_reference");
    refused(json!({"note": "x", "occurred_at": "2026-05-31T09:00:00Z"}), "worked_before_start");
    // Material said by the repair itself is not said again.
    assert_eq!(
        codes(&fleet, "repair-steps", step(1, "RE-014", "BK", &json!({"mass_added_g": 7.5, "x_mm": 360.0}))),
        ["mass_said_already"]
    );
}

#[test]
fn material_is_of_a_lot_that_is_in_date_and_not_used_up() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R8", "SG-01", "PN-C-01", "AV");
    let with = |used: Value| step(1, "RE-K", "AV", &json!({"materials": [used]}));
    let old = json!({"lot": "#lots:H-03", "quantity": 1.0});
    assert_eq!(codes(&fleet, "repair-steps", with(old.clone())), ["lot_out_of_date"]);
    let reasoned = merged(old, &json!({"out_of_date_reason": "kept dark and cool, sticks as new"}));
    assert_eq!(codes(&fleet, "repair-steps", with(reasoned)), Vec::<&str>::new());
    let much = |grams: f64| with(json!({"lot": "#lots:E-77", "quantity": grams}));
    assert_eq!(codes(&fleet, "repair-steps", much(240.5)), ["lot_used_up"]);
    record(&mut fleet, "repair-steps", much(200.0));
    let more = step(2, "RE-K", "AV", &json!({"materials": [{"lot": "#lots:E-77", "quantity": 41.0}]}));
    assert_eq!(codes(&fleet, "repair-steps", more.clone()), ["lot_used_up"]);
    // Counted anew.
    let mut lot =
        serde_json::to_value(&fleet.lots().find(|(_, lot)| lot.fact.tag.as_str() == "E-77").unwrap().1.fact)
            .unwrap();
    lot["quantity"] = json!(50.0);
    record(&mut fleet, "lots", lot);
    record(&mut fleet, "repair-steps", more);
}

#[test]
fn sanding_adds_up_over_the_life_of_a_joiner() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R1", "SG-01", "JN-SG-01-R", "BK");
    start(&mut fleet, "RE-L", "R1", "SG-01", "JN-SG-01-R", "BK");
    let sand = |number: u32, tag: &str, by: &str, mm: f64| {
        step(number, tag, by, &json!({"joiner": {"sanded": {"top_mm": mm, "bottom_mm": 0.01}}}))
    };
    let joiner = component(&fleet, "JN-SG-01-R");
    let before_mm = fleet.sanded(joiner, at(LATER), None).top_mm;
    record(&mut fleet, "repair-steps", sand(1, "RE-K", "BK", 0.10 - before_mm));
    assert_eq!(codes(&fleet, "repair-steps", sand(2, "RE-L", "BK", 0.01)), ["inspector_needed"]);
    let own = merged(sand(2, "RE-L", "BK", 0.01), &json!({"done_by": null}));
    let own = fact(&fleet, "repair-steps", own);
    let by = |tag: &str| Asker { member: member(&fleet, tag), has_history: false };
    assert!(may(&fleet, by("BK"), Act::Record(&own), at(LATER)).unwrap_err().contains("inspector"));
    assert_eq!(may(&fleet, by("QS"), Act::Record(&own), at(LATER)), Ok(()));
    record(&mut fleet, "repair-steps", sand(2, "RE-L", "QS", 0.05));
    assert_eq!(codes(&fleet, "repair-steps", sand(3, "RE-L", "QS", 0.05)), ["sanded_too_far"]);
    // A joint of the other hand is another joiner.
    start(&mut fleet, "RE-M", "R1", "SG-02", "JN-SG-02-R", "AV");
    assert_eq!(codes(&fleet, "repair-steps", sand(3, "RE-M", "AV", 0.05)), Vec::<&str>::new());
}

#[test]
fn a_lead_without_slack_is_not_cut_again() {
    let mut fleet = demo();
    let cut = |number: u32, tag: &str, mm: f64| {
        let work = json!({"connector": {"slack_used_mm": mm, "pin_map": "1 flap, 2 aileron, 3 +, 4 -",
                                        "contact_kind": "socket", "is_fixed_half": true}});
        step(number, tag, "BK", &work)
    };
    start(&mut fleet, "RE-K", "R3", "SG-03", "CF-SG-03-R", "BK");
    assert_eq!(codes(&fleet, "repair-steps", cut(1, "RE-K", 7.0)), ["no_slack_left"]);
    // The start itself is refused the same way.
    let started = json!({
        "id": fresh(1), "model": "#models:SG-03", "kind": "R3", "components": ["#components:CF-SG-03-R"],
        "occurred_at": "2026-06-01T08:00:00Z", "text": "again", "slack_used_mm": 7.0,
    });
    assert_eq!(codes(&fleet, "repairs", started), ["no_slack_left"]);
    let said_twice = json!({
        "id": fresh(1), "tag": "RE-S", "model": "#models:SG-01", "kind": "R3", "components": ["#components:CF-SG-01-L"],
        "occurred_at": "2026-06-01T08:00:00Z", "text": "again", "slack_used_mm": 7.0, "done_by": "#members:BK",
    });
    record(&mut fleet, "repairs", said_twice);
    assert_eq!(codes(&fleet, "repair-steps", cut(1, "RE-S", 7.0)), ["slack_said_already"]);
    assert_eq!(codes(&fleet, "repair-steps", cut(1, "RE-S", 0.0)), Vec::<&str>::new());
    // An extension uses none; with the new lead measured it may be cut again, and the last time is said before.
    assert_eq!(codes(&fleet, "repair-steps", cut(1, "RE-K", 0.0)), Vec::<&str>::new());
    let reading = json!({
        "id": fresh(2), "subject": {"component": "#components:CF-SG-03-R"}, "quantity": "lead_slack", "unit": "mm",
        "values": [24.0], "occurred_at": "2026-06-01T08:30:00Z", "measured_by": "#members:BK",
    });
    record(&mut fleet, "measurements", reading);
    record(&mut fleet, "repair-steps", cut(1, "RE-K", 7.0));
    let repair = RepairId(id(&fleet, Noun::Repairs, "RE-K"));
    let said = repair_sheet(&fleet, repair, at("2026-06-01T10:00:00Z")).unwrap().findings;
    assert_eq!(said.iter().map(|one| one.code.as_str()).collect::<Vec<_>>(), ["last_retermination"]);
    record(&mut fleet, "repair-steps", cut(2, "RE-K", 7.0));
    assert_eq!(codes(&fleet, "repair-steps", cut(3, "RE-K", 7.0)), ["no_slack_left"]);
}

#[test]
fn a_connector_is_read_back_and_asks_for_its_check_again() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R3", "SG-01", "CF-SG-01-R", "AV");
    let work = json!({
        "steps": ticks("R3", &[9]),
        "connector": {"slack_used_mm": 7.0, "pin_map": "as before", "contact_kind": "pin", "is_fixed_half": true},
    });
    record(&mut fleet, "repair-steps", step(1, "RE-K", "AV", &work));
    pass(&mut fleet, 1, "SG-01", "RP", "2026-06-01T10:00:00Z");
    let give = |by: &str, second: Option<&str>| release("RE-K", "2026-06-01T11:00:00Z", by, second);
    assert_eq!(codes(&fleet, "releases", give("AV", None)), ["reader_missing"]);
    assert_eq!(codes(&fleet, "releases", give("AV", Some("AV"))), ["worker_as_second_person"]);
    assert_eq!(
        codes(&fleet, "releases", give("FS", Some("QS"))),
        ["second_look_missing", "owner_or_reader_releases"]
    );
    assert_eq!(codes(&fleet, "releases", give("QS", Some("QS"))), Vec::<&str>::new());
    // The owner releases it once the reader has signed, and not before.
    assert_eq!(codes(&fleet, "releases", give("AV", Some("QS"))), ["second_look_missing"]);
    let look = |by: &str, more: &Value| step(2, "RE-K", by, &merged(json!({"is_second_look": true}), more));
    assert_eq!(codes(&fleet, "repair-steps", look("AV", &json!({}))), ["worker_as_second_person"]);
    let working = look("QS", &json!({"mass_added_g": 1.0}));
    assert_eq!(codes(&fleet, "repair-steps", working), ["look_with_work"]);
    record(
        &mut fleet,
        "repair-steps",
        merged(look("QS", &json!({})), &json!({"occurred_at": "2026-06-01T09:30:00Z"})),
    );
    assert_eq!(codes(&fleet, "releases", give("AV", None)), Vec::<&str>::new());
    record(&mut fleet, "releases", give("AV", Some("QS")));
    let open = |fleet: &Fleet, as_of: &str| {
        let due = due_of_model(fleet, model(fleet, "SG-01"), Moment::today(fleet, at(as_of)));
        let opened = due.into_iter().filter(|item| {
            item.opened_by.iter().any(|by| by.code == "reinspection_after_repair" && by.subject == "RE-K")
        });
        opened.map(|item| item.group).collect::<Vec<_>>()
    };
    assert_eq!(open(&fleet, "2026-06-01T10:30:00Z"), Vec::<String>::new(), "not released yet");
    assert_eq!(open(&fleet, "2026-06-01T11:00:00Z"), ["RG", "CN50"]);
    // Only its items: passed by themselves they close it, and the group goes on counting as before.
    let row = |fleet: &Fleet| {
        let due =
            due_of_model(fleet, model(fleet, "SG-01"), Moment::today(fleet, at("2026-06-01T13:00:00Z")));
        due.into_iter().find(|item| item.group == "CN50").unwrap()
    };
    let asked = row(&fleet);
    assert_eq!(asked.opened_by[0].items, ["CN-01", "CN-02", "CN-03", "CN-04"]);
    let items = |codes: &[&str]| {
        json!(codes.iter().map(|code| json!({"item": code, "result": "pass"})).collect::<Vec<_>>())
    };
    let partly = |number: u32, group: &str, codes: &[&str]| {
        json!({"id": fresh(number), "model": "#models:SG-01", "group": group, "result": "restrict", "is_summary": false,
               "occurred_at": "2026-06-01T12:00:00Z", "inspected_by": "#members:QS", "items": items(codes)})
    };
    record(&mut fleet, "inspections", partly(20, "RG", &["RG-04"]));
    let reasons = verdict(&fleet, "SG-01", "2026-06-01T12:30:00Z").reasons;
    let left = reasons.iter().find(|reason| reason.text.contains("asks for RG")).unwrap();
    assert!(left.text.ends_with("RG-07 not passed since"), "{}", left.text);
    assert!(left.clear_by.starts_with("pass RG-07 ("), "{}", left.clear_by);
    record(&mut fleet, "inspections", partly(21, "RG", &["RG-07"]));
    assert_eq!(open(&fleet, "2026-06-01T13:00:00Z"), ["CN50"]);
    let mut whole = fleet.clone();
    record(&mut fleet, "inspections", partly(22, "CN50", &["CN-01", "CN-02", "CN-03"]));
    assert_eq!(row(&fleet).opened_by[0].items, ["CN-04"]);
    let last = json!([{"item": "CN-04", "result": "not_looked_at"}]);
    record(&mut fleet, "inspections", merged(partly(23, "CN50", &[]), &json!({"items": last})));
    assert_eq!(open(&fleet, "2026-06-01T13:00:00Z"), ["CN50"], "not looked at is no pass");
    record(&mut fleet, "inspections", partly(24, "CN50", &["CN-04"]));
    assert_eq!(open(&fleet, "2026-06-01T13:00:00Z"), Vec::<String>::new());
    assert_eq!((row(&fleet).done_on, row(&fleet).due_at_count), (asked.done_on, asked.due_at_count));
    // The whole group closes it, too, and counts from then.
    pass(&mut whole, 2, "SG-01", "CN50", "2026-06-01T12:00:00Z");
    assert_eq!(open(&whole, "2026-06-01T13:00:00Z"), Vec::<String>::new());
    assert_ne!(row(&whole).done_on, asked.done_on);
}

#[test]
fn mass_of_a_step_moves_the_balance_where_it_was_put() {
    let mut fleet = demo();
    start(&mut fleet, "RE-K", "R9", "SG-01", "PN-R-01", "AV");
    let balanced = |fleet: &Fleet| {
        preen_domain::answers::balance(fleet, model(fleet, "SG-01"), at("2026-06-01T12:00:00Z")).unwrap()
    };
    let before = balanced(&fleet);
    let weighed = json!({"mass_added_g": 5.0, "x_mm": 60.0, "y_mm": 1650.0, "z_mm": 60.0});
    record(&mut fleet, "repair-steps", step(1, "RE-K", "AV", &weighed));
    let after = balanced(&fleet);
    assert!((after.mass_g - before.mass_g - 5.0).abs() < 1e-9);
    let moved_mm = (before.mass_g * before.y_mm + 5.0 * 1650.0) / after.mass_g;
    assert!((after.y_mm - moved_mm).abs() < 1e-6, "{} against {moved_mm}", after.y_mm);
    assert!(after.changes.iter().any(|change| change.what == "RE-K" && change.mass_change_g == 5.0));
}
