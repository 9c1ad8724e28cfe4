//! How far the demo's campaign is, and that it follows what happens: parts that move, are lent, scrapped, measured.

use preen_domain::answers::{CampaignProgress, TargetCounts, campaign_progress, stock};
use preen_domain::facts::Noun;
use preen_domain::fleet::Fleet;
use preen_domain::ids::CampaignId;
use preen_domain::words::{Standing, TargetPlace};
use serde_json::json;

use preen_tests::demo_fleet::{add, component, demo, grounds, id, model, moment, part, verdict};

const TODAY: &str = "2026-05-21";

fn progress(fleet: &Fleet, on: &str) -> CampaignProgress {
    let campaign = CampaignId(id(fleet, Noun::Campaigns, "CA-2026-1"));
    campaign_progress(fleet, campaign, None, moment(on)).unwrap()
}

fn place(progress: &CampaignProgress, tag: &str) -> Option<TargetPlace> {
    progress.targets.iter().find(|target| target.component == tag).map(|target| target.place)
}

/// Records a fact of the demo in which items are named by id.
fn record(fleet: &mut Fleet, noun: &str, mut body: serde_json::Value) {
    body["id"] = json!(format!("01970000-0000-7000-8000-{:012}", fleet.revision()));
    add(fleet, preen_domain::facts::Fact::from_json(noun.parse().unwrap(), body).unwrap());
}

/// Takes a part out as of some minutes before now.
fn take_out(fleet: &mut Fleet, tag: &str, at: &str, reason: &str) {
    let id = component(fleet, tag);
    let installation = fleet.component(id).unwrap().spans.last().unwrap().installation;
    let body = json!({ "installation": installation, "component": id, "occurred_at": at, "reason": reason });
    record(fleet, "removals", body);
}

fn fit(fleet: &mut Fleet, tag: &str, panel: &str, position: &str, at: &str) {
    let body = json!({ "component": component(fleet, tag), "inside": { "component": component(fleet, panel) },
                       "position": position, "occurred_at": at });
    record(fleet, "installations", body);
}

#[test]
fn where_the_parts_of_the_bad_batch_are() {
    let fleet = demo();
    let progress = progress(&fleet, TODAY);
    let rows: Vec<(&str, &str, Option<&str>, Option<&str>)> = progress
        .targets
        .iter()
        .map(|target| {
            (
                target.component.as_str(),
                target.place.as_str(),
                target.model.as_deref(),
                target.has_it.as_deref(),
            )
        })
        .collect();
    assert_eq!(
        rows,
        [
            ("SV08-B001", "fitted", Some("SG-01"), Some("AV")),
            ("SV08-B002", "fitted", Some("SG-01"), Some("AV")),
            ("SV08-B005", "fitted", Some("SG-03"), Some("BK")),
            ("SV08-B006", "fitted", Some("SG-04"), Some("CM")),
            ("SV08-B008", "quarantine", None, None),
            ("SV08-B009", "quarantine", None, None),
            ("SV08-B010", "fitted", Some("MP-01"), Some("FS")),
            ("SV08-B011", "fitted", Some("SG-03"), Some("BK")),
            ("SV08-B012", "fitted", Some("MP-01"), Some("FS")),
            ("SV08-B015", "loaned", None, Some("VW")),
            ("SV08-B016", "held", None, None),
        ],
        "scrapped B007 is not among them, nor B013 and B014 that sit at ailerons"
    );
    assert_eq!(
        progress.counts,
        TargetCounts {
            targets: 11,
            open: 6,
            overdue: 2,
            failed: 1,
            kept_out: 2,
            done: 0,
            out_of_reach: 1,
            left: 2
        }
    );
    let b001 = &progress.targets[0];
    assert_eq!((b001.flights_left, b001.due_on.unwrap().to_string()), (Some(4), "2026-05-29".to_owned()));
    assert_eq!(b001.actions[0].standing, Standing::Done);
    assert_eq!(b001.actions[1].deadline, "within 30 flights and by 2026-05-29: 4 left");
    let b010 = progress.targets.iter().find(|target| target.component == "SV08-B010").unwrap();
    assert_eq!((b010.standing, b010.actions[0].value), (Standing::Failed, Some(1.3)));
    let left: Vec<(&str, Option<&str>)> =
        progress.left.iter().map(|part| (part.component.as_str(), part.replaced_by.as_deref())).collect();
    assert_eq!(left, [("SV08-B008", Some("SV08-C002")), ("SV08-B009", Some("SV08-C003"))]);
}

