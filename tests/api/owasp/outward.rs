//! API7 and API10, what the service asks of others: nothing a request says makes it open a line to anywhere, and what the
//! store of pictures sends back is not believed.

use std::net::TcpListener;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use preen_tests::description::description;
use preen_tests::world::{flight, new_id};
use preen_tests::{Reply, on_both};
use serde_json::{Value, json};

/// Somebody who hears of it when anybody calls.
fn listener() -> (String, Arc<AtomicUsize>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    let calls = Arc::new(AtomicUsize::new(0));
    let heard = Arc::clone(&calls);
    std::thread::spawn(move || {
        for _ in listener.incoming() {
            heard.fetch_add(1, Ordering::SeqCst);
        }
    });
    (url, calls)
}

/// Every place of a schema's example body that takes a text, filled with this.
fn filled(schema: &Value, text: &str, depth: usize) -> Value {
    if depth > 6 {
        return Value::Null;
    }
    if let Some(name) = schema["$ref"].as_str() {
        return filled(description().pointer(name.trim_start_matches('#')).unwrap(), text, depth + 1);
    }
    if let Some(properties) = schema["properties"].as_object() {
        return properties.iter().map(|(name, of)| (name.clone(), filled(of, text, depth + 1))).collect();
    }
    let kind = &schema["type"];
    if kind == "array" || kind[0] == "array" {
        return json!([filled(&schema["items"], text, depth + 1)]);
    }
    if kind == "number" || kind == "integer" || kind[0] == "number" || kind[0] == "integer" {
        return json!(1);
    }
    json!(text)
}

on_both!(nothing_that_is_sent_makes_the_service_call_anybody, |world| {
    let (url, calls) = listener();
    world.small_fleet();
    let mut asked = 0;
    for (path, item) in description()["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let path = path.replace("{id}", "SG-01");
            if path.ends_with("/session") && method == "delete" {
                continue;
            }
            let method = method.to_uppercase();
            let queries: Vec<String> = operation["parameters"]
                .as_array()
                .into_iter()
                .flatten()
                .filter(|one| one["in"] == "query")
                .map(|one| format!("{}={url}", one["name"].as_str().unwrap()))
                .collect();
            let request = world.av.request(&method, &format!("{path}?{}", queries.join("&")));
            let schema = &operation["requestBody"]["content"]["application/json"]["schema"];
            let request = if schema.is_object() { request.json(&filled(schema, &url, 0)) } else { request };
            let status = request.header("referer", &url).header("origin", &url).send().unwrap().status();
            assert!(status.as_u16() < 500, "{method} {path}: {status}");
            asked += 1;
        }
    }
    assert!(asked > 200, "{asked}");
    // Where a text may stand, an address is a text; codes on labels lead there, and nobody goes.
    let mut log = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    log["note"] = json!(format!("see {url}/x.png <img src='{url}'>"));
    world.add("flights", log);
    let labels = world.av.get(&format!("/labels.pdf?models=SG-01&address={url}"));
    assert!(matches!(labels.status, 200 | 400), "{}", labels.status);
    world.av.get("/models/SG-01/record.pdf").expect(200);
    let svg = format!("<svg xmlns='http://www.w3.org/2000/svg'><image href='{url}/a.png'/></svg>");
    world.av.post_file("/photos/files", "image/svg+xml", svg.as_bytes()).problem(415, "not_a_picture");
    world.av.post_file("/photos/files", "text/uri-list", url.as_bytes()).problem(415, "not_a_picture");
    let photo =
        json!({ "id": new_id(), "model": "SG-01", "url": url, "occurred_at": "2026-05-20T10:00:00Z" });
    world.av.post("/photos", &photo).problem(422, "invalid_fields");
    for name in ["host", "x-forwarded-host", "x-forwarded-for", "x-original-url", "x-callback-url"] {
        let request =
            world.av.request("GET", "/models/SG-01").header(name, url.trim_start_matches("http://"));
        Reply::of(request);
    }
    assert_eq!(calls.load(Ordering::SeqCst), 0, "somebody was called");
});
