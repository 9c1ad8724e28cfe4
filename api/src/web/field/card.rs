//! The card of one model: may it fly, and the forms for a flight, the check after it, a reading and a defect.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::{CAUTION, ModelVerdict, may_fly_one};
use preen_domain::facts::Noun;
use preen_domain::finding::Finding;
use preen_domain::ids::ModelId;
use preen_domain::words::{Landing, Opener};

use super::preset::{Preset, preset};
use super::quantities::{Kind, of_model};
use super::record::{Entry, Keeper, record, send_kept};
use super::sent::Given;
use crate::answers::ask::Ask;
use crate::resources::entry::not_found;
use crate::web::fault::{PageFault, see_other};
use crate::web::form::{Filled, Posted};
use crate::web::frame::{Frame, Room, send_refused};
use crate::web::guest::Visit;
use crate::web::show::new_id;
use crate::web::words::{self, Word};

/// Reasons that are shown at once.
const FIRST_REASONS: usize = 3;

/// What a reading or a defect can be about.
pub struct Subject {
    /// As the form sends it.
    pub value: String,
    /// Tag, and where it sits.
    pub name: String,
    /// Kind of its position; empty for the model.
    pub kind: String,
}

/// The check after a flight, as the model's programme has it.
struct Check {
    group: String,
    name: String,
    items: Vec<CheckItem>,
}

/// One item of it.
struct CheckItem {
    code: String,
    text: String,
    pass: String,
    if_failed: String,
}

/// The form that was sent and refused, and a new id for each form.
pub struct Sent {
    noun: &'static str,
    filled: Filled,
    none: Filled,
}

impl Sent {
    /// No form was sent yet.
    pub fn nothing() -> Self {
        Self { noun: "", filled: Filled::default(), none: Filled::default() }
    }

    /// A form that was refused.
    pub fn refused(entry: Entry, filled: Filled) -> Self {
        Self { noun: entry.noun(), filled, none: Filled::default() }
    }

    /// What a form shows.
    pub fn of(&self, noun: &str) -> &Filled {
        if self.noun == noun { &self.filled } else { &self.none }
    }

    /// Whether this form was refused.
    pub fn is(&self, noun: &str) -> bool {
        self.noun == noun
    }

    /// The id that a form sends: the same again when it was refused, so that it counts once however often it is sent,
    /// but another where the first was taken.
    pub fn id(&self, noun: &str) -> String {
        let is_taken = self.filled.fault.as_ref().is_some_and(|fault| fault.code == "id_taken");
        let again = self.of(noun).fields.get("id").filter(|_| !is_taken);
        again.map_or_else(new_id, ToOwned::to_owned)
    }
}

#[derive(Template)]
#[template(path = "pages/field_card.html")]
struct CardPage {
    frame: Frame,
    keeper: Keeper,
    model: String,
    model_id: String,
    state: Word,
    verdict: ModelVerdict,
    /// The reasons that matter most, and the rest.
    reasons: (Vec<Finding>, Vec<Finding>),
    preset: Preset,
    landings: &'static [Landing],
    check: Option<Check>,
    subjects: Vec<Subject>,
    kinds: Vec<Kind>,
    sent: Sent,
    done: &'static str,
    caution: &'static str,
}

fn check_of(ask: &Ask, model: ModelId) -> Option<Check> {
    let programme = &ask.held.fleet.programme_of(Some(model))?.fact;
    let group = programme.groups.iter().find(|group| group.opened_by == Some(Opener::EachFlight))?;
    let items = programme.items.iter().filter(|item| item.group == group.code).map(|item| CheckItem {
        code: item.code.to_string(),
        text: item.text.to_string(),
        pass: item.pass.to_string(),
        if_failed: item.if_failed.to_string(),
    });
    Some(Check { group: group.code.to_string(), name: group.name.to_string(), items: items.collect() })
}

fn subjects(ask: &Ask, model: ModelId) -> Vec<Subject> {
    let fleet = &ask.held.fleet;
    let whole = Subject {
        value: format!("model:{model}"),
        name: format!("{} as a whole", fleet.model_tag(model)),
        kind: String::new(),
    };
    let parts = fleet.fitted(model, ask.moment.as_of).into_iter().map(|one| Subject {
        value: format!("component:{}", one.id),
        kind: one.position.map(|position| position.kind.to_string()).unwrap_or_default(),
        name: match one.position {
            Some(position) => format!("{}, {} ({})", one.path, position.name, fleet.component_tag(one.id)),
            None => format!("{} ({})", one.path, fleet.component_tag(one.id)),
        },
    });
    std::iter::once(whole).chain(parts).collect()
}

fn page(ask: &Ask, frame: Frame, keeper: Keeper, model: ModelId, sent: Sent) -> Option<CardPage> {
    let fleet = &ask.held.fleet;
    let verdict = may_fly_one(fleet, model, ask.moment)?;
    let reasons = |skip, take| verdict.reasons.iter().skip(skip).take(take).cloned().collect::<Vec<_>>();
    let reasons = (reasons(0, FIRST_REASONS), reasons(FIRST_REASONS, usize::MAX));
    Some(CardPage {
        reasons,
        model: fleet.model_tag(model),
        model_id: model.to_string(),
        state: words::state(verdict.state),
        preset: preset(ask, model, &verdict),
        landings: Landing::ALL,
        check: check_of(ask, model),
        subjects: subjects(ask, model),
        kinds: of_model(fleet, model, None),
        sent,
        done: Entry::done(ask.parameter("done").unwrap_or_default()),
        caution: CAUTION,
        verdict,
        frame,
        keeper,
    })
}

/// Shows the card of a model.
#[get("/field/{tag}")]
async fn show_card(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&["done"]).await?;
    let model = ask.model(&tag)?;
    let frame = Frame::of(&ask, &visit.actor, Room::Field, ask.held.fleet.model_tag(model));
    let keeper = Keeper::of(&visit.actor);
    let page = page(&ask, frame, keeper.clone(), model, Sent::nothing());
    send_kept(&keeper, &page.ok_or_else(|| not_found(Noun::Models, &tag))?)
}

/// Records what a form of the card says.
#[post("/field/{tag}")]
async fn send_card(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, lost, state, .. } = posted;
    let model = ask.model(&tag)?;
    let entry = Entry::of(&fields)?;
    let id = model.to_string();
    let zone = ask.held.fleet.club().zone;
    let given = Given { model: Some(&id), sender: actor.member, now: ask.now, zone };
    let recorded = match lost {
        Some(problem) => Err(problem),
        None => record(&state, &actor, entry, &fields, given).await,
    };
    match recorded {
        Ok(()) => Ok(see_other(&format!("/field/{}?done={}", ask.held.fleet.model_tag(model), entry.noun()))),
        Err(problem) => {
            let frame = Frame::of(&ask, &actor, Room::Field, ask.held.fleet.model_tag(model));
            let sent = Sent::refused(entry, Filled::refused(fields, &problem));
            let page = page(&ask, frame, Keeper::of(&actor), model, sent);
            send_refused(problem.kind().0, &page.ok_or_else(|| not_found(Noun::Models, &tag))?)
        }
    }
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_card).service(send_card);
}