#[test]
fn not_enough_servos_of_the_new_batch() {
    let fleet = demo();
    let campaign = CampaignId(id(&fleet, Noun::Campaigns, "CA-2026-1"));
    let entries = ["SG-01", "SG-02", "SG-03", "SG-04", "SG-05", "SG-06"].map(|tag| model(&fleet, tag));
    let progress = campaign_progress(&fleet, campaign, Some(&entries), moment(TODAY)).unwrap();
    let [need] = progress.needs.as_slice() else { panic!("{:?}", progress.needs) };
    assert_eq!((need.need_count, need.on_shelf_count, need.short_count), (7, 3, 4));
    assert_eq!((need.models_need_count, need.models_short_count), (Some(5), Some(2)));
    let stock = stock(&fleet, Some(part(&fleet, "SV08")), moment(TODAY));
    let row = |batch: &str| stock.rows.iter().find(|row| row.batch.as_deref() == Some(batch)).unwrap();
    let c = row("C");
    assert_eq!(
        (c.fitted_count, c.ready_count, c.reserved_count, c.free_count, c.short_count),
        (3, 3, 3, 0, 4)
    );
    assert_eq!(c.loose[0].location.as_deref(), Some("spares shelf 2"));
    let b = row("B");
    assert_eq!(
        (b.fitted_count, b.held_count, b.lent_count, b.unserviceable_count, b.scrapped_count),
        (9, 1, 1, 2, 1)
    );
}

#[test]
fn the_work_list_goes_model_by_model() {
    let progress = progress(&demo(), TODAY);
    let places: Vec<&str> = progress.work_list.iter().map(|group| group.place.as_str()).collect();
    assert_eq!(places, ["MP-01", "SG-01", "SG-03", "SG-04", "with VW", "quarantine shelf"]);
    let sg_03: Vec<(u32, &str)> =
        progress.work_list[2].steps.iter().map(|s| (s.action, s.text.as_str())).collect();
    assert_eq!(
        sg_03[0],
        (1, "SV08-B011 in W.C/FS.L: measure free play, servo_free_play, limit 1.2 deg"),
        "{sg_03:?}"
    );
    assert_eq!(sg_03.len(), 4);
    let first = &progress.work_list[0].steps[0];
    assert_eq!(first.text, "take SV08-B010 in W.L/FS out: servo_free_play 1.3 deg, limit 1.2 deg");
}

#[test]
fn targets_come_in_and_go_out_by_themselves() {
    let mut fleet = demo();
    assert_eq!(place(&progress(&fleet, TODAY), "SV08-B013"), None, "an aileron servo");
    // The left aileron servo of SG-02 comes off: on the shelf it could go anywhere.
    take_out(&mut fleet, "SV08-B013", "2026-05-21T06:00:00Z", "suspected");
    assert_eq!(place(&progress(&fleet, TODAY), "SV08-B013"), Some(TargetPlace::Shelf));
    // Fitted at an aileron again it goes out; at a flap it would come in.
    fit(&mut fleet, "SV08-B013", "PN-L-02", "AS", "2026-05-21T06:30:00Z");
    assert_eq!(place(&progress(&fleet, TODAY), "SV08-B013"), None);
    take_out(&mut fleet, "SV08-B001", "2026-05-21T07:00:00Z", "preventive");
    let now = progress(&fleet, TODAY);
    assert_eq!(place(&now, "SV08-B001"), Some(TargetPlace::Shelf));
    assert_eq!(now.needs[0].need_count, 6);
    let left = now.left.iter().find(|part| part.component == "SV08-B001").unwrap();
    assert_eq!(
        (left.model.as_deref(), left.path.as_str(), left.replaced_by.as_deref()),
        (Some("SG-01"), "W.C/FS.L", None)
    );
    // Scrapped it is none any more, and what was replaced stays told.
    let scrapped = json!({ "component": component(&fleet, "SV08-B001"), "occurred_at": "2026-05-21T07:10:00Z",
                           "state": "scrapped", "reason": "batch B" });
    record(&mut fleet, "conditions", scrapped);
    let now = progress(&fleet, TODAY);
    assert_eq!(place(&now, "SV08-B001"), None);
    assert!(now.left.iter().any(|part| part.component == "SV08-B001"));
}

