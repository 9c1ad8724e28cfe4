//! Defects and their deferrals on the demo club: what holds until when, what each *no* is cleared by, and that it is.

use preen_domain::{
    answers::{
        DefectStanding, Moment, RestrictionSaid, defect_standing, defects_near_limit, may_fly_one,
        plan_deferral, repeat_defects, undeferred_defects,
    },
    facts::{Fact, Noun},
    fleet::Fleet,
    rules::check,
    words::Severity,
};
use preen_tests::demo_fleet::{NOW, add, at, component, demo, id, member, model, moment, verdict};
use serde_json::{Value, json};

fn fresh(number: u32) -> String {
    format!("01970000-0000-7000-8000-{number:012}")
}

/// Takes in a fact that the rules accept at its moment.
#[track_caller]
fn enter(fleet: &mut Fleet, noun: &str, body: Value) {
    let fact = Fact::from_json(noun.parse().unwrap(), body).unwrap();
    let now = fact.occurred_at().unwrap_or(at(NOW)).max(at(NOW));
    assert_eq!(check(fleet, &fact, now), []);
    add(fleet, fact);
}

fn defect(fleet: &mut Fleet, number: u32, tag: &str, more: Value) {
    let mut body = json!({
        "id": fresh(number), "tag": tag, "model": model(fleet, "SG-05"),
        "subject": {"model": model(fleet, "SG-05")}, "severity": "restrict",
        "occurred_at": "2026-05-20T19:00:00Z", "text": "flap hinge stiff", "found_by": member(fleet, "DR"),
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    enter(fleet, "defects", body);
}

fn defer(fleet: &mut Fleet, number: u32, tag: &str, by: &str, more: Value) {
    let mut body = json!({
        "id": fresh(number), "defect": id(fleet, Noun::Defects, tag), "occurred_at": NOW,
        "restrictions": [{"kind": "no_contest"}], "fix_by_on": "2026-05-25", "reason": "hinge ordered",
        "deferred_by": member(fleet, by),
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    enter(fleet, "deferrals", body);
}

/// What may-fly says of the one defect on SG-05: state, class, what clears it.
fn says(fleet: &Fleet, on: &str) -> (String, Severity, String) {
    let verdict = verdict(fleet, "SG-05", on);
    let reason = verdict.reasons.iter().find(|reason| reason.code == "defect_open");
    let reason = reason.unwrap_or_else(|| panic!("{:?}", verdict.reasons));
    (verdict.state.to_string(), reason.severity, reason.clear_by.clone())
}

fn may_fly_at(fleet: &Fleet, tag: &str, at_utc: &str) -> bool {
    may_fly_one(fleet, model(fleet, tag), Moment::today(fleet, at(at_utc))).unwrap().may_fly
}

fn standing(fleet: &Fleet, tag: &str, on: &str) -> DefectStanding {
    defect_standing(fleet, id(fleet, Noun::Defects, tag).into(), moment(on)).unwrap()
}

fn short(restriction: &RestrictionSaid) -> (&str, Option<f64>) {
    (restriction.kind.as_str(), restriction.value)
}

fn repair_and_release(fleet: &mut Fleet, tag: &str, number: u32) {
    let (dr, bk) = (member(fleet, "DR"), member(fleet, "BK"));
    enter(
        fleet,
        "repairs",
        json!({"id": fresh(number), "model": model(fleet, "SG-05"), "defect": id(fleet, Noun::Defects, tag), "kind": "R8",
               "occurred_at": NOW, "text": "hinge freed", "done_by": dr}),
    );
    enter(
        fleet,
        "inspections",
        json!({"id": fresh(number + 1), "model": model(fleet, "SG-05"), "group": "RP", "result": "pass", "is_summary": true,
               "occurred_at": NOW, "inspected_by": bk}),
    );
    enter(
        fleet,
        "releases",
        json!({"id": fresh(number + 2), "repair": fresh(number), "occurred_at": NOW, "released_by": bk, "second_person": bk}),
    );
}

#[test]
fn a_ground_defect_is_cleared_by_repair_and_release() {
    let mut fleet = demo();
    assert!(verdict(&fleet, "SG-05", "2026-05-21").may_fly);
    defect(&mut fleet, 1, "DE-900", json!({"severity": "ground", "cause": "hinge_crack"}));
    let (state, severity, clear_by) = says(&fleet, "2026-05-21");
    assert_eq!((state.as_str(), severity), ("grounded", Severity::Ground));
    assert_eq!(clear_by, "repair and release DE-900, or close it with what was found");
    repair_and_release(&mut fleet, "DE-900", 10);
    assert!(verdict(&fleet, "SG-05", "2026-05-21").may_fly);
}

#[test]
fn a_ground_defect_is_cleared_by_what_was_found() {
    let mut fleet = demo();
    defect(&mut fleet, 1, "DE-900", json!({"severity": "ground"}));
    assert!(!verdict(&fleet, "SG-05", "2026-05-21").may_fly);
    let sg_05 = model(&fleet, "SG-05");
    enter(
        &mut fleet,
        "measurements",
        json!({"id": fresh(2), "subject": {"model": sg_05}, "quantity": "gap", "unit": "mm", "values": [0.1],
               "occurred_at": NOW}),
    );
    enter(
        &mut fleet,
        "closures",
        json!({"id": fresh(3), "defect": fresh(1), "kind": "found_wrong", "measurement": fresh(2), "occurred_at": NOW,
               "text": "hinge is free, the tape had curled"}),
    );
    assert!(verdict(&fleet, "SG-05", "2026-05-21").may_fly);
}

#[test]
fn a_ground_defect_on_a_part_goes_with_the_part() {
    let mut fleet = demo();
    let servo = component(&fleet, "SV08-C003");
    let carrier = {
        let preen_domain::fleet::Place::InModel(model, _) = fleet.place_at(servo, at(NOW)) else {
            panic!("loose")
        };
        fleet.model_tag(model)
    };
    let found =
        json!({"severity": "ground", "subject": {"component": servo}, "model": model(&fleet, &carrier)});
    defect(&mut fleet, 1, "DE-900", found);
    let here = |fleet: &Fleet| {
        let verdict = may_fly_one(fleet, model(fleet, &carrier), moment("2026-05-21")).unwrap();
        verdict.reasons.into_iter().find(|reason| reason.subject == "DE-900")
    };
    assert!(here(&fleet).unwrap().clear_by.ends_with(", or take the part off"));
    let installation = fleet.component(servo).unwrap().span_at(at(NOW)).unwrap().installation;
    enter(
        &mut fleet,
        "removals",
        json!({"id": fresh(2), "installation": installation, "component": servo, "reason": "failed", "occurred_at": NOW}),
    );
    assert_eq!(here(&fleet), None);
    assert_eq!(standing(&fleet, "DE-900", "2026-05-21").carried_by, None);
}

#[test]
fn an_undeferred_defect_asks_for_its_terms_and_grounds_after_thirty_days() {
    let mut fleet = demo();
    defect(&mut fleet, 1, "DE-900", json!({}));
    let told: Vec<String> =
        undeferred_defects(&fleet, moment("2026-05-21")).into_iter().map(|finding| finding.subject).collect();
    assert_eq!(told, ["DE-900"]);
    let (_, severity, clear_by) = says(&fleet, "2026-06-19");
    assert_eq!((says(&fleet, "2026-05-21").0.as_str(), severity), ("restricted", Severity::Restrict));
    assert!(clear_by.contains("have DE-900 deferred by the model's owner or an inspector"), "{clear_by}");
    let (_, severity, clear_by) = says(&fleet, "2026-06-20");
    assert_eq!(severity, Severity::Ground);
    assert_eq!(clear_by, "repair and release DE-900, or close it with what was found");
    defer(&mut fleet, 2, "DE-900", "DR", json!({}));
    assert_eq!(says(&fleet, "2026-05-25").0, "restricted");
    assert_eq!(undeferred_defects(&fleet, moment("2026-05-21")), []);
    let restrictions = standing(&fleet, "DE-900", "2026-05-25").restrictions;
    assert_eq!(restrictions.iter().map(short).collect::<Vec<_>>(), [("no_contest", None)]);
}

#[test]
fn an_expired_deferral_is_cleared_by_another_inspector_and_its_extension_only_by_repair() {
    let mut fleet = demo();
    defect(&mut fleet, 1, "DE-900", json!({}));
    defer(&mut fleet, 2, "DE-900", "FS", json!({"fix_by_on": "2026-05-22"}));
    assert_eq!(says(&fleet, "2026-05-22").1, Severity::Restrict);
    let (_, severity, clear_by) = says(&fleet, "2026-05-23");
    assert_eq!(severity, Severity::Ground);
    assert!(clear_by.contains("have DE-900 extended by an inspector other than FS"), "{clear_by}");
    assert_eq!(standing(&fleet, "DE-900", "2026-05-23").may_sign, ["AV", "QS"]);

    let later = "2026-05-23T07:00:00Z";
    assert!(!may_fly_at(&fleet, "SG-05", later));
    defer(&mut fleet, 3, "DE-900", "QS", json!({"occurred_at": later, "fix_by_on": "2026-05-26"}));
    assert!(may_fly_at(&fleet, "SG-05", later), "extended");
    let end = may_fly_one(&fleet, model(&fleet, "SG-05"), Moment::today(&fleet, at("2026-05-27T07:00:00Z")))
        .unwrap();
    let reason = end.reasons.iter().find(|reason| reason.subject == "DE-900").unwrap();
    assert_eq!(reason.severity, Severity::Ground);
    assert_eq!(reason.clear_by, "repair and release DE-900, or close it with what was found");
    assert!(reason.text.contains("extended on 2026-05-23 by QS, found on 2026-05-20"), "{}", reason.text);
    let standing = standing(&fleet, "DE-900", "2026-05-27");
    assert_eq!(standing.found_at, at("2026-05-20T19:00:00Z"), "the day of finding is kept");
    repair_and_release(&mut fleet, "DE-900", 10);
    let after = Moment::today(&fleet, at("2026-05-27T07:00:00Z"));
    let after = may_fly_one(&fleet, model(&fleet, "SG-05"), after).unwrap();
    assert!(after.reasons.iter().all(|reason| reason.subject != "DE-900"));
}

#[test]
fn a_watched_defect_restricts_after_its_day_or_at_the_next_periodic_check() {
    let mut fleet = demo();
    // DE-013 was found on 3 May with a last day of its own, DE-014 on 17 May without one.
    assert_eq!(standing(&fleet, "DE-013", "2026-06-30").severity, Some(Severity::Watch));
    assert_eq!(standing(&fleet, "DE-013", "2026-07-01").severity, Some(Severity::Restrict));
    assert_eq!(standing(&fleet, "DE-014", "2026-12-01").severity, Some(Severity::Watch));
    assert_eq!(standing(&fleet, "DE-014", "2026-12-01").limit_on, None);
    let sg_01 = model(&fleet, "SG-01");
    enter(
        &mut fleet,
        "inspections",
        json!({"id": fresh(1), "model": sg_01, "group": "N25", "result": "pass", "is_summary": true,
               "occurred_at": NOW}),
    );
    let at_the_check = standing(&fleet, "DE-014", "2026-05-21");
    assert_eq!((at_the_check.severity, at_the_check.can_be_deferred), (Some(Severity::Restrict), true));
    defer(
        &mut fleet,
        2,
        "DE-014",
        "AV",
        json!({"restrictions": [], "within_flights": 3, "fix_by_on": null, "occurred_at": "2026-05-21T08:00:01Z"}),
    );
    let moment = Moment::today(&fleet, at("2026-05-21T08:00:01Z"));
    let deferred = defect_standing(&fleet, id(&fleet, Noun::Defects, "DE-014").into(), moment).unwrap();
    assert_eq!((deferred.severity, deferred.flights_left), (Some(Severity::Watch), Some(3)));
}

fn fly(fleet: &mut Fleet, number: u32, tag: &str, at: &str) {
    enter(
        fleet,
        "flights",
        json!({"id": fresh(number), "model": model(fleet, tag), "pilot": member(fleet, "DR"), "occurred_at": at,
               "launches": 1, "airtime_min": 5.0, "motor_s": 20, "landing": "soft", "is_post_flight_logged": true}),
    );
}

#[test]
fn several_restrictions_come_to_the_tightest_and_flights_count_from_the_deferral() {
    let mut fleet = demo();
    defect(
        &mut fleet,
        1,
        "DE-900",
        json!({"restriction": {"kind": "max_wind", "value": 9}, "fix_by_on": "2026-05-30"}),
    );
    defect(&mut fleet, 2, "DE-901", json!({}));
    let terms = json!([{"kind": "max_flights", "value": 5}, {"kind": "max_wind", "value": 6.5},
                       {"kind": "until_date", "until_on": "2026-05-24"}, {"kind": "no_landing_flap"}]);
    defer(&mut fleet, 3, "DE-901", "DR", json!({"restrictions": terms, "within_flights": 2}));
    fly(&mut fleet, 20, "SG-05", "2026-05-21T07:59:00Z");
    fly(&mut fleet, 21, "SG-05", "2026-05-21T08:20:00Z");
    let moment =
        |on: &str| Moment { as_of: at("2026-05-21T09:00:00Z"), on: on.parse().unwrap(), pilot: None };
    let asked = |on: &str| may_fly_one(&fleet, model(&fleet, "SG-05"), moment(on)).unwrap();
    let today = asked("2026-05-21");
    assert_eq!(
        (today.state.as_str(), today.max_flights),
        ("restricted", Some(1)),
        "2 flights, one of them flown"
    );
    let all: Vec<(&str, Option<f64>)> = today.restrictions.iter().map(short).collect();
    assert_eq!(
        all,
        [
            ("max_wind", Some(9.0)),
            ("max_flights", Some(4.0)),
            ("max_wind", Some(6.5)),
            ("until_date", None),
            ("no_landing_flap", None),
            ("max_flights", Some(1.0)),
        ]
    );
    let together: Vec<(&str, Option<f64>, &str)> =
        today.tightest.iter().map(|one| (one.kind.as_str(), one.value, one.sources[0].as_str())).collect();
    assert_eq!(
        together,
        [
            ("max_flights", Some(1.0), "DE-901"),
            ("until_date", None, "DE-901"),
            ("no_landing_flap", None, "DE-901"),
            ("max_wind", Some(6.5), "DE-901"),
        ]
    );
    assert!(asked("2026-05-24").may_fly);
    assert!(!asked("2026-05-25").may_fly, "after the day it is not to be flown");
    fly(&mut fleet, 22, "SG-05", "2026-05-21T08:40:00Z");
    let spent = may_fly_one(&fleet, model(&fleet, "SG-05"), moment("2026-05-21")).unwrap();
    assert!(!spent.may_fly, "both flights are flown");
}

#[test]
fn flights_are_counted_in_whichever_model_the_part_is() {
    let mut fleet = demo();
    // SV08-B011 sat in SG-02, then in SG-03: a defect found in the first model counts the flights of both.
    let servo = component(&fleet, "SV08-B011");
    let spans = fleet.model_spans(servo);
    let [first, second] = spans.as_slice() else { panic!("{spans:?}") };
    let tags = (fleet.model_tag(first.model), fleet.model_tag(second.model));
    assert_eq!(tags, ("SG-02".to_owned(), "SG-03".to_owned()));
    defect(
        &mut fleet,
        1,
        "DE-900",
        json!({"subject": {"component": servo}, "model": first.model, "occurred_at": "2025-04-06T06:00:00Z",
               "restriction": {"kind": "max_flights", "value": 900}, "fix_by_on": "2026-12-31"}),
    );
    let standing = standing(&fleet, "DE-900", "2026-05-21");
    assert_eq!(standing.carried_by.as_deref(), Some("SG-03"));
    let all = preen_domain::answers::component_usage(&fleet, servo, at(NOW)).flights;
    assert_eq!((standing.flights_left, all), (Some(900 - 108), 108));
}

#[test]
fn a_deferral_is_told_before_it_is_made() {
    let fleet = demo();
    let by = member(&fleet, "FS");
    let deferral = |tag: &str| {
        let body = json!({
            "id": fresh(1), "defect": id(&fleet, Noun::Defects, tag), "occurred_at": NOW, "fix_by_on": "2026-06-04",
            "restrictions": [{"kind": "no_contest"}, {"kind": "max_flights", "value": 8}], "reason": "lead ordered",
        });
        serde_json::from_value(body).unwrap()
    };
    let plan = plan_deferral(&fleet, &deferral("DE-007"), by, at(NOW)).unwrap();
    assert_eq!(plan.answer.before.limit_on, Some("2026-05-28".parse().unwrap()));
    assert_eq!(plan.answer.after.limit_on, Some("2026-06-04".parse().unwrap()));
    assert_eq!(plan.answer.after.flights_left, Some(8));
    assert_eq!((plan.answer.before.can_be_deferred, plan.answer.after.can_be_deferred), (true, false));
    let signed: Vec<(&str, bool)> =
        plan.answer.after.deferrals.iter().map(|one| (one.by.as_str(), one.is_extension)).collect();
    assert_eq!(signed, [("QS", false), ("FS", true)]);
    let refused = plan_deferral(&fleet, &deferral("DE-008"), by, at(NOW)).unwrap_err();
    assert_eq!(refused.iter().map(|rule| rule.code).collect::<Vec<_>>(), ["ground_is_never_deferred"]);
}

fn worn(fleet: &mut Fleet, number: u32, part: &str, found: &str, more: Value) {
    let part = component(fleet, part);
    let preen_domain::fleet::Place::InModel(on, _) = fleet.place_at(part, at(found)) else { panic!("loose") };
    let mut body = json!({
        "severity": "watch", "cause": "wear", "subject": {"component": part}, "model": on, "occurred_at": found,
        "text": "play grows",
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    defect(fleet, number, &format!("DE-9{number:02}"), body);
}

fn told(fleet: &Fleet) -> Vec<(String, String)> {
    let findings = repeat_defects(fleet, moment("2026-05-21"));
    findings.into_iter().map(|finding| (finding.code, finding.subject)).collect()
}

#[test]
fn the_same_again_asks_why_and_on_three_models_for_a_campaign() {
    let mut fleet = demo();
    assert_eq!(told(&fleet), [], "the demo names no causes");
    worn(&mut fleet, 1, "SV08-B001", "2026-04-01T19:00:00Z", json!({}));
    worn(&mut fleet, 2, "SV08-B002", "2026-05-18T19:00:00Z", json!({"cause": "impact"}));
    assert_eq!(told(&fleet), [], "another cause");
    worn(&mut fleet, 3, "SV08-B002", "2026-05-19T19:00:00Z", json!({}));
    assert_eq!(told(&fleet), [("defect_repeats".to_owned(), "DE-903".to_owned())]);
    assert_eq!(standing(&fleet, "DE-903", "2026-05-21").repeats, ["DE-901"]);
    let mut settled = fleet.clone();
    let noted = json!({"cause_note": "horn screws worked loose on both sides"});
    worn(&mut settled, 4, "SV08-B001", "2026-05-20T19:00:00Z", noted);
    assert_eq!(told(&settled), [("defect_repeats".to_owned(), "DE-903".to_owned())], "it says why");

    // On the flap servos of three models: batch B is covered by the demo's campaign, batch A is not.
    worn(&mut fleet, 5, "SV08-B011", "2026-05-19T19:00:00Z", json!({}));
    worn(&mut fleet, 6, "SV08-B006", "2026-05-19T19:10:00Z", json!({}));
    assert_eq!(told(&fleet).len(), 1, "a campaign covers them all");
    let other = fleet
        .components()
        .find(|(id, file)| {
            file.component.as_ref().is_some_and(|known| known.fact.tag.as_str().starts_with("SV08-A"))
                && fleet
                    .position_at(*id, at(NOW))
                    .is_some_and(|position| position.kind.as_str() == "flap servo")
        })
        .map(|(id, _)| fleet.component_tag(id))
        .unwrap();
    worn(&mut fleet, 7, &other, "2026-05-19T19:20:00Z", json!({}));
    let suggested = repeat_defects(&fleet, moment("2026-05-21"))
        .into_iter()
        .find(|finding| finding.code == "campaign_suggested")
        .unwrap();
    assert_eq!(suggested.subject, "SV08/A, SV08/B");
    assert!(
        suggested.clear_by.contains("open a campaign over SV08/A and SV08/B at flap servo"),
        "{suggested:?}"
    );
}

#[test]
fn limits_are_said_beforehand() {
    let fleet = demo();
    let told = |on: &str| -> Vec<String> {
        let mut list: Vec<String> =
            defects_near_limit(&fleet, moment(on)).into_iter().map(|finding| finding.subject).collect();
        list.sort();
        list
    };
    assert_eq!(told("2026-05-20"), Vec::<String>::new());
    assert_eq!(told("2026-05-21"), ["DE-007"], "seven days before 28 May");
    assert_eq!(told("2026-05-29"), Vec::<String>::new(), "it grounds by itself then");
    assert_eq!(told("2026-06-04"), ["DE-011"]);
}

#[test]
fn whoever_signed_first_does_not_sign_again() {
    let fleet = demo();
    assert_eq!(standing(&fleet, "DE-007", "2026-05-21").may_sign, ["AV", "FS"], "QS signed first");
}
