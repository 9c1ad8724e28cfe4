//! Acts about campaigns: opened, looked for, closed.

use chrono::Days;
use preen_domain::{
    answers::{CampaignTarget, Moment, campaign_progress},
    facts::Noun,
    ids::CampaignId,
    time::{Instant, day_of},
    words::{PartKind, Standing},
};
use serde_json::{Value, json};

use crate::{
    acts::{of_kind, record},
    history::{History, Roll},
};

/// Campaigns of a history at most.
const MOST_CAMPAIGNS: usize = 6;

/// A campaign opened over some of the servos.
pub fn campaign(history: &mut History, roll: &mut Roll, at: Instant) {
    // A large club has no more campaigns than a small one.
    if history.ids(Noun::Campaigns).len() >= MOST_CAMPAIGNS {
        return;
    }
    let on = day_of(at, history.fleet.club().zone);
    record(history, roll, "campaigns", at, |history, roll| {
        let servo = of_kind(history, roll, PartKind::Servo).and_then(|id| history.fleet.component_data(id));
        let mut actions = vec![json!({
            "number": 1, "task": "measure", "text": "measure it", "quantity": "servo_free_play", "limit": 1.2,
            "unit": "deg", "before_next_flight_after_on": on + Days::new(u64::from(roll.below(20))),
        })];
        if roll.percent(40) {
            actions.push(json!({"number": 2, "task": "replace", "text": "fit another", "within_flights": 10,
                                "by_on": on + Days::new(60)}));
        }
        if roll.percent(50) {
            let mut look = json!({"number": 3, "task": "inspect", "text": "look for cracks"});
            if roll.percent(50) {
                look["by_on"] = json!(on + Days::new(u64::from(roll.below(40))));
            }
            actions.push(look);
        }
        let mut campaign = json!({"part": servo.map(|servo| servo.part), "actions": actions});
        match roll.below(3) {
            0 => {
                let from = roll.below(3 * history.models());
                campaign["serial_from"] = json!(format!("SV{from}"));
                if roll.percent(70) {
                    campaign["serial_to"] = json!(format!("sv0{}", from + roll.below(6)));
                }
            }
            _ => campaign["batch"] = json!("B"),
        }
        if roll.percent(50) {
            campaign["position_kind"] = json!("flap servo");
        }
        campaign
    });
}

/// A part looked at for a campaign that asks for it.
pub fn look_for_campaign(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(campaign) = roll.pick(&history.ids(Noun::Campaigns)) else { return };
    for _ in 0..4 {
        record(history, roll, "campaign-works", at, |history, roll| {
            let result = roll.pick(&["pass", "pass", "restrict", "fail"]);
            json!({"campaign": campaign, "action": 3, "component": of_kind(history, roll, PartKind::Servo),
                   "result": result})
        });
    }
}

/// A campaign closed, with a reason for everything that is still open.
pub fn close_campaign(history: &mut History, roll: &mut Roll, at: Instant) {
    let Some(campaign) = roll.pick(&history.ids(Noun::Campaigns)) else { return };
    let moment = Moment::today(&history.fleet, at);
    let Some(progress) = campaign_progress(&history.fleet, CampaignId(campaign), None, moment) else {
        return;
    };
    let is_left = |target: &CampaignTarget| target.actions.iter().any(|one| one.standing != Standing::Done);
    let waived: Vec<Value> = progress
        .targets
        .iter()
        .filter(|target| is_left(target))
        .filter_map(|target| {
            let component = history.fleet.id_of_tag(Noun::Components, &target.component.parse().unwrap())?;
            Some(json!({"component": component, "reason": "let stand"}))
        })
        .collect();
    record(history, roll, "campaign-closures", at, |_, _| json!({"campaign": campaign, "waived": waived}));
}
