//! Signing in, signing out, choosing a password.

use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse, get, post};
use askama::Template;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled};
use super::frame::{send, send_refused};
use super::guest::own_path;
use crate::access::actor::{Actor, FormSender, SignedIn};
use crate::access::guards::check_origin;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::resources::passwords::http::{PasswordChange, set};
use crate::resources::session::http::{SignIn, begin, end};
use crate::state::Shared;

#[derive(Template)]
#[template(path = "pages/sign_in.html")]
struct SignInPage {
    form: Filled,
    to: String,
}

#[derive(Template)]
#[template(path = "pages/password.html")]
struct PasswordPage {
    form: Filled,
    csrf: String,
    is_first: bool,
}

fn with_cookie(mut response: HttpResponse, cookie: &str) -> HttpResponse {
    if let Ok(value) = header::HeaderValue::from_str(cookie) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}

/// Where signing in is to lead, as the query or the form says it.
fn destination(fields: &Fields) -> String {
    fields.get("to").and_then(own_path).unwrap_or("/").to_owned()
}

#[get("/sign-in")]
async fn show_sign_in(query: Pairs) -> Result<HttpResponse, PageFault> {
    let fields = Fields(query.0);
    let to = destination(&fields);
    send(&SignInPage { form: Filled { fields, fault: None }, to })
}

#[post("/sign-in")]
async fn send_sign_in(
    state: Shared,
    request: HttpRequest,
    form: web::Form<Vec<(String, String)>>,
) -> Result<HttpResponse, PageFault> {
    check_origin(&request, state.reach, true)?;
    let fields = Fields(form.into_inner());
    let to = destination(&fields);
    let wanted = SignIn {
        club: fields.get("club").unwrap_or_default().to_lowercase(),
        member: fields.get("member").unwrap_or_default().to_owned(),
        // A password may begin or end with a blank.
        password: fields
            .0
            .iter()
            .find(|(name, _)| name == "password")
            .map(|(_, text)| text.clone())
            .unwrap_or_default(),
    };
    match begin(&state, &request, wanted).await {
        Ok((_, cookie)) => Ok(with_cookie(see_other(&to), &cookie)),
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &SignInPage { form: Filled::refused(fields, &problem), to })
        }
    }
}

#[post("/sign-out")]
async fn send_sign_out(
    state: Shared,
    sender: FormSender,
    form: web::Form<Vec<(String, String)>>,
) -> Result<HttpResponse, PageFault> {
    let fields = Fields(form.into_inner());
    let actor = sender.shown(fields.get("csrf").unwrap_or_default())?;
    let cookie = end(&state, &actor).await?;
    Ok(with_cookie(see_other("/sign-in"), &cookie))
}

#[get("/password")]
async fn show_password(actor: Result<SignedIn, Problem>) -> Result<HttpResponse, PageFault> {
    let actor = actor.map_err(|problem| PageFault::on_the_way(problem, "/password".to_owned()))?.0;
    send(&password_page(&actor, Filled::default()))
}

fn password_page(actor: &Actor, form: Filled) -> PasswordPage {
    let session = actor.session();
    PasswordPage {
        form,
        csrf: session.map(|session| session.csrf_token.clone()).unwrap_or_default(),
        is_first: session.is_some_and(|session| session.must_change_password),
    }
}

#[post("/password")]
async fn send_password(
    state: Shared,
    sender: FormSender,
    form: web::Form<Vec<(String, String)>>,
) -> Result<HttpResponse, PageFault> {
    let fields = Fields(form.into_inner());
    let actor = sender.shown(fields.get("csrf").unwrap_or_default())?;
    let raw = |wanted: &str| fields.0.iter().find(|(name, _)| name == wanted).map(|(_, text)| text.clone());
    let (new, again) = (raw("new_password").unwrap_or_default(), raw("again").unwrap_or_default());
    let wanted = PasswordChange {
        old_password: raw("old_password").filter(|text| !text.is_empty()),
        new_password: new.clone(),
    };
    let done = if new == again {
        set(&state, &actor, &actor.member.to_string(), async || Ok(wanted)).await.map(|_set| ())
    } else {
        Err(Problem::field("/again", "The two do not agree: write the new password twice."))
    };
    match done {
        // All sessions have ended with the old password, this one too.
        Ok(()) => Ok(see_other("/sign-in")),
        Err(problem) => {
            let status = problem.kind().0;
            // What was typed is not sent back.
            let form = Filled::refused(Fields::default(), &problem);
            send_refused(status, &password_page(&actor, form))
        }
    }
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(show_sign_in)
        .service(send_sign_in)
        .service(send_sign_out)
        .service(show_password)
        .service(send_password);
}
