//! Seats of a model that are empty, and what sits in the others: unfit parts and borrowed ones.

use super::{Moment, whereabouts::running_loan};
use crate::{
    facts::{Inside, Position},
    finding::Finding,
    fleet::{Fitted, Fleet, Place},
    ids::{ComponentId, ModelId},
    rules::{Broken, FitQuestion, check_fit},
    text::Tag,
    time::{Instant, day_of},
    words::{ComponentState, PartKind, Severity},
};

/// A position of a model or of a panel it carries, and what it holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Seat<'a> {
    /// Path from the model down.
    pub path: String,
    /// What the position belongs to.
    pub inside: Inside,
    /// The position.
    pub position: &'a Position,
    /// What it holds.
    pub held: Option<ComponentId>,
}

/// All positions of a model and of every panel it carries at a moment: its own first, then panel by panel.
#[must_use]
pub fn seats(fleet: &Fleet, model: ModelId, at: Instant) -> Vec<Seat<'_>> {
    seats_of(fleet, model, at, &fleet.fitted(model, at))
}

/// The same where it is known what the model carries at the moment.
fn seats_of<'a>(fleet: &'a Fleet, model: ModelId, at: Instant, fitted: &[Fitted<'_>]) -> Vec<Seat<'a>> {
    let Some(data) = fleet.model_data(model) else { return Vec::new() };
    let own = std::iter::once((Inside::Model(model), data.design, None, String::new()));
    let panels = fitted.iter().filter_map(|fitted| {
        let panel = fleet.component_data(fitted.id)?;
        let prefix = format!("{}/", fitted.path);
        Some((Inside::Component(fitted.id), panel.design?, Some(panel.seat.clone()?), prefix))
    });
    let mut list = Vec::new();
    for (inside, design, seat, prefix) in own.chain(panels) {
        for position in fleet.positions(design, seat.as_ref()) {
            let held = fleet.occupant_at(inside, &position.path, at);
            list.push(Seat { path: format!("{prefix}{}", position.path), inside, position, held });
        }
    }
    list
}

/// A loose part of the kind that a seat takes, and what stands against putting it there.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The part.
    pub component: ComponentId,
    /// Everything that stands against it; nothing if it may go there.
    pub against: Vec<Broken>,
}

/// The loose parts that could go into a seat at a moment: those that may first, in order of tags.
#[must_use]
pub fn candidates(fleet: &Fleet, seat: &Seat<'_>, at: Instant) -> Vec<Candidate> {
    let is_of_kind = |id| fleet.part_of(id).is_some_and(|part| part.kind == seat.position.accepts);
    let is_loose = |id| {
        fleet.place_at(id, at) == Place::Loose
            && fleet.component(id).is_some_and(|file| file.state_at(at) != ComponentState::Scrapped)
    };
    let asked = |component| FitQuestion {
        component,
        inside: seat.inside,
        position: &seat.position.path,
        at,
        installation: None,
        instead_of: seat.held,
    };
    let mut list: Vec<Candidate> = fleet
        .components()
        .map(|(id, _)| id)
        .filter(|id| is_of_kind(*id) && is_loose(*id))
        .map(|component| Candidate { component, against: check_fit(fleet, asked(component)) })
        .collect();
    list.sort_by_key(|one| (!one.against.is_empty(), fleet.component_tag(one.component)));
    list
}

/// A required position that holds nothing.
pub(crate) struct EmptySeat<'a> {
    /// Path from the model down.
    pub path: String,
    /// The position.
    pub position: &'a Position,
    /// What sat there last.
    pub last: Option<ComponentId>,
}

/// Required positions that hold nothing, in the model and in every panel it carries.
pub(crate) fn empty_seats(fleet: &Fleet, model: ModelId, moment: Moment) -> Vec<EmptySeat<'_>> {
    empty_of(fleet, model, &fleet.fitted(model, moment.as_of), moment)
}

/// The same where it is known what the model carries at the moment.
fn empty_of<'a>(
    fleet: &'a Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<EmptySeat<'a>> {
    let all = seats_of(fleet, model, moment.as_of, fitted).into_iter();
    all.filter(|seat| seat.position.is_required && seat.held.is_none())
        .map(|seat| EmptySeat {
            last: last_in(fleet, seat.inside, &seat.position.path, moment),
            path: seat.path,
            position: seat.position,
        })
        .collect()
}

