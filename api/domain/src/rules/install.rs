//! Fitting a component into a position and taking it out: one part, one place, one moment.

use super::{
    Broken, Verdict,
    campaign::{covers_kind, name, names_part, open_at},
    fly::in_the_air_until,
};
use crate::{
    facts::{Campaign, Inside, Installation, Recorded, Removal},
    fleet::{Fleet, MAX_DEPTH, Place},
    ids::{ComponentId, InstallationId},
    text::Tag,
    time::Instant,
    words::{CampaignTask, ComponentState},
};

/// May this part go there then?
#[derive(Debug, Clone, Copy)]
pub struct FitQuestion<'a> {
    /// What is to be fitted.
    pub component: ComponentId,
    /// Into what.
    pub inside: Inside,
    /// Into which position of that.
    pub position: &'a Tag,
    /// When.
    pub at: Instant,
    /// The installation asked about, if it is on record already.
    pub installation: Option<InstallationId>,
    /// What will have been taken out of the position just before.
    pub instead_of: Option<ComponentId>,
}

/// Everything that stands against fitting a part.
#[must_use]
pub fn check_fit(fleet: &Fleet, question: FitQuestion<'_>) -> Vec<Broken> {
    let mut verdict = Verdict::default();
    judge_fit(fleet, question, &mut verdict);
    verdict.into_inner()
}

/// Open campaigns that keep a component out of a kind of position at a moment.
#[must_use]
pub fn forbidding_campaigns<'a>(
    fleet: &'a Fleet,
    component: ComponentId,
    position_kind: &str,
    at: Instant,
) -> Vec<&'a Recorded<Campaign>> {
    let Some(data) = fleet.component_data(component) else { return Vec::new() };
    open_at(fleet, at)
        .filter(|campaign| {
            let fact = &campaign.fact;
            names_part(fact, data)
                && covers_kind(fact, Some(position_kind))
                && fact.actions.iter().any(|action| action.task == CampaignTask::Replace)
        })
        .collect()
}

pub(super) fn check(fleet: &Fleet, installation: &Installation, verdict: &mut Verdict) {
    verdict.component(fleet, "/component", installation.component);
    verdict.inside(fleet, "/inside", installation.inside);
    let question = FitQuestion {
        component: installation.component,
        inside: installation.inside,
        position: &installation.position,
        at: installation.occurred_at,
        installation: Some(installation.id),
        instead_of: None,
    };
    judge_fit(fleet, question, verdict);
}

fn judge_fit(fleet: &Fleet, question: FitQuestion<'_>, verdict: &mut Verdict) {
    let (Some(file), Some(data), Some(part)) = (
        fleet.component(question.component),
        fleet.component_data(question.component),
        fleet.part_of(question.component),
    ) else {
        return;
    };
    let tag = &data.tag;
    match file.state_at(question.at) {
        ComponentState::Serviceable => {}
        ComponentState::NewUntested => verdict.record(
            "not_serviceable",
            "/component",
            format!("{tag} is new and untested: pass its check and put it into service first"),
        ),
        state => verdict.record(
            "not_serviceable",
            "/component",
            format!("{tag} is {}: only a serviceable part may be fitted", state.as_str().replace('_', " ")),
        ),
    }
    not_in_the_air(fleet, question.inside, tag.as_str(), question.at, verdict);
    super::loan::check_fit(fleet, question.component, tag, question.inside, question.at, verdict);
    check_free(fleet, question, verdict);
    check_loop(fleet, question, verdict);
    if holder_is_known(fleet, question.inside) {
        match fleet.position(question.inside, question.position) {
            None => verdict.value(
                "unknown_position",
                "/position",
                format!("{} has no position `{}`", holder_name(fleet, question.inside), question.position),
            ),
            Some(position) => {
                if position.accepts != part.kind || position.seat != data.seat {
                    verdict.record(
                        "does_not_fit",
                        "/position",
                        format!(
                            "`{}` accepts a {}{}, {tag} is a {}{}",
                            position.path,
                            position.accepts,
                            position.seat.as_ref().map(|seat| format!(" of seat {seat}")).unwrap_or_default(),
                            part.kind,
                            data.seat.as_ref().map(|seat| format!(" of seat {seat}")).unwrap_or_default(),
                        ),
                    );
                }
                if position.accepts == part.kind && !position.takes(part.id) {
                    verdict.record(
                        "part_type_not_taken",
                        "/position",
                        format!(
                            "`{}` takes {} only, {tag} is a {}: fit one of these, or let the design take it",
                            position.path,
                            fleet.part_tags(&position.parts),
                            part.tag
                        ),
                    );
                }
                for campaign in
                    forbidding_campaigns(fleet, question.component, position.kind.as_str(), question.at)
                {
                    let name = name(&campaign.fact);
                    verdict.record(
                        "batch_forbidden",
                        "/component",
                        format!(
                            "campaign {name} forbids {}{} at a {}",
                            part.tag,
                            data.batch.as_ref().map(|batch| format!("/{batch}")).unwrap_or_default(),
                            position.kind,
                        ),
                    );
                }
            }
        }
    }
}

