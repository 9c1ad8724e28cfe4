//! What a browser needs to keep the field pages and open them without signal: the manifest and the worker.
//!
//! The worker's text begins with the version of the files it keeps, so that browsers fetch it anew when one changes.

use actix_web::http::header;
use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use serde_json::json;

use crate::web::assets;

/// The worker, without what it is told about this program.
const WORKER: &str = include_str!("../../../static/sw.js");

/// What the worker may load: files of this service alone.
const POLICY: &str = "default-src 'none'; connect-src 'self'; script-src 'self'";

/// Describes the field card to a browser that installs it.
#[get("/manifest.webmanifest")]
async fn show_manifest() -> HttpResponse {
    let manifest = json!({
        "id": "/field",
        "name": "Preen field card",
        "short_name": "Preen",
        "description": "Flights, checks, readings and defects of the club's models, with or without signal.",
        "start_url": "/field",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f5ef",
        "theme_color": "#10424b",
        "icons": [
            { "src": assets::path("icon.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any" },
            { "src": assets::path("icon-192.png"), "sizes": "192x192", "type": "image/png", "purpose": "any" },
            { "src": assets::path("icon-512.png"), "sizes": "512x512", "type": "image/png", "purpose": "any" },
            // Drawn to the edge, with room round the drawing: home screens cut it to their own shape.
            { "src": assets::path("icon-whole-512.png"), "sizes": "512x512", "type": "image/png", "purpose": "maskable" },
        ],
    });
    HttpResponse::Ok()
        .content_type("application/manifest+json")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(manifest.to_string())
}

/// Sends the worker that keeps the field pages.
#[get("/sw.js")]
async fn show_worker() -> HttpResponse {
    let files: Vec<String> = assets::names().map(assets::path).collect();
    let told = format!("const FILES = {};\n", json!(files));
    HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(told + WORKER)
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_manifest).service(show_worker);
}
