//! Spares over HTTP: kinds with given rates on the bench, and a team's by the record.

use preen_tests::on_both;
use serde_json::{Value, json};

on_both!(spares_are_counted_on_the_bench, |world| {
    let seed: Value = serde_json::from_str(include_str!("../fuzz/seeds/spares/contest.json")).unwrap();
    let answer = world.av.post("/compute/spares", &seed).expect(200).json();
    // Poisson with means 0.4773, 1.2 and 0.048: the same as tables of the distribution.
    let cover = |kind: usize| -> Vec<String> {
        let rows = answer["kinds"][kind]["cover"].as_array().unwrap();
        rows.iter().map(|row| format!("{:.3}", row["probability"].as_f64().unwrap())).collect()
    };
    assert_eq!(cover(0), ["0.620", "0.917", "0.987", "0.999"]);
    assert_eq!(cover(1), ["0.301", "0.663", "0.879", "0.966", "0.992"]);
    assert_eq!(cover(2), ["0.953", "0.999"]);
    let needed: Vec<u64> =
        answer["kinds"].as_array().unwrap().iter().map(|kind| kind["needed"].as_u64().unwrap()).collect();
    assert_eq!(needed[..3], [2, 3, 0]);
    let packing = answer["packing"].as_array().unwrap();
    assert_eq!(packing[0], "2 × flap servo, batch A or C");
    let reply = world.av.post("/compute/spares", &json!({"kinds": [{"kind": "servo", "exposure": 5}]}));
    reply.problem(422, "invalid_fields");
    assert_eq!(reply.wrong_field().0, "/kinds/0");
});

on_both!(a_question_about_a_team_names_what_is_missing, |world| {
    world.small_fleet();
    for (query, parameter) in [
        ("", "contest"),
        ("?models=SG-01", "flights"),
        ("?models=SG-77&flights=5", "models"),
        ("?models=SG-01&flights=0", "flights"),
        ("?models=SG-01&flights=5&target=1", "target"),
        ("?contest=nowhere", "contests"),
    ] {
        let reply = world.av.get(&format!("/spares{query}"));
        reply.problem(400, "bad_parameter");
        assert!(reply.text.contains(parameter), "{query}: {}", reply.text);
    }
});
