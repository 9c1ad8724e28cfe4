//! What a form of a page sends, and what is shown again when it is refused.

use actix_multipart::Multipart;
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use chrono::{NaiveDateTime, TimeZone as _};
use futures_util::future::LocalBoxFuture;
use preen_domain::time::Instant;
use preen_domain::words::Scope;

use super::fault::PageFault;
use super::parcel::{self, Parcel};
use crate::access::actor::{Actor, FormSender};
use crate::answers::ask::Ask;
use crate::edge::patience::BrokeOff as _;
use crate::problem::{Problem, ProblemBody};
use crate::resources::page::Pairs;
use crate::state::Shared;

/// The fields of a form, in the order in which they were sent.
#[derive(Debug, Clone, Default)]
pub struct Fields(pub Vec<(String, String)>);

impl Fields {
    /// What a field holds, without blanks round it; nothing if it is empty.
    pub fn get(&self, name: &str) -> Option<&str> {
        let held = self.0.iter().find(|(known, _)| known == name).map(|(_, value)| value.trim());
        held.filter(|value| !value.is_empty())
    }

    /// The same of a field that must hold something.
    pub fn need(&self, name: &str) -> Result<&str, Problem> {
        self.get(name).ok_or_else(|| Problem::field(format!("/{name}"), "Fill this in."))
    }

    /// A number in a field; a comma may stand for the point.
    pub fn number(&self, name: &str) -> Result<Option<f64>, Problem> {
        let Some(text) = self.get(name) else { return Ok(None) };
        let number = text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
        number
            .map(Some)
            .ok_or_else(|| Problem::field(format!("/{name}"), format!("`{text}` is not a number.")))
    }

    /// A moment in a field of day and minute by the club's clock; absent: now.
    pub fn moment(&self, name: &str, zone: chrono_tz::Tz, now: Instant) -> Result<Instant, Problem> {
        let Some(text) = self.get(name) else { return Ok(now) };
        let refused = |why: &str| Problem::field(format!("/{name}"), format!("`{text}` {why}."));
        let local = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
            .iter()
            .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
            .ok_or_else(|| refused("is not a day and a time such as 2026-05-21T09:30"))?;
        // When clocks go back an hour comes twice: the earlier one is meant.
        let at = zone.from_local_datetime(&local).earliest();
        let at = at.ok_or_else(|| refused("never came: clocks went forward then"))?;
        Ok(Instant::from_micros(at.timestamp_micros()))
    }
}

/// A form that a member sent from a page of this service, with the session's CSRF token in it.
pub struct Posted {
    /// Who sent it.
    pub actor: Actor,
    /// What it holds.
    pub fields: Fields,
    /// Why a picture that came with it could not be kept, if one could not.
    pub lost: Option<Problem>,
    /// What every request can reach.
    pub state: Shared,
    request: HttpRequest,
}

/// The body of a form, not read yet.
enum Body {
    /// Fields alone.
    Plain(<web::Form<Vec<(String, String)>> as FromRequest>::Future),
    /// Fields and files.
    WithFiles(Multipart),
}

impl Body {
    fn of(request: &HttpRequest, payload: &mut Payload) -> Self {
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
        if kind.is_some_and(|kind| kind.trim_start().to_ascii_lowercase().starts_with("multipart/form-data"))
        {
            Self::WithFiles(Multipart::new(request.headers(), payload.take()))
        } else {
            Self::Plain(web::Form::from_request(request, payload))
        }
    }
}

impl Posted {
    /// The club as it stands now, for the page that is shown again and for what the form names.
    pub async fn ask(&self) -> Result<Ask, PageFault> {
        Ok(Ask::of_page(&self.state, &self.actor, &self.request, Pairs(Vec::new()), &[]).await?)
    }
}

impl FromRequest for Posted {
    type Error = PageFault;
    type Future = LocalBoxFuture<'static, Result<Self, PageFault>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let sender = FormSender::from_request(request, payload);
        let body = Body::of(request, payload);
        let state = Shared::from_request(request, payload);
        let request = request.clone();
        Box::pin(async move {
            let sender = sender.await?;
            let state = state.await.map_err(|error| Problem::Internal(error.to_string()))?;
            let form = match body {
                Body::Plain(form) => form.await,
                Body::WithFiles(parts) => {
                    let Parcel { actor, fields, lost } = parcel::open(&state, sender, parts).await?;
                    return Ok(Self { actor, fields, lost, state, request });
                }
            };
            let broken = |text| Problem::MalformedJson(format!("The form cannot be read: {text}."));
            let fields = form.map_err(|error| error.or_else(broken))?;
            let fields = Fields(fields.into_inner());
            let actor = sender.shown(fields.get("csrf").unwrap_or_default())?;
            actor.demand_ready(Scope::Write)?;
            Ok(Self { actor, fields, lost: None, state, request })
        })
    }
}

/// What a form shows: what was filled in before, and what is wrong with it.
#[derive(Debug, Clone, Default)]
pub struct Filled {
    /// What was filled in.
    pub fields: Fields,
    /// What is wrong.
    pub fault: Option<ProblemBody>,
}

impl Filled {
    /// A form that was refused.
    pub fn refused(fields: Fields, problem: &Problem) -> Self {
        Self { fields, fault: Some(problem.body()) }
    }

    /// What a field shows: what was filled in, or else this.
    pub fn or<'a>(&'a self, name: &str, usual: &'a str) -> &'a str {
        self.fields.get(name).unwrap_or(usual)
    }

    /// The pictures that came with it and were kept, to be sent along again.
    pub fn pictures(&self) -> impl Iterator<Item = &str> {
        let all = self.fields.0.iter().filter(|(name, _)| name == parcel::PICTURE);
        all.map(|(_, kept)| kept.as_str())
    }

    /// Whether a choice is made: the one that was made before, or else the usual one.
    pub fn has(&self, name: &str, choice: &str, usual: &str) -> bool {
        self.or(name, usual) == choice
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Fields {
        Fields(pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect())
    }

    #[test]
    fn numbers_take_comma_or_point() {
        let form = fields(&[("a", " 1,25 "), ("b", "2.5"), ("c", "x"), ("d", "")]);
        assert_eq!(form.number("a").unwrap(), Some(1.25));
        assert_eq!(form.number("b").unwrap(), Some(2.5));
        assert!(form.number("c").is_err());
        assert_eq!(form.number("d").unwrap(), None);
    }

    #[test]
    fn times_are_by_the_club_clock() {
        let zone = "Europe/London".parse().unwrap();
        let at = |text| fields(&[("at", text)]).moment("at", zone, Instant::from_micros(0));
        assert_eq!(at("2026-05-21T09:30").unwrap(), "2026-05-21T08:30:00Z".parse().unwrap());
        assert_eq!(at("2026-10-25T01:30").unwrap(), "2026-10-25T00:30:00Z".parse().unwrap());
        assert!(at("2026-03-29T01:30").is_err());
        assert_eq!(at("").unwrap(), Instant::from_micros(0));
    }
}
