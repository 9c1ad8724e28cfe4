//! What all questions have in common: when they are asked about, what was known, and whether the asker has the
//! answer already.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse};
use chrono::NaiveDate;
use preen_domain::answers::{Moment, frame};
use preen_domain::facts::Noun;
use preen_domain::ids::{ComponentId, MemberId, ModelId};
use preen_domain::rules::may::{Act, Asker, may, may_see_component, may_see_model};
use preen_domain::time::{Instant, day_of, end_of_day};
use serde::Serialize;
use uuid::Uuid;

use crate::access::actor::Actor;
use crate::access::sight::{Finds, Sight};
use crate::db::fleet::Held;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::state::State;

/// The parameters that every question about the fleet knows.
pub const COMMON: &[&str] = &["as_of", "at_revision", "on", "pilot"];

/// A question about the fleet, with all that it depends on.
pub struct Ask {
    /// The Fleet as it was known.
    pub held: Held,
    /// The moment and day asked about.
    pub moment: Moment,
    /// Who asks.
    pub member: MemberId,
    /// Whether the asker sees the whole fleet, or only what is on loan to them.
    pub sees_all: bool,
    /// The service's clock.
    pub now: Instant,
    pairs: Vec<(String, String)>,
    seen: Option<String>,
}

impl Ask {
    /// Reads the common parameters; `known` are the question's own.
    pub async fn read(
        state: &State,
        actor: &Actor,
        request: &HttpRequest,
        query: Pairs,
        known: &[&str],
    ) -> Result<Self, Problem> {
        let find =
            |wanted: &str| query.0.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str());
        if let Some((name, _)) = query
            .0
            .iter()
            .find(|(name, _)| !COMMON.contains(&name.as_str()) && !known.contains(&name.as_str()))
        {
            let all = [COMMON, known].concat().join(", ");
            return Err(Problem::bad_parameter(
                name,
                format!("The question knows no such parameter. It knows: {all}."),
            ));
        }
        let now = state.now();
        let newest = actor.fleet(state).await?;
        let zone = newest.fleet.club().zone;
        let as_of = find("as_of").map_or(Ok(now), |value| parse_as_of(value, now, zone))?;
        let on = find("on").map_or(Ok(day_of(as_of, zone)), |value| parse_on(value, day_of(as_of, zone)))?;
        let pilot = match find("pilot") {
            Some(name) => {
                let sight = Sight::of(actor, &newest, now);
                MemberId(find_item(&sight, Noun::Members, name)?)
            }
            None => actor.member,
        };
        let sees_all = {
            let asker = Asker { member: actor.member, has_history: false };
            may(&newest.fleet, asker, Act::ReadFleet, now).is_ok()
        };
        let held = match find("at_revision") {
            None => newest,
            Some(value) => {
                let revision = parse_revision(value, newest.revision)?;
                state.door.fleet_at(&actor.club, revision).await?
            }
        };
        let seen = request.headers().get(header::IF_NONE_MATCH).and_then(|value| value.to_str().ok());
        Ok(Self {
            held,
            moment: Moment { as_of, on, pilot: Some(pilot) },
            member: actor.member,
            sees_all,
            now,
            seen: seen.map(ToOwned::to_owned),
            pairs: query.0,
        })
    }

    /// The same for a page: forms send the fields that nobody filled in too, and those mean nothing.
    pub async fn of_page(
        state: &State,
        actor: &Actor,
        request: &HttpRequest,
        mut query: Pairs,
        known: &[&str],
    ) -> Result<Self, Problem> {
        query.0.retain(|(_, value)| !value.is_empty());
        Self::read(state, actor, request, query, known).await
    }

    /// A parameter of the question's own.
    pub fn parameter(&self, wanted: &str) -> Option<&str> {
        self.pairs.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str())
    }

    /// The item of a noun that a parameter names.
    pub fn item(&self, wanted: &str, noun: Noun) -> Result<Option<Uuid>, Problem> {
        self.parameter(wanted).map(|name| find_item(&self.sight(), noun, name)).transpose()
    }

    /// The items of a noun that a parameter names, with commas between.
    pub fn items(&self, wanted: &str, noun: Noun) -> Result<Option<Vec<Uuid>>, Problem> {
        let Some(names) = self.parameter(wanted) else { return Ok(None) };
        let sight = self.sight();
        let find = |name: &str| {
            sight.find(noun, name).ok_or_else(|| {
                Problem::bad_parameter(wanted, format!("There is no `{name}` among the {noun}."))
            })
        };
        names.split(',').map(str::trim).map(find).collect::<Result<_, _>>().map(Some)
    }

    /// The models that the parameter `models` names.
    pub fn models(&self) -> Result<Option<Vec<ModelId>>, Problem> {
        let models = self.items("models", Noun::Models)?;
        Ok(models.map(|ids| ids.into_iter().map(ModelId).collect()))
    }

    /// What the asker may know of.
    pub fn sight(&self) -> Sight<'_> {
        Sight::new(&self.held.fleet, &self.held.names, self.member, self.now)
    }

    /// The model that a name in the path means, if the asker may see it.
    pub fn model(&self, name: &str) -> Result<ModelId, Problem> {
        let id =
            ModelId(self.held.names.find(Noun::Models, name).ok_or_else(|| not_found(Noun::Models, name))?);
        if self.sees_model(id) { Ok(id) } else { Err(not_found(Noun::Models, name)) }
    }

    /// The component that a name in the path means, if the asker may see it.
    pub fn component(&self, name: &str) -> Result<ComponentId, Problem> {
        let unknown = || not_found(Noun::Components, name);
        let id = ComponentId(self.held.names.find(Noun::Components, name).ok_or_else(unknown)?);
        if self.sees_all || may_see_component(&self.held.fleet, self.member, id, self.now) {
            Ok(id)
        } else {
            Err(unknown())
        }
    }

    /// Whether the asker may see a model.
    pub fn sees_model(&self, id: ModelId) -> bool {
        self.sees_all || may_see_model(&self.held.fleet, self.member, id, self.now)
    }

    /// Whether the asker may see the model with a tag.
    pub fn sees_model_tagged(&self, tag: &str) -> bool {
        self.sees_all
            || self.held.names.find(Noun::Models, tag).is_some_and(|id| self.sees_model(ModelId(id)))
    }

    /// Answers, or says that the asker has this answer already. It stays the same as long as the revision does
    /// and until it changes by itself; what the asker may see goes into the validator.
    pub fn answer<T: Serialize>(&self, answer: impl FnOnce() -> T) -> HttpResponse {
        let etag = self.validator();
        if let Some(unchanged) = self.unchanged(&etag) {
            return unchanged;
        }
        let mut response = HttpResponse::Ok();
        response.insert_header((header::ETAG, etag));
        response.insert_header((header::VARY, "Authorization, Cookie"));
        response.json(frame(&self.held.fleet, self.moment.as_of, answer()))
    }

    /// The validator of an answer.
    pub fn validator(&self) -> String {
        let bare = frame(&self.held.fleet, self.moment.as_of, ());
        let view = if self.sees_all { "all".to_owned() } else { self.member.to_string() };
        let pilot = self.moment.pilot.map(|pilot| pilot.to_string()).unwrap_or_default();
        format!("W/\"{}-{}-{view}-{pilot}\"", bare.revision, bare.valid_until.micros())
    }

    /// That the asker has the answer with this validator already, if so.
    pub fn unchanged(&self, etag: &str) -> Option<HttpResponse> {
        let seen = self.seen.as_deref()?;
        let is_known = seen.split(',').any(|one| one.trim() == etag || one.trim() == "*");
        is_known.then(|| {
            HttpResponse::NotModified()
                .insert_header((header::ETAG, etag))
                .insert_header((header::VARY, "Authorization, Cookie"))
                .finish()
        })
    }
}

