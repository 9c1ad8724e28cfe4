//! A form of the field into the record, by the same functions as REST; and pages that a browser keeps for one member.

use actix_web::HttpResponse;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use askama::Template;
use preen_domain::facts::{Defect, Flight, Inspection, Measurement};
use serde_json::Value;

use super::sent::{self, Given};
use crate::access::actor::Actor;
use crate::problem::Problem;
use crate::resources::entry::add;
use crate::resources::photos::joined::add_with;
use crate::state::State;
use crate::web::fault::PageFault;
use crate::web::form::Fields;
use crate::web::frame::html;
use crate::web::parcel::pictures;

/// The header that says for whom a page may be kept; the browser's copy is found again by it.
const KEEPER: &str = "preen-keeper";

/// For whom a page may be kept, and in whose name what is logged on it is sent.
#[derive(Debug, Clone)]
pub struct Keeper {
    /// Short name of the club.
    pub club: String,
    /// Id of the member.
    pub member: String,
    /// Whether somebody signed in: with a token nothing is kept for later.
    pub is_signed_in: bool,
}

impl Keeper {
    /// The member who asks.
    pub fn of(actor: &Actor) -> Self {
        let is_signed_in = actor.session().is_some();
        Self { club: actor.club.clone(), member: actor.member.to_string(), is_signed_in }
    }
}

/// Sends a page that the browser's own worker may keep for this member, and nobody else.
pub fn send_kept(keeper: &Keeper, page: &impl Template) -> Result<HttpResponse, PageFault> {
    let mut response = html(actix_web::http::StatusCode::OK, page.render()?);
    let headers = response.headers_mut();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("private, no-store"));
    if keeper.is_signed_in
        && let Ok(value) = HeaderValue::from_str(&format!("{}/{}", keeper.club, keeper.member))
    {
        headers.insert(HeaderName::from_static(KEEPER), value);
    }
    Ok(response)
}

/// What can be recorded at the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Entry {
    /// A flight.
    Flight,
    /// A check.
    Check,
    /// A reading.
    Reading,
    /// A defect.
    Defect,
}

impl Entry {
    const ALL: [(Self, &'static str, &'static str); 4] = [
        (Self::Flight, "flights", "The flight is recorded."),
        (Self::Check, "inspections", "The check is recorded."),
        (Self::Reading, "measurements", "The reading is recorded."),
        (Self::Defect, "defects", "The defect is recorded."),
    ];

    /// What a form says that it records, by its noun.
    pub fn of(form: &Fields) -> Result<Self, Problem> {
        let noun = form.need("noun")?;
        let known = Self::ALL.into_iter().find(|(_, word, _)| *word == noun);
        known
            .map(|(entry, _, _)| entry)
            .ok_or_else(|| Problem::field("/noun", "No form of this page says that."))
    }

    /// The noun under which it is recorded.
    pub fn noun(self) -> &'static str {
        Self::ALL
            .into_iter()
            .find(|(entry, _, _)| *entry == self)
            .map(|(_, noun, _)| noun)
            .unwrap_or_default()
    }

    /// What is said after it was recorded, by its noun.
    pub fn done(noun: &str) -> &'static str {
        Self::ALL.into_iter().find(|(_, word, _)| *word == noun).map(|(_, _, text)| text).unwrap_or_default()
    }
}

/// Records what a form says.
pub async fn record(
    state: &State,
    actor: &Actor,
    entry: Entry,
    form: &Fields,
    given: Given<'_>,
) -> Result<(), Problem> {
    let fact: Value = match entry {
        Entry::Flight => sent::flight(form, given),
        Entry::Check => sent::check(form, given),
        Entry::Reading => sent::reading(form, given),
        Entry::Defect => sent::defect(form, given),
    }?;
    match entry {
        Entry::Flight => add::<Flight>(state, actor, "log_flight", fact).await,
        Entry::Check => add::<Inspection>(state, actor, "record_inspection", fact).await,
        Entry::Reading => add::<Measurement>(state, actor, "record_measurement", fact).await,
        Entry::Defect => {
            return add_with::<Defect>(state, actor, "report_defect", fact, pictures(form)?).await;
        }
    }
    .map(|_recorded| ())
}
