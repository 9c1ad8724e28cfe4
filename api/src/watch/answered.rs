//! What is counted and logged of every request: its id, operation, status, time and length. Never its path, which holds
//! codes of people and things; nor its query, headers or body.

use std::task::Poll;
use std::time::{Duration, Instant};

use actix_web::HttpRequest;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::Next;
use tracing::{Instrument as _, Span};

use super::meters::{NO_ROUTE, name_of};
use crate::edge::passing::passing;
use crate::state::Shared;

/// A request under way. Where it ends, however it ends, it is counted and logged.
struct Underway {
    state: Shared,
    span: Span,
    method: &'static str,
    route: String,
    started: Instant,
    answered: Option<(u16, Duration)>,
    bytes: u64,
}

impl Underway {
    fn answer(&mut self, status: u16) {
        let took = self.started.elapsed();
        self.answered = Some((status, took));
        self.state.watch.meters.ended(self.method, &self.route, Some(status), took);
    }

    fn send(&mut self, bytes: usize) {
        self.bytes += u64::try_from(bytes).unwrap_or(u64::MAX);
    }
}

impl Drop for Underway {
    fn drop(&mut self) {
        let Self { state, span, method, route, started, answered, bytes } = self;
        let (method, bytes) = (*method, *bytes);
        let (status, took) =
            answered.map_or((None, started.elapsed()), |(status, took)| (Some(status), took));
        let micros = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
        state.watch.meters.end();
        match status {
            Some(status) => {
                span.in_scope(|| tracing::info!(method, %route, status, micros, bytes, "answered"));
            }
            None => {
                state.watch.meters.ended(method, route, None, took);
                span.in_scope(|| tracing::info!(method, %route, micros, "whoever asked has gone"));
            }
        }
    }
}

/// The template of the route that a request took.
fn route_of(request: &HttpRequest) -> String {
    request.match_pattern().filter(|route| !route.is_empty()).unwrap_or_else(|| NO_ROUTE.to_owned())
}

/// Gives every request an id, which is logged and sent back, and counts it.
pub async fn answered(
    state: Shared,
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let id = uuid::Uuid::now_v7().to_string();
    let span = tracing::info_span!("request", %id);
    let method = name_of(request.method());
    state.watch.meters.begin();
    let mut underway = Underway {
        state,
        span: span.clone(),
        method,
        // Known only where the request was led.
        route: NO_ROUTE.to_owned(),
        started: Instant::now(),
        answered: None,
        bytes: 0,
    };
    let mut response = match next.call(request).instrument(span).await {
        Ok(response) => response,
        Err(error) => {
            underway.answer(error.as_response_error().status_code().as_u16());
            return Err(error);
        }
    };
    underway.route = route_of(response.request());
    underway.answer(response.status().as_u16());
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(HeaderName::from_static("x-request-id"), value);
    }
    // The request is under way until its body is sent.
    Ok(response.map_body(|_head, body| {
        passing(body, move |piece| {
            if let Poll::Ready(Some(Ok(chunk))) = piece {
                underway.send(chunk.len());
            }
        })
    }))
}
