//! `GET /metrics`: numbers for a monitoring system, in the open text format that such systems read (OpenMetrics 1.0).
//!
//! Who may read them: whoever asks from this machine itself, past any proxy; else whoever shows the token of the
//! settings. For others there is nothing here.

use std::path::PathBuf;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, web};
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::{ConstGauge, Gauge};
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};
use subtle::ConstantTimeEq as _;

use super::machine::{resident_bytes, room_at};
use crate::desk::{AUDITS, BOARDS, DESK, PRESS};
use crate::problem::{Problem, ProblemBody, TokenFault};
use crate::state::{Shared, State};

/// How the format is called.
pub const FORMAT: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Headers by which a proxy shows itself.
const OF_PROXIES: [&str; 4] = ["x-forwarded-for", "forwarded", "via", "x-real-ip"];

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Kind {
    kind: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Kept {
    place: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Build {
    version: &'static str,
    database: &'static str,
}

/// Numbers of the service for a monitoring system: requests, the queue of changes, Fleets in memory, backups, disks.
/// Read by this machine itself, or with the token of `--metrics-token-file`.
#[utoipa::path(
    tag = "health",
    operation_id = "read_metrics",
    security(()),
    responses(
        (status = 200, description = "OpenMetrics 1.0.", body = String,
            content_type = "application/openmetrics-text; version=1.0.0; charset=utf-8"),
        (status = 401, description = "The token is not the one of the settings.", body = ProblemBody,
            content_type = "application/problem+json"),
        (status = 404, description = "Asked from elsewhere, without a token.", body = ProblemBody,
            content_type = "application/problem+json"),
    )
)]
#[get("/metrics")]
pub async fn metrics(request: HttpRequest, state: Shared) -> Result<HttpResponse, Problem> {
    may_read(&request, &state)?;
    let folders = state.watch.folders.clone();
    // A disk that hangs must not hold a thread that answers.
    let rooms = web::block(move || rooms_of(folders)).await;
    let rooms = rooms.map_err(|error| Problem::Internal(error.to_string()))?;
    let mut text = String::with_capacity(16 << 10);
    encode(&mut text, &gather(&state, &rooms)).map_err(|error| Problem::Internal(error.to_string()))?;
    Ok(HttpResponse::Ok().content_type(FORMAT).body(text))
}

fn may_read(request: &HttpRequest, state: &State) -> Result<(), Problem> {
    let shown = request.headers().get(header::AUTHORIZATION).map(header::HeaderValue::as_bytes);
    if let Some(shown) = shown {
        let shown = shown.strip_prefix(b"Bearer ").unwrap_or_default();
        let token = state.watch.upkeep.metrics_token.as_ref();
        let fits = token.is_some_and(|token| bool::from(token.as_bytes().ct_eq(shown)));
        return if fits { Ok(()) } else { Err(Problem::NotSignedIn(TokenFault::Unknown)) };
    }
    let is_near = request.peer_addr().is_some_and(|peer| peer.ip().to_canonical().is_loopback());
    let came_by_proxy = OF_PROXIES.iter().any(|name| request.headers().contains_key(*name));
    if is_near && !came_by_proxy { Ok(()) } else { Err(Problem::NoSuchPath) }
}

/// Free and whole bytes of each disk that answers.
fn rooms_of(folders: Vec<(&'static str, PathBuf)>) -> Vec<(&'static str, u64, u64)> {
    let told = folders.into_iter().filter_map(|(place, folder)| Some((place, room_at(&folder).ok()?)));
    told.map(|(place, room)| (place, room.free, room.whole)).collect()
}

fn gauge(number: u64) -> ConstGauge<u64> {
    ConstGauge::new(number)
}

fn gather(state: &State, rooms: &[(&'static str, u64, u64)]) -> Registry {
    let mut numbers = Registry::with_prefix("preen");
    let watch = &state.watch;
    let build = Build { version: env!("CARGO_PKG_VERSION"), database: watch.database };
    numbers.register("build", "What runs here", Info::new(build));
    watch.meters.show(&mut numbers);
    show_door(state, &mut numbers);
    show_work(state, &mut numbers);
    let (free, whole) = (Family::<Kept, Gauge>::default(), Family::<Kept, Gauge>::default());
    for (place, free_bytes, whole_bytes) in rooms {
        let kept = Kept { place };
        free.get_or_create(&kept).set(i64::try_from(*free_bytes).unwrap_or(i64::MAX));
        whole.get_or_create(&kept).set(i64::try_from(*whole_bytes).unwrap_or(i64::MAX));
    }
    numbers.register_with_unit("disk_free", "Room that is left where it is kept", Unit::Bytes, free);
    numbers.register_with_unit("disk_size", "All the room where it is kept", Unit::Bytes, whole);
    if let Some(bytes) = resident_bytes() {
        numbers.register_with_unit(
            "resident_memory",
            "Memory that the process holds",
            Unit::Bytes,
            gauge(bytes),
        );
    }
    numbers
}

fn show_door(state: &State, numbers: &mut Registry) {
    let standing = state.door.standing();
    state.door.meters().show(numbers);
    numbers.register(
        "changes_waiting",
        "Changes that are not kept yet, waiting or at work",
        gauge(standing.waiting),
    );
    numbers.register_with_unit(
        "change_oldest_wait",
        "How long ago the oldest of them came",
        Unit::Seconds,
        ConstGauge::new(standing.oldest.as_secs_f64()),
    );
    numbers.register("fleets_held", "Clubs whose Fleet is in memory", gauge(standing.fleets));
    let memory = "Memory of these Fleets, by estimate";
    numbers.register_with_unit("fleets_held", memory, Unit::Bytes, gauge(standing.fleet_bytes));
    numbers.register_with_unit(
        "fleets_limit",
        "Memory that Fleets may take",
        Unit::Bytes,
        gauge(state.watch.upkeep.fleet_bytes),
    );
    let connections = gauge(standing.connections_in_use);
    numbers.register("connections_in_use", "Connections to the database that read just now", connections);
    let limit = gauge(standing.connections_at_most);
    numbers.register("connections_limit", "Connections that may read at once", limit);
}

fn show_work(state: &State, numbers: &mut Registry) {
    let (running, waiting) = (Family::<Kind, Gauge>::default(), Family::<Kind, Gauge>::default());
    let desks = [
        ("audit", AUDITS.standing()),
        ("board", BOARDS.standing()),
        ("plan", DESK.standing()),
        ("sheet", PRESS.standing()),
        ("photo", state.photos.darkroom.standing()),
    ];
    for (kind, (at_work, in_line)) in desks {
        let count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
        running.get_or_create(&Kind { kind }).set(count(at_work));
        waiting.get_or_create(&Kind { kind }).set(count(in_line));
    }
    numbers.register("work_running", "Audits, boards, plans, sheets and photos being made", running);
    numbers.register(
        "work_waiting",
        "Audits, boards, plans, sheets and photos waiting for their turn",
        waiting,
    );
}
