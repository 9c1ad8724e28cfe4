//! The files that pages load: stylesheet, scripts, signs, icons. They are in the binary, under a path that changes with
//! their content, so that browsers may keep them for good.

use std::sync::LazyLock;

use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpResponse, get};

use crate::audit::chain::sha256;
use crate::problem::Problem;

use super::fault::PageFault;

/// A file: its name, its kind, its bytes.
type Asset = (&'static str, &'static str, &'static [u8]);

const SCRIPT: &str = "text/javascript; charset=utf-8";

const ASSETS: &[Asset] = &[
    ("preen.css", "text/css; charset=utf-8", include_bytes!("../../static/preen.css")),
    ("cure.js", "text/javascript; charset=utf-8", include_bytes!("../../static/cure.js")),
    ("icon.svg", "image/svg+xml", include_bytes!("../../static/icon.svg")),
    ("icon-192.png", "image/png", include_bytes!("../../static/icon-192.png")),
    ("icon-512.png", "image/png", include_bytes!("../../static/icon-512.png")),
    ("icon-whole-512.png", "image/png", include_bytes!("../../static/icon-whole-512.png")),
    ("field.js", SCRIPT, include_bytes!("../../static/field.js")),
    ("field_camera.js", SCRIPT, include_bytes!("../../static/field_camera.js")),
    ("field_facts.js", SCRIPT, include_bytes!("../../static/field_facts.js")),
    ("field_flights.js", SCRIPT, include_bytes!("../../static/field_flights.js")),
    ("field_photo.js", SCRIPT, include_bytes!("../../static/field_photo.js")),
    ("field_queue.js", SCRIPT, include_bytes!("../../static/field_queue.js")),
    ("field_send.js", SCRIPT, include_bytes!("../../static/field_send.js")),
    ("field_show.js", SCRIPT, include_bytes!("../../static/field_show.js")),
];

static VERSION: LazyLock<String> = LazyLock::new(|| {
    let whole: Vec<String> = ASSETS
        .iter()
        .map(|(name, _, bytes)| format!("{name}\n{}\n{}", bytes.len(), String::from_utf8_lossy(bytes)))
        .collect();
    let hash = sha256(&whole.iter().map(String::as_str).collect::<Vec<_>>());
    hash.chars().take(12).collect()
});

/// What changes with any of the files.
pub fn version() -> &'static str {
    &VERSION
}

/// Where a file is.
pub fn path(name: &str) -> String {
    format!("/static/{}/{name}", version())
}

/// The names of all files.
pub fn names() -> impl Iterator<Item = &'static str> {
    ASSETS.iter().map(|(name, _, _)| *name)
}

/// Sends a file. One of another version is sent as it is now, but not to be kept.
#[get("/static/{version}/{name}")]
async fn send_asset(wanted: web::Path<(String, String)>) -> Result<HttpResponse, PageFault> {
    let (asked, name) = wanted.into_inner();
    let found = ASSETS.iter().find(|(known, _, _)| *known == name);
    let (_, kind, bytes) = found.ok_or(Problem::NoSuchPath)?;
    let keep = if asked == version() { "public, max-age=31536000, immutable" } else { "no-cache" };
    Ok(HttpResponse::Ok()
        .content_type(*kind)
        .insert_header((header::CACHE_CONTROL, keep))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(*bytes))
}

/// What browsers ask for by themselves where no page says what its sign is.
#[get("/favicon.ico")]
async fn send_icon() -> HttpResponse {
    super::fault::see_other(&path("icon.svg"))
}

/// Registers the files.
pub fn routes(config: &mut ServiceConfig) {
    config.service(send_asset).service(send_icon);
}