fn holder_is_known(fleet: &Fleet, inside: Inside) -> bool {
    match inside {
        Inside::Model(model) => fleet.model_data(model).is_some(),
        Inside::Component(component) => fleet.component_data(component).is_some(),
    }
}

fn holder_name(fleet: &Fleet, inside: Inside) -> String {
    match inside {
        Inside::Model(model) => fleet.model_tag(model),
        Inside::Component(component) => fleet.component_tag(component),
    }
}

/// The part is nowhere else, and the position is empty, from that moment until further notice.
fn check_free(fleet: &Fleet, question: FitQuestion<'_>, verdict: &mut Verdict) {
    let tag = fleet.component_tag(question.component);
    let known = fleet.component(question.component).into_iter().flat_map(|file| file.spans.iter());
    let end = own_end(fleet, question);
    for span in known.filter(|span| Some(span.installation) != question.installation) {
        if span.overlaps(question.at, end) {
            verdict.record(
                "component_elsewhere",
                "/component",
                format!(
                    "{tag} sits in {} `{}` since {}{}: one part is in one place",
                    holder_name(fleet, span.inside),
                    span.position,
                    span.from,
                    span.to.map(|to| format!(" to {to}")).unwrap_or_default(),
                ),
            );
        }
    }
    for occupant in fleet.occupants(question.inside) {
        let span = &occupant.span;
        if span.position == *question.position
            && Some(span.installation) != question.installation
            && Some(occupant.component) != question.instead_of
            && span.overlaps(question.at, end)
        {
            verdict.record(
                "position_occupied",
                "/position",
                format!(
                    "{} `{}` holds {} since {}{}: take that out first",
                    holder_name(fleet, question.inside),
                    question.position,
                    fleet.component_tag(occupant.component),
                    span.from,
                    span.to.map(|to| format!(" to {to}")).unwrap_or_default(),
                ),
            );
        }
    }
}

/// Until when the installation asked about holds, where its removal is on record already.
fn own_end(fleet: &Fleet, question: FitQuestion<'_>) -> Option<Instant> {
    let id = question.installation?;
    fleet
        .component(question.component)?
        .removals
        .iter()
        .find(|removal| removal.fact.installation == id)
        .map(|removal| removal.fact.occurred_at)
}

/// A part may not come to sit inside itself, at that moment or later.
fn check_loop(fleet: &Fleet, question: FitQuestion<'_>, verdict: &mut Verdict) {
    let mut layer = vec![question.inside];
    for _ in 0..=MAX_DEPTH {
        let mut above = Vec::new();
        for holder in layer {
            let Inside::Component(parent) = holder else { continue };
            if parent == question.component {
                verdict.record(
                    "nesting_loop",
                    "/inside",
                    format!("{} would sit inside itself", fleet.component_tag(question.component)),
                );
                return;
            }
            let spans = fleet.component(parent).into_iter().flat_map(|file| file.spans.iter());
            above.extend(spans.filter(|span| span.overlaps(question.at, None)).map(|span| span.inside));
        }
        if above.is_empty() {
            return;
        }
        layer = above;
    }
    verdict.record(
        "nesting_too_deep",
        "/inside",
        format!("parts may sit {MAX_DEPTH} levels deep at the most"),
    );
}

pub(super) fn check_removal(fleet: &Fleet, removal: &Removal, verdict: &mut Verdict) {
    verdict.component(fleet, "/component", removal.component);
    let Some(file) = fleet.component(removal.component) else { return };
    let tag = fleet.component_tag(removal.component);
    let Some(installation) = file.installations.get(removal.installation.0) else {
        verdict.value(
            "unknown_reference",
            "/installation",
            format!("{tag} has no installation `{}`", removal.installation),
        );
        return;
    };
    if removal.occurred_at <= installation.fact.occurred_at {
        verdict.record(
            "removed_before_fitted",
            "/occurred_at",
            format!("{tag} was fitted at {}: it comes off later than that", installation.fact.occurred_at),
        );
    }
    not_in_the_air(fleet, installation.fact.inside, &tag, removal.occurred_at, verdict);
    let other = file
        .removals
        .iter()
        .find(|known| known.fact.installation == removal.installation && known.fact.id != removal.id);
    if let Some(other) = other {
        verdict.record(
            "already_removed",
            "/installation",
            format!("{tag} came off at {} already", other.fact.occurred_at),
        );
    }
}

/// Nothing comes on or off a model while it flies: neither in the model itself nor in a panel that it carries.
fn not_in_the_air(fleet: &Fleet, inside: Inside, tag: &str, at: Instant, verdict: &mut Verdict) {
    let model = match inside {
        Inside::Model(model) => Some(model),
        Inside::Component(holder) => match fleet.place_at(holder, at) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        },
    };
    let Some(model) = model else { return };
    if let Some(end) = in_the_air_until(fleet, model, at) {
        verdict.record(
            "in_the_air",
            "/occurred_at",
            format!(
                "{} was in the air until {end}: {tag} comes on or off after that, or the time of the flight is wrong",
                fleet.model_tag(model)
            ),
        );
    }
}
