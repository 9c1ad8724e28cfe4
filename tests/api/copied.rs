//! A copy of the feed answers as the service does: every question of the interface, about every item of the demo club.

use preen_domain::asked::Refused;
use preen_tests::copied::Copied;
use preen_tests::world::items;
use preen_tests::{Database, World};
use serde_json::Value;

/// The tags of a noun's items.
fn tags(world: &World, noun: &str) -> Vec<String> {
    let rows = items(world.av.get(&format!("/{noun}?limit=500")));
    rows.iter().filter_map(|row| Some(row["tag"].as_str()?.to_owned())).collect()
}

/// Every question, with and without the parameters of its own.
fn questions(world: &World) -> Vec<String> {
    let mut list: Vec<String> = [
        "/may-fly",
        "/may-fly?on=2026-06-20&pilot=PH",
        "/may-fly?at_revision=300",
        "/may-fly?as_of=2026-03-01",
        "/due",
        "/due?on=2026-07-01",
        "/due?model=SG-03&group=N25",
        "/findings",
        "/findings?severity=ground",
        "/findings?code=no_such_code&at_revision=900",
        "/where",
        "/where?batch=SV08/B",
        "/where?position_kind=flap",
        "/stock",
        "/stock?part=SV08",
        "/exchange?part=SV06&with=SV06M",
        "/open-questions",
        "/campaign-progress",
        "/life?part=SV08",
        "/life?part=SV08&batches=A,B&counter=airtime_h",
        "/spares?models=SG-01,SG-02&flights=40",
        // What is refused is refused in the same words.
        "/may-fly?model=SG-99",
        "/due?on=2020-01-01",
        "/due?as_of=2030-01-01",
        "/due?colour=red",
        "/life",
        "/spares?models=SG-01",
        "/models/SG-99/balance",
        "/models/SG-01/ballast?target_mass_g=heavy",
    ]
    .map(ToOwned::to_owned)
    .to_vec();
    for model in tags(world, "models") {
        for what in [
            "balance",
            "usage",
            "limits",
            "class-check",
            "readiness?flights=12",
            "ballast?target_mass_g=3300",
        ] {
            list.push(format!("/models/{model}/{what}"));
        }
    }
    // Components are many: every third one.
    for component in tags(world, "components").iter().step_by(3) {
        list.extend(["usage", "history", "trend"].map(|what| format!("/components/{component}/{what}")));
    }
    for (noun, what) in
        [("defects", "standing"), ("repairs", "sheet"), ("campaigns", "progress"), ("entries", "readiness")]
    {
        list.extend(tags(world, noun).iter().map(|tag| format!("/{noun}/{tag}/{what}")));
    }
    for contest in tags(world, "contests") {
        list.push(format!("/contests/{contest}/readiness"));
        list.push(format!("/contests/{contest}/plan?workers=2"));
        list.push(format!("/spares?contest={contest}"));
    }
    list
}

/// What the service says, as a copy would say it.
fn said(world: &World, question: &str) -> Result<Value, String> {
    let reply = world.av.get(question);
    let json = reply.json();
    if reply.status == 200 { Ok(json) } else { Err(json["detail"].as_str().unwrap().to_owned()) }
}

fn words(refused: Refused) -> String {
    match refused {
        Refused::Parameter { name, text } => format!("Parameter `{name}`: {text}"),
        Refused::NotFound(text) | Refused::NotAllowed(text) => text,
        Refused::NoSuchQuestion => "no such question".to_owned(),
    }
}

#[test]
fn a_copy_answers_every_question_as_the_service_does() {
    let world = World::demo(Database::Sqlite);
    let copied = Copied::take(&world.av);
    let newest = copied.newest();
    let questions = questions(&world);
    assert!(questions.len() > 250, "{}", questions.len());
    let (mut answered, mut refused) = (0, 0);
    for question in &questions {
        let (by_service, by_copy) = (said(&world, question), copied.answer(&newest, question).map_err(words));
        assert_eq!(by_copy, by_service, "{question}");
        if by_copy.is_ok() { answered += 1 } else { refused += 1 }
    }
    assert!(answered > 200 && refused >= 8, "{answered} answered, {refused} refused");
}
