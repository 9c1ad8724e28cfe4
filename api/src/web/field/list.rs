//! The models to choose from at the field: the asker's own first, each with its state; and what a label says.

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::may_fly;
use preen_domain::facts::{Noun, Subject};
use preen_domain::ids::ModelId;

use super::record::{Keeper, send_kept};
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::web::fault::{PageFault, see_other};
use crate::web::frame::{Frame, Room};
use crate::web::guest::Visit;
use crate::web::words::{self, Word};

/// A model as a button.
struct Choice {
    model: String,
    owner: String,
    state: Word,
    /// The reason that matters most.
    reason: String,
}

#[derive(Template)]
#[template(path = "pages/field.html")]
struct ListPage {
    frame: Frame,
    keeper: Keeper,
    own: Vec<Choice>,
    others: Vec<Choice>,
    /// A tag that was asked for and that is nowhere.
    unknown: String,
    tag: String,
}

fn page(ask: &Ask, frame: Frame, keeper: Keeper, unknown: String) -> ListPage {
    let fleet = &ask.held.fleet;
    let (mut own, mut others) = (Vec::new(), Vec::new());
    for verdict in may_fly(fleet, ask.moment).models {
        if !ask.sees_model_tagged(&verdict.model) {
            continue;
        }
        let id = ask.held.names.find(Noun::Models, &verdict.model).map(ModelId);
        let owner = id.and_then(|id| fleet.model_data(id)).and_then(|data| data.owner);
        let is_own = owner == Some(ask.member);
        let list = if is_own { &mut own } else { &mut others };
        list.push(Choice {
            owner: verdict.owner.unwrap_or_else(|| "club".to_owned()),
            state: words::state(verdict.state),
            reason: verdict.reasons.into_iter().next().map(|reason| reason.text).unwrap_or_default(),
            model: verdict.model,
        });
    }
    let tag = ask.parameter("tag").unwrap_or_default().to_owned();
    ListPage { frame, keeper, own, others, unknown, tag }
}

/// What a label or somebody's finger said: a link to an item, or its tag.
fn tag_of(said: &str) -> &str {
    let path = said.split(['?', '#']).next().unwrap_or_default();
    path.trim_end_matches('/').rsplit('/').next().unwrap_or_default()
}

/// The page that opens what a label says.
pub fn path_of(said: &str) -> String {
    let query = serde_urlencoded::to_string([("tag", said)]).unwrap_or_default();
    format!("/field?{query}")
}

/// The card of what a tag means, of those that the asker may see.
fn card_of(ask: &Ask, tag: &str) -> Option<String> {
    let sight = ask.sight();
    // Tags are in capitals on every label; phones like to begin with one and go on without.
    [tag.to_owned(), tag.to_uppercase()].iter().find_map(|tag| {
        let model = sight.find(Noun::Models, tag).map(|id| Subject::Model(ModelId(id)));
        let subject =
            model.or_else(|| sight.find(Noun::Components, tag).map(|id| Subject::Component(id.into())));
        subject.map(|subject| match subject {
            Subject::Model(id) => format!("/field/{}", ask.held.fleet.model_tag(id)),
            Subject::Component(id) => format!("/field/part/{}", ask.held.fleet.component_tag(id)),
        })
    })
}

/// Shows the models to choose from, or opens what a tag means.
#[get("/field")]
async fn show_field(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&["tag"]).await?;
    let said = ask.parameter("tag").map(tag_of).unwrap_or_default();
    if let Some(card) = card_of(&ask, said).filter(|_| !said.is_empty()) {
        return Ok(see_other(&card));
    }
    let frame = Frame::of(&ask, &visit.actor, Room::Field, "At the field");
    let keeper = Keeper::of(&visit.actor);
    send_kept(&keeper, &page(&ask, frame, keeper.clone(), said.to_owned()))
}

/// Registers the route.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_field);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_a_link_or_a_tag() {
        assert_eq!(tag_of("SG-01"), "SG-01");
        assert_eq!(tag_of("https://club.example/models/SG-01"), "SG-01");
        assert_eq!(tag_of("https://club.example/components/SV08-B011/?x=1#y"), "SV08-B011");
        assert_eq!(tag_of(""), "");
    }
}