/// What the empty seats of a model say against flying it; `fitted` is what it carries at the moment.
pub(crate) fn empty_positions(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<Finding> {
    let said = empty_of(fleet, model, fitted, moment).into_iter().map(|seat| {
        let (path, position) = (&seat.path, seat.position);
        let story = seat.last.and_then(|id| story_of(fleet, id, moment));
        Finding::new(
            "position_empty",
            Severity::Ground,
            path,
            match &story {
                Some(story) => format!("position {path} ({}) is empty: {story}", position.name),
                None => format!("position {path} ({}) is empty", position.name),
            },
            what_would_fit(fleet, position, path, seat.last, moment),
        )
    });
    said.collect()
}

/// What sat in a position last.
fn last_in(fleet: &Fleet, inside: Inside, path: &Tag, moment: Moment) -> Option<ComponentId> {
    let occupants = fleet.occupants(inside).iter();
    occupants
        .filter(|occupant| occupant.span.position == *path && occupant.span.from <= moment.as_of)
        .max_by_key(|occupant| occupant.span.from)
        .map(|occupant| occupant.component)
        .filter(|id| fleet.component(*id).is_some())
}

/// Where a part that left its seat is now.
fn story_of(fleet: &Fleet, id: ComponentId, moment: Moment) -> Option<String> {
    let tag = fleet.component_tag(id);
    let file = fleet.component(id)?;
    let loan = running_loan(fleet, &file.loans, moment).and_then(|loan| loan.loan.as_ref());
    let now_in = match fleet.place_at(id, moment.as_of) {
        Place::InModel(model, _) => Some(fleet.model_tag(model)),
        Place::InPanel(..) | Place::Loose => None,
    };
    let story = match (loan, now_in) {
        (Some(loan), Some(model)) => format!("{tag} is lent to {model}, due back {}", loan.fact.due_back_on),
        (Some(loan), None) => {
            format!(
                "{tag} is lent to {}, due back {}",
                fleet.member_tag(loan.fact.lent_to),
                loan.fact.due_back_on
            )
        }
        (None, Some(model)) => format!("{tag} sits in {model}"),
        (None, None) => {
            let state = file.state_at(moment.as_of).as_str().replace('_', " ");
            let place = file.location_at(moment.as_of).map(|place| format!(", {place}")).unwrap_or_default();
            format!("{tag} is {state}{place}")
        }
    };
    Some(story)
}

/// How an empty position is filled: with what sat there, with a loose part of the same type that is serviceable,
/// or with one that has to pass its check first.
fn what_would_fit(
    fleet: &Fleet,
    position: &Position,
    path: &str,
    last: Option<ComponentId>,
    moment: Moment,
) -> String {
    let word = position.accepts.as_str().replace('_', " ");
    let wanted = last.and_then(|id| fleet.component_data(id)).map(|data| data.part);
    let state_of = |id| fleet.component(id).map(|file| file.state_at(moment.as_of));
    let loose = |state: ComponentState| -> Vec<String> {
        fleet
            .components()
            .filter(|(id, file)| {
                Some(*id) != last
                    && file.state_at(moment.as_of) == state
                    && fleet.place_at(*id, moment.as_of) == Place::Loose
            })
            .filter_map(|(_, file)| file.component.as_ref().map(|component| &component.fact))
            .filter(|data| {
                Some(data.part) == wanted && data.seat == position.seat && position.takes(data.part)
            })
            .map(|data| data.tag.to_string())
            .collect()
    };
    let mut ways = Vec::new();
    if let Some(id) = last.filter(|id| state_of(*id) == Some(ComponentState::Serviceable)) {
        ways.push(format!("{} again", fleet.component_tag(id)));
    }
    let ready = loose(ComponentState::Serviceable);
    if !ready.is_empty() {
        ways.push(ready.join(" or "));
    }
    let untested = loose(ComponentState::NewUntested);
    if !untested.is_empty() {
        let check = if position.accepts == PartKind::Pack { "PK20" } else { "its check" };
        ways.push(format!("{} once it has passed {check} and is put into service", untested.join(" or ")));
    }
    if ways.is_empty() {
        format!("fit a serviceable {word} in {path}")
    } else {
        format!("fit {} in {path}", ways.join(", or "))
    }
}

/// Fitted parts that are not serviceable, and fitted parts that are borrowed.
pub(crate) fn part_reasons(fleet: &Fleet, fitted: &[Fitted<'_>], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for fitted in fitted {
        let Some(file) = fleet.component(fitted.id) else { continue };
        let tag = fleet.component_tag(fitted.id);
        let state = file.state_at(moment.as_of);
        if state != ComponentState::Serviceable {
            list.push(Finding::new(
                "part_not_serviceable",
                Severity::Ground,
                &tag,
                format!("{tag} in {} is {}", fitted.path, state.as_str().replace('_', " ")),
                format!("take {tag} out, or have a person put it back into service with a reason"),
            ));
        }
        if let (Some(position), Some(part)) = (fitted.position, fleet.part_of(fitted.id))
            && !position.takes(part.id)
        {
            let takes = fleet.part_tags(&position.parts);
            list.push(Finding::new(
                "part_type_not_taken",
                Severity::Ground,
                &tag,
                format!("{} takes {takes} only, {tag} is a {}", fitted.path, part.tag),
                format!("swap {tag} for one of these, or let the design take {}", part.tag),
            ));
        }
        if let Some(loan) = running_loan(fleet, &file.loans, moment).and_then(|loan| loan.loan.as_ref()) {
            let late = moment.on > loan.fact.due_back_on;
            list.push(Finding::new(
                if late { "borrowed_part_late" } else { "borrowed_part" },
                if late { Severity::Restrict } else { Severity::Watch },
                &tag,
                format!("{tag} in {} is borrowed, due back {}", fitted.path, loan.fact.due_back_on),
                format!("return {tag}, or agree a later day"),
            ));
        }
    }
    list
}

/// Parts that sit with others than their own set. An accepted pairing with what they sit with now holds until one of
/// them comes off.
pub(crate) fn pairing_reasons(fleet: &Fleet, fitted: &[Fitted<'_>], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for (_, set) in fleet.matched_sets() {
        let set = &set.fact;
        let here = |id: ComponentId| fitted.iter().find(|fitted| fitted.id == id);
        let Some(judged) = here(set.component) else { continue };
        let missing: Vec<ComponentId> =
            set.mates.iter().copied().filter(|mate| here(*mate).is_none()).collect();
        if missing.is_empty() {
            continue;
        }
        let tag = fleet.component_tag(set.component);
        let pairings =
            fleet.component(set.component).map_or(&[][..], |file| file.pairings.until(moment.as_of));
        let accepted = pairings.iter().rev().find(|pairing| {
            let at = pairing.fact.occurred_at;
            let still_here = |id: ComponentId| here(id).is_some_and(|fitted| fitted.in_model_since <= at);
            judged.in_model_since <= at && pairing.fact.mates.iter().all(|mate| still_here(*mate))
        });
        let names: Vec<String> = missing.iter().map(|mate| fleet.component_tag(*mate)).collect();
        let names = names.join(", ");
        list.push(match accepted {
            Some(pairing) => {
                let with: Vec<String> = pairing.fact.mates.iter().map(|mate| fleet.component_tag(*mate)).collect();
                let by = fleet.member_tag(pairing.fact.accepted_by.unwrap_or(pairing.recorded_by));
                let clearance = pairing.fact.clearance_mm.map(|mm| format!(" at {mm} mm")).unwrap_or_default();
                Finding::new(
                    "pairing_accepted",
                    Severity::Watch,
                    &tag,
                    format!(
                        "{tag} belongs with {names}; its fit with {} was accepted {} by {by}{clearance} and ends when one of them comes off",
                        with.join(", "),
                        day_of(pairing.fact.occurred_at, fleet.club().zone),
                    ),
                    format!("put {tag} back together with {names}"),
                )
            }
            None => Finding::new(
                "pairing_not_accepted",
                Severity::Ground,
                &tag,
                format!("{tag} in {} belongs with {names}, which is not here, and no fit with other parts was accepted", judged.path),
                format!("measure the fit (JN-02) and have an inspector accept the pairing, or put {tag} back together with {names}"),
            ),
        });
    }
    list
}
