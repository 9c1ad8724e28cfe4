//! Holds every answer that a test gets against the description of the interface that is checked in.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use jsonschema::Validator;
use serde_json::{Value, json};

/// The description that is checked in.
pub const CHECKED_IN: &str = include_str!("../../openapi/openapi.json");

/// The description as JSON.
pub fn description() -> &'static Value {
    static PARSED: OnceLock<Value> = OnceLock::new();
    PARSED.get_or_init(|| serde_json::from_str(CHECKED_IN).unwrap())
}

/// The operation that a request meets, with its path template.
fn operation<'a>(method: &str, path: &str) -> Option<(&'a str, &'a Value)> {
    let path = path.split('?').next().unwrap_or_default();
    let asked: Vec<&str> = path.split('/').collect();
    let paths = description()["paths"].as_object().unwrap();
    let fits = |template: &str| {
        let parts: Vec<&str> = template.split('/').collect();
        parts.len() == asked.len()
            && parts.iter().zip(&asked).all(|(part, asked)| part.starts_with('{') || part == asked)
    };
    let (template, item) = paths.iter().find(|(template, _)| fits(template))?;
    Some((template, item.get(method.to_lowercase())?))
}

/// Panics unless the description foresees this answer to this request.
#[track_caller]
pub fn check(method: &str, path: &str, status: u16, body: &str) {
    if path == "/openapi.json" || path.starts_with("/docs") {
        // The description itself, and the pages that show it.
        return;
    }
    let Some((template, operation)) = operation(method, path) else {
        assert!(status == 404 || status == 405, "{method} {path} is not described and answers {status}");
        return;
    };
    if status == 304 {
        return;
    }
    let answer = &operation["responses"][status.to_string()];
    assert!(answer.is_object(), "{method} {template} answers {status}, which is not described: {body}");
    let Some((kind, content)) = answer["content"].as_object().and_then(|content| content.iter().next())
    else {
        return;
    };
    if let Some((_, start)) = [
        ("application/pdf", "%PDF-"),
        ("application/zip", "PK"),
        ("text/calendar", "BEGIN:VCALENDAR\r\n"),
        (preen_api::watch::numbers::FORMAT, "# HELP "),
        ("image/jpeg", "\u{fffd}\u{fffd}\u{fffd}"),
    ]
    .iter()
    .find(|(file, _)| file == kind)
    {
        assert!(body.starts_with(start), "{method} {template}: {body}");
        return;
    }
    assert!(kind.ends_with("json"), "{kind}");
    let validator = validator(&content["schema"]);
    let documents: Vec<&str> = if kind.ends_with("ndjson") { body.lines().collect() } else { vec![body] };
    for document in documents {
        let value: Value = serde_json::from_str(document).unwrap();
        let faults: Vec<String> = validator
            .iter_errors(&value)
            .map(|fault| format!("{}: {fault}", fault.instance_path()))
            .collect();
        assert!(faults.is_empty(), "{method} {path} answers {status} otherwise than described: {faults:#?}");
    }
}

/// The validator of a schema. Each holds all components, so that what many operations answer shares one.
fn validator(schema: &Value) -> Arc<Validator> {
    static MADE: OnceLock<Mutex<HashMap<String, Arc<Validator>>>> = OnceLock::new();
    let mut made = MADE.get_or_init(Mutex::default).lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let known = made.entry(schema.to_string()).or_insert_with(|| {
        let whole = json!({ "allOf": [schema], "components": description()["components"] });
        Arc::new(jsonschema::validator_for(&whole).unwrap())
    });
    Arc::clone(known)
}
