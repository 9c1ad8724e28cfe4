//! The description of the interface is the one checked in, and every operation says what it may answer.

use preen_tests::description::CHECKED_IN;
use preen_tests::{Database, World};
use serde_json::Value;

fn operations(api: &Value) -> Vec<(String, &str, &Value)> {
    let paths = api["paths"].as_object().unwrap();
    paths
        .iter()
        .flat_map(|(path, item)| {
            item.as_object()
                .unwrap()
                .iter()
                .map(move |(method, operation)| (path.clone(), method.as_str(), operation))
        })
        .collect()
}

#[test]
fn the_served_description_is_the_one_checked_in() {
    let world = World::begin(Database::Sqlite);
    let nobody = world.av.with_token("");
    let served = nobody.get("/api/v1/openapi.json").expect(200);
    assert_eq!(nobody.get("/openapi.json").expect(200).text, served.text);
    if std::env::var_os("PREEN_WRITE_EXPECTED").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/openapi.json");
        std::fs::write(path, &served.text).unwrap();
    }
    assert!(
        served.text == CHECKED_IN,
        "openapi/openapi.json is out of date: write it anew with `preen-server openapi > openapi/openapi.json`"
    );
    assert!(nobody.get("/docs/").expect(200).text.contains("<html"));
    nobody.get("/health/live").expect(200);
    nobody.get("/health/ready").expect(200);
}

#[test]
fn every_operation_says_what_it_may_answer() {
    let api: Value = serde_json::from_str(CHECKED_IN).unwrap();
    assert!(api["openapi"].as_str().unwrap().starts_with("3.1"));
    let mut ids = Vec::new();
    for (path, method, operation) in operations(&api) {
        let at = format!("{method} {path}");
        ids.push(operation["operationId"].as_str().unwrap_or_else(|| panic!("{at}")));
        assert!(operation["summary"].as_str().is_some_and(|text| text.ends_with('.')), "{at}");
        let answers = operation["responses"].as_object().unwrap();
        assert!(answers.contains_key("503"), "{at}");
        for (status, answer) in answers {
            assert!(answer["description"].as_str().is_some_and(|text| !text.is_empty()), "{at} {status}");
            if status.starts_with('4') || status.starts_with('5') {
                let schema = &answer["content"]["application/problem+json"]["schema"]["$ref"];
                assert_eq!(schema, "#/components/schemas/ProblemBody", "{at} {status}");
            }
        }
        if path.contains("{id}") {
            assert!(answers.contains_key("404"), "{at}");
        }
        let is_open = operation["security"] == serde_json::json!([{}]);
        assert_eq!(
            is_open,
            path.starts_with("/health")
                || path == "/metrics"
                || path.ends_with("/openapi.json")
                || path.ends_with("/setup")
                || at == "post /api/v1/session"
        );
        if !is_open {
            assert!(answers.contains_key("401") && answers.contains_key("403"), "{at}");
        }
    }
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count, "operation ids are unique");
    assert!(count > 80, "{count}");
}

#[test]
fn every_reference_leads_somewhere() {
    fn walk<'a>(value: &'a Value, found: &mut Vec<&'a str>) {
        match value {
            Value::Object(object) => {
                if let Some(Value::String(target)) = object.get("$ref") {
                    found.push(target);
                }
                object.values().for_each(|value| walk(value, found));
            }
            Value::Array(list) => list.iter().for_each(|value| walk(value, found)),
            _ => {}
        }
    }
    let api: Value = serde_json::from_str(CHECKED_IN).unwrap();
    let mut found = Vec::new();
    walk(&api, &mut found);
    assert!(found.len() > 200);
    for target in found {
        assert!(api.pointer(target.strip_prefix('#').unwrap()).is_some(), "{target}");
    }
}