fn find_item(sight: &dyn Finds, noun: Noun, name: &str) -> Result<Uuid, Problem> {
    sight.find(noun, name).ok_or_else(|| {
        Problem::bad_parameter(noun.as_str(), format!("There is no `{name}` among the {noun}."))
    })
}

fn parse_as_of(value: &str, now: Instant, zone: chrono_tz::Tz) -> Result<Instant, Problem> {
    if let Ok(day) = value.parse::<NaiveDate>() {
        if day > day_of(now, zone) {
            return Err(is_ahead(value));
        }
        let last = Instant::from_micros(end_of_day(day, zone).micros() - 1);
        return Ok(last.min(now));
    }
    let at: Instant = value.parse().map_err(|error| {
        Problem::bad_parameter("as_of", format!("{error}; a day such as 2026-05-23 also does."))
    })?;
    if at > now { Err(is_ahead(value)) } else { Ok(at) }
}

fn is_ahead(value: &str) -> Problem {
    Problem::bad_parameter(
        "as_of",
        format!("{value} lies ahead: nothing has happened by then. Ask about a coming day with `on`."),
    )
}

fn parse_on(value: &str, today: NaiveDate) -> Result<NaiveDate, Problem> {
    let day: NaiveDate = value.parse().map_err(|_not_a_day| {
        Problem::bad_parameter("on", format!("`{value}` is not a day such as 2026-05-23."))
    })?;
    if day < today {
        return Err(Problem::bad_parameter(
            "on",
            format!("{day} lies before {today}. Ask what was known to have happened by a day with `as_of`."),
        ));
    }
    Ok(day)
}

fn parse_revision(value: &str, newest: i64) -> Result<i64, Problem> {
    value.parse().ok().filter(|revision| (0..=newest).contains(revision)).ok_or_else(|| {
        Problem::bad_parameter(
            "at_revision",
            format!("`{value}` is not a revision from 0 to {newest}, the newest."),
        )
    })
}
