//! Late entries, what they change and why, and questions settled from the command line.

use serde_json::{Value, json};

use crate::demo::Demo;

/// Two flights of Sunday evening are entered on Friday: the answer for Saturday changes, and says why.
#[test]
fn a_late_entry_changes_the_answer_for_saturday_and_says_why() {
    let demo = Demo::own();
    demo.clock.set("2026-05-22T08:00:00Z".parse().unwrap());
    let state = std::env::temp_dir().join(format!("preen-state-{}", uuid::Uuid::now_v7().simple()));
    let av = demo.preen("AV").env("XDG_STATE_HOME", state.display().to_string());

    av.run("changes --on 2026-05-23").code(0).shows("This is the first look");
    let before = av.json("may-fly SG-01 --on 2026-05-23");
    assert_eq!(before["models"][0]["max_flights"], 4);
    av.run("log SG-01 8 normal --at '2026-05-17 18:00' --motor 20 --tag FL-L1").code(0);
    av.run("log SG-01 9 normal --at '2026-05-17 18:30' --motor 20 --tag FL-L2").code(0);

    let looked = av.run("changes --on 2026-05-23 --keep").code(0);
    looked
        .shows("2 entries, 1 model stands differently")
        .shows("SG-01: was fit, max 4; is fit, max 2")
        .shows("28 of 30 flights flown, 2 left")
        .shows("flight of SG-01, 8 min, landing normal, entered 4 days after")
        .shows("clear, due at 275 flights, 4 left");
    // Kept, so told again; then remembered, so told no more.
    let told = av.json("changes --on 2026-05-23");
    let usage = told["answers"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["answer"] == "usage" && one["subject"] == "SG-01");
    let usage = usage.unwrap();
    assert!(usage["before"].as_str().unwrap().starts_with("271 flights"), "{usage}");
    assert!(usage["after"].as_str().unwrap().starts_with("273 flights"), "{usage}");
    assert_eq!(usage["by_revisions"].as_array().unwrap().len(), 2);
    assert_eq!(told["models"][0]["max_flights_after"], 2);
    av.run("changes --on 2026-05-23").code(0).shows("0 entries, 0 models stand differently");

    // Asked for Friday morning, before they were entered, the record still answers as it did.
    let revision = before["revision"].as_i64().unwrap();
    let then = av.json(&format!("may-fly SG-01 --on 2026-05-23 --at-revision {revision}"));
    assert_eq!(then["models"], before["models"]);
    std::fs::remove_dir_all(state).unwrap();
}

/// What a phone sent and a rule refused is settled by hand.
#[test]
fn a_question_is_put_right_from_the_command_line() {
    let demo = Demo::own();
    let av = demo.preen("AV");
    av.run("questions").code(0).shows("No question is open");
    let flight = |at: &str| {
        json!({
            "id": uuid::Uuid::now_v7(), "model": "SG-02", "pilot": "AV", "occurred_at": at, "airtime_min": 10.0,
            "landing": "normal", "is_post_flight_logged": true,
        })
    };
    let phone = preen_tests::http::Caller::new(&demo.url(), demo.token("AV"));
    let asked = phone.post(
        "/facts",
        &json!({ "facts": [
            { "noun": "flights", "fact": flight("2026-05-21T07:00:00Z") },
            { "noun": "flights", "fact": flight("2026-05-21T07:05:00Z") },
        ]}),
    );
    let asked = asked.expect(200).json();
    let statuses: Vec<&Value> =
        asked["results"].as_array().unwrap().iter().map(|one| &one["status"]).collect();
    assert_eq!(statuses, ["recorded", "question"], "{asked}");
    let id = asked["results"][1]["question"].as_str().unwrap();
    let end = &id[id.len() - 8..];
    av.run("questions")
        .code(1)
        .shows("1 question is open")
        .shows(&format!("{end}  flight of SG-02, 10 min, landing normal"))
        .shows("sent by AV")
        .talks(&format!("preen questions settle {end}"));
    av.run(&format!("questions settle {end} --text 'still both'")).code(3).talks("How is it to be settled?");
    av.run(&format!("questions settle {end} --text 'still both' --as-sent")).code(4);
    av.run("questions settle 00000000 --text 'none such' --leave-out")
        .code(3)
        .talks("No open question ends with");
    av.run(&format!("questions settle {end} occurred_at=2026-05-21T07:20:00Z --text 'the watch was slow'"))
        .code(0)
        .shows("Settled: recorded as one of the flights");
    av.run("questions").code(0).shows("No question is open");
    assert_eq!(
        av.json("questions list")["items"].as_array().unwrap().len(),
        1,
        "the question stays on record"
    );
    assert_eq!(av.json("flights list model=SG-02 --from 2026-05-21")["items"].as_array().unwrap().len(), 2);
}
