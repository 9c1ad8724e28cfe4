//! What every page has round it: where one is, who one is, which day and revision is shown; and its headers.
//!
//! A page loads nothing from elsewhere and runs no script but the files of this service.

use std::sync::Arc;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use preen_domain::fleet::Fleet;

use super::assets;
use super::fault::PageFault;
use crate::access::actor::Actor;
use crate::answers::ask::Ask;
use crate::desk::Desk;
use crate::told::{moment, weekday};

/// What a page may load and do.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' blob:; \
                      connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; \
                      base-uri 'none'; frame-ancestors 'none'";

/// The rooms of the bar at the top; a page lies in one of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// Which models may fly.
    Board,
    /// What is done at the field.
    Field,
    /// Parts on the shelf.
    Shelf,
    /// Campaigns.
    Campaigns,
    /// Contests and plans.
    Contests,
    /// What an audit finds.
    Findings,
    /// Members, access, bench sheets.
    Club,
}

impl Room {
    /// All of them, with where they begin and what they are called.
    const ALL: &[(Self, &str, &str)] = &[
        (Self::Board, "/", "Board"),
        (Self::Field, "/field", "Field"),
        (Self::Shelf, "/shelf", "Shelf"),
        (Self::Campaigns, "/campaigns", "Campaigns"),
        (Self::Contests, "/contests", "Contests"),
        (Self::Findings, "/findings", "Findings"),
        (Self::Club, "/club", "Club"),
    ];
}

/// What stands round a page.
#[derive(Debug, Clone)]
pub struct Frame {
    /// What the page is, for the window and the heading.
    pub title: String,
    /// Name of the club.
    pub club: String,
    /// Tag of who is signed in.
    pub member: String,
    /// What forms must send back; empty where a token was shown.
    pub csrf: String,
    /// The room that the page lies in.
    pub room: Room,
    /// What is shown is as of this moment, by the club's clock; empty where that does not matter.
    pub as_of: String,
    /// The day asked about, if that is not the day of `as_of`.
    pub on: Option<String>,
    /// The revision that is shown.
    pub revision: i64,
    /// The service's clock, for what the page computes by itself, ms since 1970.
    pub now_ms: i64,
    /// The club's time zone.
    pub zone: chrono_tz::Tz,
    /// Whether the club's record is shown as it was known at an earlier revision.
    pub is_old: bool,
}

impl Frame {
    /// Round a page that answers a question.
    pub fn of(ask: &Ask, actor: &Actor, room: Room, title: impl Into<String>) -> Self {
        let fleet = &ask.held.fleet;
        let zone = fleet.club().zone;
        let today = preen_domain::time::day_of(ask.moment.as_of, zone);
        Self {
            as_of: moment(ask.moment.as_of, zone),
            on: (ask.moment.on != today).then(|| weekday(ask.moment.on)),
            is_old: ask.parameter("at_revision").is_some(),
            ..Self::plain(fleet, actor, room, title, ask.now)
        }
    }

    /// Round a page that answers none.
    pub fn plain(
        fleet: &Fleet,
        actor: &Actor,
        room: Room,
        title: impl Into<String>,
        now: preen_domain::time::Instant,
    ) -> Self {
        Self {
            title: title.into(),
            club: fleet.club().title.clone(),
            member: fleet.member_tag(actor.member),
            csrf: actor.session().map(|session| session.csrf_token.clone()).unwrap_or_default(),
            room,
            as_of: String::new(),
            on: None,
            revision: fleet.revision(),
            now_ms: now.micros() / 1000,
            zone: fleet.club().zone,
            is_old: false,
        }
    }

    /// The rooms for the bar: where, what, and whether one is there.
    pub fn rooms(&self) -> impl Iterator<Item = (&'static str, &'static str, bool)> + '_ {
        Room::ALL.iter().map(|(room, path, name)| (*path, *name, *room == self.room))
    }
}

/// A page as a response that nobody else may keep.
pub fn html(status: StatusCode, text: String) -> HttpResponse {
    HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((header::REFERRER_POLICY, "same-origin"))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::VARY, "Cookie, Authorization"))
        .body(text)
}

/// Sends a page that is made anew each time.
pub fn send(page: &impl Template) -> Result<HttpResponse, PageFault> {
    Ok(html(StatusCode::OK, page.render()?))
}

/// Sends a form again, with what is wrong with it.
pub fn send_refused(status: StatusCode, page: &impl Template) -> Result<HttpResponse, PageFault> {
    Ok(html(status, page.render()?))
}

/// Sends a page that answers a question, or says that the browser has it already. The page is the same as long as
/// the answer is, and the session and this program are.
pub fn answer<T: Template>(
    ask: &Ask,
    actor: &Actor,
    request: &HttpRequest,
    page: impl FnOnce() -> Result<T, PageFault>,
) -> Result<HttpResponse, PageFault> {
    let etag = etag_of(ask, actor, request);
    if let Some(unchanged) = ask.unchanged(&etag) {
        return Ok(unchanged);
    }
    sealed(&page()?, &etag)
}

/// The same where what the page shows is worked out at a desk, away from the threads that answer.
pub async fn answer_apart<T: Send + 'static, P: Template>(
    ask: &Arc<Ask>,
    actor: &Actor,
    request: &HttpRequest,
    (desk, work): (&'static Desk, impl FnOnce(&Ask) -> T + Send + 'static),
    page: impl FnOnce(T) -> Result<P, PageFault>,
) -> Result<HttpResponse, PageFault> {
    let etag = etag_of(ask, actor, request);
    if let Some(unchanged) = ask.unchanged(&etag) {
        return Ok(unchanged);
    }
    let asked = Arc::clone(ask);
    let shown = desk.compute(move || work(&asked)).await?;
    sealed(&page(shown)?, &etag)
}

/// The validator of a page.
fn etag_of(ask: &Ask, actor: &Actor, request: &HttpRequest) -> String {
    let csrf = actor.session().map(|session| session.csrf_token.as_str()).unwrap_or_default();
    let seal = crate::audit::chain::sha256(&[
        "preen page 1",
        &ask.validator(),
        csrf,
        assets::version(),
        request.uri().path_and_query().map_or("", |target| target.as_str()),
    ]);
    format!("W/\"{}\"", seal.get(..24).unwrap_or(&seal))
}

fn sealed<T: Template>(page: &T, etag: &str) -> Result<HttpResponse, PageFault> {
    let mut response = html(StatusCode::OK, page.render()?);
    if let Ok(value) = header::HeaderValue::from_str(etag) {
        response.headers_mut().insert(header::ETAG, value);
    }
    Ok(response)
}