#[test]
fn a_lent_panel_takes_its_servos_along() {
    let mut fleet = demo();
    take_out(&mut fleet, "PN-C-01", "2026-05-21T06:00:00Z", "borrowed");
    let loan = json!({ "item": { "component": component(&fleet, "PN-C-01") },
                       "lent_to": id(&fleet, Noun::Members, "DR"), "occurred_at": "2026-05-21T06:10:00Z",
                       "from_on": TODAY, "due_back_on": "2026-05-31" });
    record(&mut fleet, "loans", loan);
    let now = progress(&fleet, TODAY);
    let b001 = now.targets.iter().find(|target| target.component == "SV08-B001").unwrap();
    assert_eq!((b001.place, b001.has_it.as_deref()), (TargetPlace::Loaned, Some("DR")));
    assert_eq!((b001.inside.as_deref(), b001.is_out_of_reach), (Some("PN-C-01"), true));
    assert_eq!(now.needs[0].need_count, 7, "it still has to be replaced");
}

#[test]
fn doing_what_clears_the_campaign_turns_no_into_yes() {
    let mut fleet = demo();
    let said = verdict(&fleet, "SG-03", "2026-05-23");
    assert!(grounds(&said).contains(&("campaign_overdue", "CA-2026-1")));
    let reason = said.reasons.iter().find(|reason| reason.code == "campaign_overdue").unwrap();
    assert_eq!(reason.clear_by, "measure servo_free_play of SV08-B005, SV08-B011");
    for tag in ["SV08-B005", "SV08-B011"] {
        let reading = json!({ "subject": { "component": component(&fleet, tag) }, "quantity": "servo_free_play",
                              "values": [0.6], "unit": "deg", "occurred_at": "2026-05-21T07:30:00Z" });
        record(&mut fleet, "measurements", reading);
    }
    let radio = json!({ "model": model(&fleet, "SG-03"), "group": "RF30", "result": "pass", "is_summary": true,
                        "occurred_at": "2026-05-21T07:40:00Z" });
    record(&mut fleet, "inspections", radio);
    let said = verdict(&fleet, "SG-03", "2026-05-23");
    assert_eq!(grounds(&said), []);
    assert_eq!(
        (said.may_fly, said.max_flights),
        (true, Some(10)),
        "N25 at 327 with tolerance 2, now 319: sooner than the campaign"
    );
}

#[test]
fn a_reading_in_another_unit_or_from_before_answers_nothing() {
    let mut fleet = demo();
    for (unit, at) in [("mm", "2026-05-20T07:30:00Z"), ("deg", "2026-05-07T22:30:00Z")] {
        let reading = json!({ "subject": { "component": component(&fleet, "SV08-B011") },
                              "quantity": "servo_free_play", "values": [0.6], "unit": unit, "occurred_at": at });
        record(&mut fleet, "measurements", reading);
        let now = progress(&fleet, TODAY);
        let b011 = now.targets.iter().find(|target| target.component == "SV08-B011").unwrap();
        assert_eq!(b011.actions[0].standing, Standing::Overdue, "{unit} at {at}");
    }
    // The club day of the opening begins at 23:00 UTC the day before.
    let reading = json!({ "subject": { "component": component(&fleet, "SV08-B011") },
                          "quantity": "servo_free_play", "values": [1.2], "unit": "deg",
                          "occurred_at": "2026-05-07T23:30:00Z" });
    record(&mut fleet, "measurements", reading);
    let now = progress(&fleet, TODAY);
    let b011 = now.targets.iter().find(|target| target.component == "SV08-B011").unwrap();
    assert_eq!(b011.actions[0].standing, Standing::Failed, "at the limit counts as reaching it");
    assert!(
        grounds(&verdict(&fleet, "SG-03", "2026-05-23")).contains(&("campaign_limit_reading", "SV08-B011"))
    );
}

