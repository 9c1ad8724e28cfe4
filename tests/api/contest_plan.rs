//! The work plan of a contest over HTTP: what it gives, and what it refuses.

use preen_tests::{Database, World};

#[test]
fn the_work_of_one_model_is_planned_with_its_question() {
    for database in [Database::Sqlite, Database::Postgres] {
        is_planned(&World::demo(database));
    }
}

fn is_planned(world: &World) {
    let path = "/contests/CT-2026-1/plan?as_of=2026-05-21T08:00:00Z";
    let reply = world.av.get(&format!("{path}&models=SG-03&workers=2&effort=1"));
    let answer = reply.expect(200).json();
    assert_eq!(answer["models"], serde_json::json!(["SG-03"]));
    let tasks = answer["question"]["tasks"].as_array().unwrap();
    assert_eq!(answer["plan"]["tasks"].as_array().unwrap().len(), tasks.len());
    assert_eq!(answer["work"].as_array().unwrap().len(), tasks.len());
    // The question, asked again on the bench, has the same plan.
    let again = world.av.post("/compute/plan", &answer["question"]).expect(200).json();
    assert_eq!(again["start_at"], answer["plan"]["start_at"]);
    // Two members by name with evenings of their own begin no later than two people with the same hours.
    let named = world.av.get(&format!("{path}&models=SG-03&people=BK,QS&evenings=19:00-22:00&effort=1"));
    assert_eq!(named.expect(200).json()["plan"]["start_at"], answer["plan"]["start_at"]);
    for (query, text) in [
        ("workers=0", "from 1 to 12"),
        ("people=BK&workers=1", "not both"),
        ("people=NOBODY", "NOBODY"),
        ("evenings=late", "19:00-22:00"),
        ("models=SG-77", "SG-77"),
        ("effort=99", "from 1 to 20"),
        ("evenings=19:00-19:30&weekends=09:00-09:30", "long enough"),
    ] {
        let reply = world.av.get(&format!("{path}&{query}"));
        reply.problem(400, "bad_parameter");
        assert!(reply.text.contains(text), "{query}: {}", reply.text);
    }
    world.av.get("/contests/nowhere/plan").problem(404, "not_found");
}
