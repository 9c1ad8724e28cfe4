//! Headers that every answer carries unless its handler said otherwise: nothing is kept by default, nothing is guessed
//! from content, nothing runs or is framed, and what was reached by https stays there. No answer lets pages of other
//! origins read it: there is no header for that anywhere.

use actix_web::Error;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;

use crate::state::Shared;

/// What is no page loads nothing.
const BARE: &str = "default-src 'none'; frame-ancestors 'none'";
/// The viewer of the interface description: its own files alone. It sets styles in place.
const VIEWER: &str = "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; object-src 'none'; \
                      base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// Once reached by https, always: for a year.
const STAY: &str = "max-age=31536000";

/// Adds what is missing.
pub async fn with_headers(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let is_encrypted = request.app_data::<Shared>().is_some_and(|state| state.reach.is_encrypted);
    let is_viewer = request.path().starts_with("/docs");
    let mut response = next.call(request).await?;
    if response.status() == StatusCode::NOT_MODIFIED {
        // The headers of this answer take the place of those that the asker has kept with the page.
        return Ok(response);
    }
    let headers = response.headers_mut();
    unless_said(headers, header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_said(headers, header::REFERRER_POLICY, "no-referrer");
    unless_said(headers, header::CONTENT_SECURITY_POLICY, if is_viewer { VIEWER } else { BARE });
    unless_said(headers, header::CACHE_CONTROL, if is_viewer { "no-cache" } else { "no-store" });
    if is_encrypted {
        unless_said(headers, header::STRICT_TRANSPORT_SECURITY, STAY);
    }
    Ok(response)
}

fn unless_said(headers: &mut HeaderMap, name: HeaderName, value: &'static str) {
    if !headers.contains_key(&name) {
        headers.insert(name, HeaderValue::from_static(value));
    }
}
