//! Who asks for a page. Whoever is not signed in is led to where that is done, and back.

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use futures_util::future::LocalBoxFuture;

use super::fault::PageFault;
use crate::access::actor::{Actor, Reader};
use crate::problem::Problem;

/// A member who asks for a page.
pub struct Guest(pub Actor);

impl FromRequest for Guest {
    type Error = PageFault;
    type Future = LocalBoxFuture<'static, Result<Self, PageFault>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let reader = Reader::from_request(request, payload);
        let wanted = wanted(request);
        Box::pin(async move {
            reader
                .await
                .map(|reader| Self(reader.0))
                .map_err(|problem| PageFault::on_the_way(problem, wanted))
        })
    }
}

/// The page to come back to after signing in: the one asked for, or the board.
fn wanted(request: &HttpRequest) -> String {
    let target = request.uri().path_and_query().map_or("/", |target| target.as_str());
    if request.method().is_safe() { target.to_owned() } else { "/".to_owned() }
}

/// A path of this service: it begins with one slash, so that no link leads to another host.
pub fn own_path(text: &str) -> Option<&str> {
    let is_own = text.starts_with('/')
        && !text.starts_with("//")
        && !text.contains('\\')
        && !text.chars().any(char::is_control);
    is_own.then_some(text)
}

/// What stands in the way of a change by somebody who may look, but must first choose a password.
pub fn check_ready(actor: &Actor) -> Result<(), Problem> {
    match actor.session() {
        Some(session) if session.must_change_password => Err(Problem::PasswordMustChange),
        Some(_) | None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_elsewhere() {
        assert_eq!(own_path("/models/SG-01?on=2026-05-23"), Some("/models/SG-01?on=2026-05-23"));
        for foreign in ["//evil.example", "https://evil.example", "/\\evil.example", "", "models", "/a\nb"] {
            assert_eq!(own_path(foreign), None, "{foreign:?}");
        }
    }
}
