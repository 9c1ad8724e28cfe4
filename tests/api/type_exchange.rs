//! What the exchange of a part type across the fleet would do, over HTTP.

use preen_tests::on_both;
use serde_json::json;

on_both!(an_exchange_across_the_fleet_names_what_does_not_fit, |world| {
    world.small_fleet();
    let part = |tag: &str, kind: &str, mass_g: f64| json!({ "tag": tag, "kind": kind, "tracking": "serial", "nominal_mass_g": mass_g });
    world.add("parts", part("SVX", "servo", 12.0));
    world.add("parts", part("SVY", "servo", 9.0));
    world.add("parts", part("SVZ", "servo", 0.0));
    world.add("parts", part("PKX", "pack", 80.0));
    for (query, said) in [
        ("", "part"),
        ("?part=SVX", "with"),
        ("?part=SVQ&with=SVX", "SVQ"),
        ("?part=SVX&with=PKX", "PKX is a pack"),
        ("?part=SVX&with=SVZ", "no mass on record"),
        ("?part=SVX&with=SVY&at=now", "at"),
    ] {
        let reply = world.av.get(&format!("/exchange{query}"));
        reply.problem(400, "bad_parameter");
        assert!(reply.text.contains(said), "{query}: {}", reply.text);
    }
    let answer = world.av.get("/exchange?part=SVX&with=SVY").expect(200).json();
    assert_eq!((&answer["part"], &answer["with"]), (&json!("SVX"), &json!("SVY")));
    assert_eq!((&answer["mass_each_g"], &answer["models"]), (&json!(9.0), &json!([])));
});
