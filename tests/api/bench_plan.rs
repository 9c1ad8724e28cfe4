//! Plans over HTTP: what comes out, and which field is named when nothing can.

use preen_tests::on_both;
use serde_json::{Value, json};

/// The ten tasks before a contest.
fn contest(workers: u32) -> Value {
    let seed = include_str!("../fuzz/seeds/plan/contest.json");
    let mut question: Value = serde_json::from_str(seed).unwrap();
    question["workers"] = json!(workers);
    question
}

on_both!(work_before_a_contest_is_planned_backwards, |world| {
    for (workers, start) in [(1, "2026-05-25T19:30:00Z"), (2, "2026-05-26T19:30:00Z")] {
        let plan = world.av.post("/compute/plan", &contest(workers)).expect(200).json();
        assert_eq!(plan["start_at"], start, "{workers} workers");
        assert_eq!(
            (&plan["fits"], &plan["is_proven"], &plan["orders"]),
            (&json!(true), &json!(true), &json!(112))
        );
        let tasks = plan["tasks"].as_array().unwrap();
        assert_eq!(tasks.len(), 10);
        assert!(tasks.windows(2).all(|pair| pair[0]["start_at"].as_str() <= pair[1]["start_at"].as_str()));
        assert!(
            !plan["chain"].as_array().unwrap().is_empty()
                && !plan["assumptions"].as_array().unwrap().is_empty()
        );
    }
});

on_both!(what_does_not_fit_says_what_would_help, |world| {
    let mut late = contest(1);
    late["now_at"] = json!("2026-05-26T19:00:00Z");
    let plan = world.av.post("/compute/plan", &late).expect(200).json();
    assert_eq!((&plan["fits"], &plan["start_at"]), (&json!(false), &json!("2026-05-25T19:30:00Z")));
    // Nothing may be left out; a second pair of hands begins on Tuesday at half past seven.
    let help = &plan["helps"][0];
    assert_eq!((&help["kind"], &help["fits"]), (&json!("person"), &json!(true)));
    assert_eq!(help["start_at"], "2026-05-26T19:30:00Z");
    // With that person the same question fits.
    late["workers"] = json!(2);
    assert_eq!(world.av.post("/compute/plan", &late).expect(200).json()["fits"], true);
});

on_both!(what_cannot_be_planned_names_its_field, |world| {
    let with = |pointer: &str, value: Value| {
        let mut question = contest(1);
        *question.pointer_mut(pointer).unwrap() = value;
        question
    };
    let cases = [
        (
            with("/tasks/9", json!({"task": "T10", "hours": 1, "before": ["T1"]})),
            "/tasks/0/before",
            "waits for itself",
        ),
        (with("/tasks/0/hours", json!(-1.5)), "/tasks/0/hours", "between 0 and 24"),
        (with("/tasks/2/hours", json!(9.25)), "/tasks/2/hours", "long enough in one piece"),
        (with("/tasks/1/before", json!(["T33"])), "/tasks/1/before/0", "`T33` is not in the list of tasks"),
        (with("/workers", json!(0)), "/workers", "between 1 and 12"),
        (with("/tasks", json!([])), "/tasks", "1 to 200 tasks"),
        (with("/tasks/3/task", json!("T1")), "/tasks/3/task", "a name of its own"),
    ];
    for (question, pointer, text) in cases {
        let reply = world.av.post("/compute/plan", &question);
        reply.problem(422, "invalid_fields");
        let wrong = reply.wrong_field();
        assert_eq!(wrong.0, pointer, "{}", reply.text);
        assert!(wrong.2.contains(text), "{}", wrong.2);
    }
});
