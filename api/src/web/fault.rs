//! What went wrong, as a page that says what to do; whoever must sign in or choose a password first is led there.

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use askama::Template;

use super::frame::html;
use crate::problem::{Problem, ProblemBody};

/// A page that cannot be shown.
#[derive(Debug)]
pub struct PageFault {
    problem: Problem,
    /// Where to come back to after signing in.
    wanted: Option<String>,
}

impl PageFault {
    /// With the page that was asked for.
    pub fn on_the_way(problem: Problem, wanted: String) -> Self {
        Self { problem, wanted: Some(wanted) }
    }
}

impl From<Problem> for PageFault {
    fn from(problem: Problem) -> Self {
        Self { problem, wanted: None }
    }
}

impl From<askama::Error> for PageFault {
    fn from(error: askama::Error) -> Self {
        Problem::Internal(format!("a page cannot be set: {error}")).into()
    }
}

impl std::fmt::Display for PageFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.problem.fmt(f)
    }
}

#[derive(Template)]
#[template(path = "pages/fault.html")]
struct FaultPage {
    body: ProblemBody,
}

/// A redirect that a browser follows with GET.
pub fn see_other(to: &str) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((header::LOCATION, to))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .finish()
}

impl ResponseError for PageFault {
    fn status_code(&self) -> StatusCode {
        match self.problem {
            Problem::NotSignedIn(_) | Problem::SessionEnded | Problem::PasswordMustChange => {
                StatusCode::SEE_OTHER
            }
            _ => self.problem.kind().0,
        }
    }

    fn error_response(&self) -> HttpResponse {
        match self.problem {
            Problem::NotSignedIn(_) | Problem::SessionEnded => {
                let wanted = self.wanted.as_deref().unwrap_or("/");
                let query = serde_urlencoded::to_string([("to", wanted)]).unwrap_or_default();
                return see_other(&format!("/sign-in?{query}"));
            }
            Problem::PasswordMustChange => return see_other("/password"),
            _ => {}
        }
        let told = self.problem.error_response();
        let page = FaultPage { body: self.problem.body() };
        let mut response = match page.render() {
            Ok(text) => html(told.status(), text),
            Err(_unset) => return told,
        };
        if let Some(wait) = told.headers().get(header::RETRY_AFTER) {
            response.headers_mut().insert(header::RETRY_AFTER, wait.clone());
        }
        response
    }
}