/// Codes of what the campaigns say about a model.
fn campaign_codes(fleet: &Fleet, tag: &str, on: &str) -> Vec<String> {
    let said = verdict(fleet, tag, on);
    let of_campaign = said.reasons.into_iter().filter(|reason| reason.code.starts_with("campaign"));
    of_campaign.map(|reason| reason.code).collect()
}

fn swap(fleet: &mut Fleet, off: &str, on: &str) {
    let span = fleet.component(component(fleet, off)).unwrap().spans.last().unwrap().clone();
    take_out(fleet, off, "2026-05-21T07:00:00Z", "preventive");
    let body = json!({ "component": component(fleet, on), "inside": span.inside, "position": span.position,
                       "occurred_at": "2026-05-21T07:00:00Z" });
    record(fleet, "installations", body);
}

#[test]
fn swapping_for_the_new_batch_clears_a_replacement_that_is_late() {
    let mut fleet = demo();
    let said = verdict(&fleet, "SG-04", "2026-05-30");
    let late = said.reasons.iter().find(|reason| reason.code == "campaign_overdue").unwrap();
    assert_eq!(late.clear_by, "swap SV08-B006 for parts of batch C");
    swap(&mut fleet, "SV08-B006", "SV08-C004");
    assert_eq!(campaign_codes(&fleet, "SG-04", "2026-05-30"), Vec::<String>::new());
}

#[test]
fn a_reading_at_the_limit_of_the_campaign_is_cleared_by_taking_the_part_out() {
    let mut fleet = demo();
    let reading = json!({ "subject": { "component": component(&fleet, "SV08-B001") }, "quantity": "servo_free_play",
                          "values": [0.3, 1.2], "unit": "deg", "occurred_at": "2026-05-21T06:00:00Z" });
    record(&mut fleet, "measurements", reading);
    assert_eq!(campaign_codes(&fleet, "SG-01", TODAY), ["campaign_limit_reading", "campaign_limit"]);
    let said = verdict(&fleet, "SG-01", TODAY);
    let reason = said.reasons.iter().find(|reason| reason.code == "campaign_limit_reading").unwrap();
    assert_eq!(reason.clear_by, "take SV08-B001 out and fit a part that the campaign allows");
    swap(&mut fleet, "SV08-B001", "SV08-C004");
    assert_eq!(campaign_codes(&fleet, "SG-01", TODAY), ["campaign_limit"], "B002 is still to be replaced");
    swap(&mut fleet, "SV08-B002", "SV08-C005");
    assert_eq!(campaign_codes(&fleet, "SG-01", TODAY), Vec::<String>::new());
}

#[test]
fn a_limit_may_lie_below() {
    let mut fleet = demo();
    let tag = "SV08-C001";
    let body = json!({ "tag": "CA-PULL", "part": part(&fleet, "SV08"), "batch": "C",
                       "occurred_at": "2026-05-20T06:00:00Z", "actions": [{
                           "number": 1, "task": "measure", "text": "stall current", "quantity": "stall_current",
                           "limit": 0.6, "unit": "A", "direction": "below" }] });
    record(&mut fleet, "campaigns", body);
    let campaign = CampaignId(id(&fleet, Noun::Campaigns, "CA-PULL"));
    let mut standing = |values: serde_json::Value, at: &str| {
        let reading = json!({ "subject": { "component": component(&fleet, tag) }, "quantity": "stall_current",
                              "values": values, "unit": "A", "occurred_at": at });
        record(&mut fleet, "measurements", reading);
        let progress = campaign_progress(&fleet, campaign, None, moment(TODAY)).unwrap();
        progress.targets.iter().find(|target| target.component == tag).unwrap().standing
    };
    assert_eq!(standing(json!([0.9, 0.6]), "2026-05-20T08:00:00Z"), Standing::Done);
    assert_eq!(standing(json!([0.9, 0.59]), "2026-05-20T09:00:00Z"), Standing::Failed);
    assert_eq!(standing(json!([0.8]), "2026-05-20T10:00:00Z"), Standing::Done, "the newest reading counts");
}
