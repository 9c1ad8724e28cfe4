//! Opening a campaign, recording what was looked at for one, closing it, and fitting against one.

use preen_domain::answers::{campaign_progress, may_fly_one};
use preen_domain::facts::{Fact, Noun};
use preen_domain::fleet::Fleet;
use preen_domain::ids::CampaignId;
use preen_domain::rules::check;
use preen_domain::words::Standing;
use serde_json::{Value, json};

use preen_tests::demo_fleet::{NOW, add, at, demo, grounds, id, model, moment, verdict};

use crate::said::{allowed, fact, fresh, refused, said};

fn campaign(more: Value) -> Value {
    let mut body = json!({
        "id": fresh(1), "tag": "CA-T", "part": "#parts:SV08", "occurred_at": "2026-05-20T10:00:00Z",
        "actions": [{ "number": 1, "task": "inspect", "text": "look for cracks at the mounts" }],
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    body
}

fn open(fleet: &mut Fleet, more: Value) {
    let opened = fact(fleet, "campaigns", campaign(more));
    assert_eq!(check(fleet, &opened, at(NOW)), []);
    add(fleet, opened);
}

fn work(action: u32, tag: &str, result: &str, when: &str) -> Value {
    json!({ "id": fresh(2), "campaign": "#campaigns:CA-T", "action": action,
            "component": format!("#components:{tag}"), "occurred_at": when, "result": result })
}

fn closing(campaign: &str, waived: &[&str]) -> Value {
    let waived: Vec<Value> = waived
        .iter()
        .map(|tag| json!({ "component": format!("#components:{tag}"), "reason": "let stand" }))
        .collect();
    json!({ "id": fresh(3), "campaign": format!("#campaigns:{campaign}"), "occurred_at": NOW, "waived": waived })
}

fn tags(fleet: &Fleet, tag: &str) -> Vec<String> {
    let campaign = CampaignId(id(fleet, Noun::Campaigns, tag));
    let progress = campaign_progress(fleet, campaign, None, moment("2026-05-21")).unwrap();
    progress.targets.into_iter().map(|target| target.component).collect()
}

#[test]
fn what_a_campaign_must_say() {
    let fleet = demo();
    allowed(&fleet, "campaigns", campaign(json!({})));
    let action = |more: Value| {
        let mut action = json!({ "number": 1, "task": "measure", "text": "free play", "quantity": "servo_free_play",
                                 "limit": 1.2, "unit": "deg" });
        for (key, value) in more.as_object().unwrap() {
            action[key] = value.clone();
        }
        campaign(json!({ "actions": [action] }))
    };
    allowed(&fleet, "campaigns", action(json!({})));
    refused(&fleet, "campaigns", action(json!({ "unit": "mm" })), "wrong_unit", "/actions/0/unit");
    refused(&fleet, "campaigns", action(json!({ "unit": null })), "unit_missing", "/actions/0/unit");
    refused(
        &fleet,
        "campaigns",
        action(json!({ "quantity": null })),
        "quantity_missing",
        "/actions/0/quantity",
    );
    refused(
        &fleet,
        "campaigns",
        action(json!({ "task": "inspect" })),
        "nothing_to_measure",
        "/actions/0/quantity",
    );
    let bare = action(json!({ "limit": null, "direction": "below" }));
    refused(&fleet, "campaigns", bare, "direction_without_limit", "/actions/0/direction");
    refused(&fleet, "campaigns", campaign(json!({ "actions": [] })), "no_action", "/actions");
    let kind = campaign(json!({ "position_kind": "flaps" }));
    refused(&fleet, "campaigns", kind, "unknown_position_kind", "/position_kind");
    let range = campaign(json!({ "serial_from": "SV08-B100", "serial_to": "SV08-B99" }));
    refused(&fleet, "campaigns", range, "serial_range", "/serial_to");
    let same = campaign(json!({ "batch": "B", "actions": [
        { "number": 1, "task": "replace", "text": "swap", "replace_with_batch": "B" }
    ] }));
    refused(&fleet, "campaigns", same, "replaced_by_the_same", "/actions/0/replace_with_batch");
}

#[test]
fn a_range_of_serial_numbers() {
    let mut fleet = demo();
    open(&mut fleet, json!({ "serial_from": "SV08-B9", "serial_to": "sv08-b0012" }));
    assert_eq!(tags(&fleet, "CA-T"), ["SV08-B009", "SV08-B010", "SV08-B011", "SV08-B012"]);
    // A serial number of the maker's counts before the tag.
    let part = json!({ "id": fresh(9), "tag": "SV08-X1", "part": "#parts:SV08", "mass_g": 10.4, "state": "serviceable",
                       "serial": "SV08-B0010" });
    let other = json!({ "id": fresh(10), "tag": "SV08-B0011", "part": "#parts:SV08", "mass_g": 10.4,
                        "state": "serviceable", "serial": "77" });
    let unknown = json!({ "id": fresh(11), "tag": "LEFT-ONE", "part": "#parts:SV08", "mass_g": 10.4,
                          "state": "serviceable" });
    for body in [part, other, unknown] {
        let fact = fact(&fleet, "components", body);
        add(&mut fleet, fact);
    }
    assert_eq!(tags(&fleet, "CA-T"), ["SV08-B009", "SV08-B010", "SV08-B011", "SV08-B012", "SV08-X1"]);
    let campaign = CampaignId(id(&fleet, Noun::Campaigns, "CA-T"));
    let progress = campaign_progress(&fleet, campaign, None, moment("2026-05-21")).unwrap();
    assert_eq!(progress.serials_unknown, ["LEFT-ONE"]);
}

#[test]
fn an_inspection_is_recorded_for_its_action_and_nothing_else_counts() {
    let mut fleet = demo();
    open(
        &mut fleet,
        json!({ "batch": "A", "actions": [
        { "number": 1, "task": "measure", "text": "free play", "quantity": "servo_free_play", "unit": "deg" },
        { "number": 2, "task": "inspect", "text": "look for cracks", "by_on": "2026-05-22" },
        { "number": 3, "task": "replace", "text": "swap" },
    ] }),
    );
    let before = work(2, "SV08-A001", "pass", "2026-05-19T10:00:00Z");
    refused(&fleet, "campaign-works", before, "before_the_campaign", "/occurred_at");
    allowed(&fleet, "campaign-works", work(2, "SV08-A001", "pass", "2026-05-20T08:00:00Z"));
    for action in [1, 3] {
        let wrong = work(action, "SV08-A001", "pass", NOW);
        refused(&fleet, "campaign-works", wrong, "not_an_inspection", "/action");
    }
    refused(&fleet, "campaign-works", work(4, "SV08-A001", "pass", NOW), "unknown_action", "/action");
    refused(&fleet, "campaign-works", work(2, "SV08-B001", "pass", NOW), "not_a_target", "/component");
    // A check of the model or of the part is no answer; the work that names the action is.
    let standing = |fleet: &Fleet| {
        let campaign = CampaignId(id(fleet, Noun::Campaigns, "CA-T"));
        let progress = campaign_progress(fleet, campaign, None, moment("2026-05-21")).unwrap();
        progress.targets.iter().find(|target| target.component == "SV08-A001").unwrap().actions[1].standing
    };
    let check = json!({ "id": fresh(5), "component": "#components:SV08-A001", "group": "N25", "occurred_at": NOW,
                        "result": "pass", "is_summary": true });
    let check = fact(&fleet, "inspections", check);
    add(&mut fleet, check);
    assert_eq!(standing(&fleet), Standing::Open);
    let done = fact(&fleet, "campaign-works", work(2, "SV08-A001", "pass", "2026-05-21T07:00:00Z"));
    add(&mut fleet, done);
    assert_eq!(standing(&fleet), Standing::Done);
}

#[test]
fn a_failed_inspection_grounds_until_a_later_one_passes() {
    let mut fleet = demo();
    let fit = |fleet: &Fleet| grounds(&verdict(fleet, "TS-01", "2026-05-23")).is_empty();
    assert!(fit(&fleet));
    let servo = fleet.fitted(model(&fleet, "TS-01"), at(NOW)).into_iter().find_map(|fitted| {
        let part = fleet.part_of(fitted.id)?;
        (part.kind.as_str() == "servo").then(|| (fleet.component_tag(fitted.id), part.tag.to_string()))
    });
    let (servo, part) = servo.unwrap();
    open(&mut fleet, json!({ "part": format!("#parts:{part}") }));
    assert!(fit(&fleet), "open, without a deadline");
    let failed = fact(&fleet, "campaign-works", work(1, &servo, "fail", "2026-05-21T07:00:00Z"));
    add(&mut fleet, failed);
    let said = verdict(&fleet, "TS-01", "2026-05-23");
    assert_eq!(grounds(&said), [("campaign_work_failed", servo.as_str())]);
    let reason = said.reasons.iter().find(|reason| reason.code == "campaign_work_failed").unwrap();
    assert!(reason.clear_by.contains("inspect it again and record a pass"), "{}", reason.clear_by);
    let mut passed = work(1, &servo, "pass", "2026-05-21T07:30:00Z");
    passed["id"] = json!(fresh(6));
    let passed = fact(&fleet, "campaign-works", passed);
    add(&mut fleet, passed);
    assert!(fit(&fleet));
}

#[test]
fn a_campaign_is_closed_when_nothing_is_open_or_a_reason_is_given_for_each() {
    let mut fleet = demo();
    let refusals = said(&fleet, "campaign-closures", closing("CA-2026-1", &[]));
    assert_eq!(refusals.len(), 11, "every part is listed: {refusals:?}");
    assert!(refusals.iter().all(|(code, pointer)| *code == "target_open" && pointer == "/waived"));
    let all = [
        "SV08-B001",
        "SV08-B002",
        "SV08-B005",
        "SV08-B006",
        "SV08-B008",
        "SV08-B009",
        "SV08-B010",
        "SV08-B011",
        "SV08-B012",
        "SV08-B015",
        "SV08-B016",
    ];
    assert_eq!(said(&fleet, "campaign-closures", closing("CA-2026-1", &all[1..])).len(), 1);
    let many = [&all[..], &["SV08-C001"]].concat();
    refused(
        &fleet,
        "campaign-closures",
        closing("CA-2026-1", &many),
        "nothing_to_waive",
        "/waived/11/component",
    );
    let twice = [&all[..], &["SV08-B001"]].concat();
    refused(&fleet, "campaign-closures", closing("CA-2026-1", &twice), "waived_twice", "/waived/0/component");
    let mut early = closing("CA-2026-1", &[]);
    early["occurred_at"] = json!("2026-05-08T05:00:00Z");
    refused(&fleet, "campaign-closures", early, "closed_before_opened", "/occurred_at");

    // Once closed it limits nothing and keeps no part out; it cannot be closed twice.
    let fit = json!({ "id": fresh(7), "component": "#components:SV08-B016", "position": "FS.L", "occurred_at": NOW,
                      "inside": { "component": "#components:PN-C-04" } });
    let forbids = |fleet: &Fleet| {
        said(fleet, "installations", fit.clone()).iter().any(|rule| rule.0 == "batch_forbidden")
    };
    assert!(forbids(&fleet));
    assert_eq!(verdict(&fleet, "SG-01", "2026-05-23").max_flights, Some(4));
    let closed = fact(&fleet, "campaign-closures", closing("CA-2026-1", &all));
    assert_eq!(check(&fleet, &closed, at(NOW)), []);
    add(&mut fleet, closed);
    assert!(!forbids(&fleet));
    assert_eq!(verdict(&fleet, "SG-01", "2026-05-23").max_flights, None);
    let before = preen_domain::answers::Moment { as_of: at("2026-05-21T07:59:59Z"), ..moment("2026-05-23") };
    assert_eq!(
        may_fly_one(&fleet, model(&fleet, "SG-01"), before).unwrap().max_flights,
        Some(4),
        "then it was open"
    );
    let mut again = closing("CA-2026-1", &all);
    again["id"] = json!(fresh(8));
    refused(&fleet, "campaign-closures", again, "closed_already", "/campaign");
    let late = json!({ "id": fresh(12), "campaign": "#campaigns:CA-2026-1", "action": 1,
                       "component": "#components:SV08-B001", "occurred_at": NOW, "result": "pass" });
    let codes: Vec<&str> = said(&fleet, "campaign-works", late).into_iter().map(|(code, _)| code).collect();
    assert_eq!(codes, ["campaign_closed", "not_an_inspection"]);
}

#[test]
fn a_campaign_that_is_spoken_of_is_not_voided() {
    let mut fleet = demo();
    open(&mut fleet, json!({ "batch": "A" }));
    let done = fact(&fleet, "campaign-works", work(1, "SV08-A001", "pass", "2026-05-21T07:00:00Z"));
    add(&mut fleet, done);
    let campaign = fleet.campaign(CampaignId(id(&fleet, Noun::Campaigns, "CA-T"))).unwrap().clone();
    let correction = json!({ "id": fresh(20), "noun": "campaigns", "original": campaign.fact.id, "is_void": true,
                             "reason": "a slip" });
    let Fact::Correction(correction) = fact(&fleet, "corrections", correction) else {
        panic!("no correction")
    };
    let broken = preen_domain::rules::check_correction(&fleet, &campaign.with(correction), at(NOW));
    assert!(broken.iter().any(|rule| rule.code == "later_facts_break"), "{broken:?}");
}
