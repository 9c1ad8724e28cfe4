//! A dozen times *no* over REST: something happens that grounds a model, the answer says what clears it, that is done, and
//! the answer is *yes*.

use preen_tests::http::Caller;
use serde_json::{Value, json};

use crate::demo::Demo;

/// A model of the demo, and who looks after it.
struct Field {
    demo: Demo,
    second: u32,
}

impl Field {
    fn caller(&self, member: &str) -> Caller {
        Caller::new(&self.demo.url(), self.demo.token(member))
    }

    /// Records something, a second after what came before; returns its id.
    #[track_caller]
    fn post(&mut self, member: &str, path: &str, mut body: Value) -> String {
        self.second += 1;
        let id = uuid::Uuid::now_v7().to_string();
        body["id"] = json!(id);
        if !path.ends_with("/correction") {
            body["occurred_at"] =
                json!(format!("2026-05-21T07:{:02}:{:02}Z", self.second / 60, self.second % 60));
        }
        self.caller(member).post(path, &body).expect(201);
        id
    }

    fn verdict(&self, model: &str) -> Value {
        let board = self.caller("FS").get(&format!("/may-fly?model={model}")).expect(200).json();
        board["models"][0].clone()
    }

    /// The model may not fly for this reason, and this clears it.
    #[track_caller]
    fn no(&self, model: &str, code: &str, clear_by: &str) {
        let verdict = self.verdict(model);
        assert_eq!(verdict["may_fly"], false, "{verdict}");
        let reasons = verdict["reasons"].as_array().unwrap();
        let reason = reasons.iter().find(|reason| reason["code"] == code);
        let reason = reason.unwrap_or_else(|| panic!("no {code}: {verdict}"));
        let said = reason["clear_by"].as_str().unwrap();
        assert!(said.starts_with(clear_by), "{said} is not {clear_by}");
        assert_eq!(reason["severity"], "ground");
    }

    #[track_caller]
    fn yes(&self, model: &str, code: &str) {
        let verdict = self.verdict(model);
        assert_eq!(verdict["may_fly"], true, "{verdict}");
        assert!(
            !verdict["reasons"].as_array().unwrap().iter().any(|reason| reason["code"] == code),
            "{verdict}"
        );
    }

    #[track_caller]
    fn pass(&mut self, model: &str, group: &str) {
        let check = json!({"model": model, "group": group, "result": "pass", "is_summary": true});
        self.post("QS", "/inspections", check);
    }
}

#[test]
fn a_dozen_times_no_becomes_yes() {
    let mut field = Field { demo: Demo::own(), second: 0 };
    let model = "TS-01";
    field.yes(model, "hard_landing_unchecked");

    let landing = json!({"model": model, "pilot": "HT", "airtime_min": 0.0, "landing": "hard",
                         "is_post_flight_logged": true});
    field.post("HT", "/flights", landing);
    field.no(model, "hard_landing_unchecked", "pass HL (");
    field.pass(model, "HL");
    field.yes(model, "hard_landing_unchecked");

    for (kind, code, group) in
        [("radio_change", "radio_change_unchecked", "RF30"), ("case_fallen", "transport_unchecked", "TR")]
    {
        field.post("HT", "/events", json!({"model": model, "kind": kind}));
        field.no(model, code, &format!("pass {group} ("));
        field.pass(model, group);
        field.yes(model, code);
    }

    field.post("HT", "/events", json!({"model": model, "kind": "laid_up"}));
    field.no(model, "laid_up", "record its return to flying, then pass DF, N25 and PK20");
    field.post("HT", "/events", json!({"model": model, "kind": "returned_to_flying"}));
    field.no(model, "return_unchecked", "pass N25 (");
    for group in ["DF", "N25", "PK20"] {
        field.pass(model, group);
    }
    field.yes(model, "return_unchecked");

    let failed = json!({"model": model, "group": "N25", "result": "fail", "is_summary": true});
    field.post("QS", "/inspections", failed);
    field.no(model, "check_failed", "mend what failed, then pass N25");
    field.pass(model, "N25");
    field.yes(model, "check_failed");

    let fitted = field.caller("FS").get("/installations?component=SV06-S001").expect(200).json();
    let installation = fitted["items"][0]["id"].clone();
    field.post(
        "HT",
        "/removals",
        json!({"installation": installation, "component": "SV06-S001", "reason": "preventive"}),
    );
    field.no(model, "position_empty", "fit SV06-S001 again");
    field.post(
        "HT",
        "/installations",
        json!({"component": "SV06-S001", "inside": {"model": model}, "position": "AS.L"}),
    );
    field.no(model, "swap_unchecked", "pass SW (");
    field.pass(model, "SW");
    field.yes(model, "swap_unchecked");

    let reading = |value: f64| json!({"subject": {"component": "SV06-S001"}, "quantity": "servo_free_play", "unit": "deg", "values": [value]});
    field.post("QS", "/measurements", reading(1.3));
    field.no(model, "reading_beyond_limit", "raise a defect on SV06-S001");
    field.post("QS", "/measurements", reading(0.3));
    field.yes(model, "reading_beyond_limit");

    let weighing = |x_mm: f64| json!({"model": model, "mass_g": 248.5, "x_mm": x_mm, "u_x_mm": 0.4});
    field.post("QS", "/weighings", weighing(80.0));
    field.no(model, "cg_outside_range", "move weight, then weigh the model");
    field.post("QS", "/weighings", weighing(71.0));
    field.yes(model, "cg_outside_range");

    let defect = json!({"tag": "DE-900", "model": model, "subject": {"model": model}, "severity": "ground",
                        "text": "rudder hinge loose"});
    field.post("HT", "/defects", defect);
    field.no(model, "defect_open", "repair and release DE-900, or close it with what was found");
    let repair = json!({"tag": "RE-900", "model": model, "kind": "R9", "text": "mended", "defect": "DE-900"});
    field.post("HT", "/repairs", repair);
    field.no(model, "repair_unreleased", "pass RP (");
    field.pass(model, "RP");
    field.post("QS", "/releases", json!({"repair": "RE-900", "second_person": "QS"}));
    field.yes(model, "repair_unreleased");
    field.yes(model, "defect_open");

    let event = field.post("HT", "/events", json!({"model": model, "kind": "lost"}));
    field.no(model, "model_gone", "correct that entry if it is wrong");
    let slip = json!({"is_void": true, "reason": "it was found in the next field"});
    field.post("QS", &format!("/events/{event}/correction"), slip);
    field.yes(model, "model_gone");

    field.no("MP-02", "check_overdue", "do N25 (");
    field.pass("MP-02", "N25");
    field.yes("MP-02", "check_overdue");
}
